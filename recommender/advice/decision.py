"""Every option of one decision, judged, blended with precedents and ranked.

The engine holds what does not change from case to case: the knowledge and the precedents. It is handed the
facts of a case and a decision, and answers with a ranked :class:`DecisionResult`.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import cast

import numpy as np
import numpy.typing as npt

from recommender.advice.model import STATUS_ORDER, Decision, DecisionResult, Lines, OptionResult, Outer
from recommender.advice.scoring.blend import Credit, Evidence, Votes, blended_bounds
from recommender.advice.scoring.judge import Judged, judge
from recommender.advice.scoring.lines import contributions
from recommender.advice.scoring.score import Weights, criterion_weights
from recommender.advice.scoring.views import View, main_side, scope_of, views_of
from recommender.domain.case import Case
from recommender.facts.derive import CaseFacts
from recommender.facts.values import known
from recommender.knowledge.evidence import RuleSet
from recommender.knowledge.model import Knowledge, ScoringFigures
from recommender.precedents.library import Filters, PrecedentLibrary
from recommender.precedents.model import Kind, Neighbour, Situation
from recommender.precedents.search.segments import Shelf
from recommender.precedents.situations import fingerprint, situation_for


@dataclass(frozen=True, slots=True)
class _Held:
    """What decisions of one case share: the fingerprint of what was found, the precedents heard by what was asked."""

    facts: CaseFacts
    content: str
    evidence: dict[tuple[object, ...], Evidence] = field(default_factory=dict)


class Engine:
    """Judges decisions. ``library`` may be ``None``: then precedents carry no weight."""

    def __init__(
        self,
        knowledge: Knowledge,
        library: PrecedentLibrary | None = None,
        *,
        approved_only: bool = True,
        feature_weights: Mapping[str, Mapping[str, float]] | None = None,
    ) -> None:
        self.knowledge = knowledge
        self.library = library
        self.filters = Filters(approved_only=approved_only)
        self._feature_weights = feature_weights or (knowledge.house.features if knowledge.house else {})
        self._rule_sets: dict[str, RuleSet] = {}
        self._credits: dict[str, Credit] = {}
        self._kinds_for_rests: dict[str, tuple[bool | None, ...]] = {}
        self._last_case: _Held | None = None
        # at most so many approved cases of the library, for what is plausible by its own records
        self.records: Callable[[int], Iterable[Case]] | None = None

    def decide(self, facts: CaseFacts, decision: Decision, given: str | None = None) -> DecisionResult:
        """Rank every option that the vocabulary knows for ``decision``.

        ``given`` is the assembly for which rests are ranked. Raises ``KeyError`` for a tooth that the case does
        not consider.
        """
        return self.examine(facts, decision, given).result

    def examine(self, facts: CaseFacts, decision: Decision, given: str | None = None) -> "DecisionAnalysis":
        """As ``decide``, with what the explanation needs besides."""
        return DecisionAnalysis(self, facts, decision, given)

    def rule_set(self, kind: str) -> RuleSet:
        """The rules of one decision kind, arranged once."""
        if kind not in self._rule_sets:
            self._rule_sets[kind] = RuleSet.for_decision(kind, self.knowledge)
        return self._rule_sets[kind]

    def kind_for_rests(self, assembly: str) -> tuple[bool | None, ...]:
        """What the rules on rests ask of an assembly, answered: alike for assemblies between which none of
        them tells.
        """
        if assembly not in self._kinds_for_rests:
            rules = self.rule_set("rest").rules
            atoms = {
                a for rule in rules for a in rule.when.atoms if "rest.assembly" in a.facts and a.inner is None
            }
            get = {"rest.assembly": known(assembly, "missing")}.get
            self._kinds_for_rests[assembly] = tuple(
                a.run(get, {}) for a in sorted(atoms, key=lambda a: a.text)
            )
        return self._kinds_for_rests[assembly]

    def nearest(
        self,
        facts: CaseFacts,
        decision: Decision,
        count: int,
        given: str | None = None,
        weights: Mapping[str, float] | None = None,
    ) -> list[Neighbour]:
        """The stored situations most like this one, with the account of every feature.

        ``weights`` replaces the weights of the features that it names, for this call only; names of
        other decisions are passed over.
        """
        if self.library is None:
            return []
        query = self._query(facts, decision, given)
        names = self.library.likeness.kinds[decision.kind].names
        changed = {name: weight for name, weight in (weights or {}).items() if name in names}
        asked = {**self._feature_weights.get(decision.kind, {}), **changed}
        return self.library.nearest(query, count, asked or None, self.filters)

    def evidence(self, facts: CaseFacts, decision: Decision, given: str | None = None) -> Evidence:
        """The precedents heard at a decision."""
        figures = self.knowledge.scoring_of(decision.kind)
        credit = self.credit(decision.kind)
        if self.library is None or not self.library.count(decision.kind):
            return Evidence.of((), Votes(()), 0.0, figures, credit)
        query = self._query(facts, decision, given)
        # teeth of one space often ask the same
        known, asked = self._held(facts).evidence, (decision.kind, self.filters, *query.features.values())
        if asked not in known:
            known[asked] = self._heard(query, figures, credit)
        return known[asked]

    def _heard(self, query: Situation, figures: ScoringFigures, credit: Credit) -> Evidence:
        assert self.library is not None
        weights = self._feature_weights.get(query.kind)
        retrieved = self.library.retrieve(query, figures.neighbours, weights=weights, filters=self.filters)
        return Evidence(
            retrieved.voices, lambda: retrieved.neighbours, retrieved, retrieved.unrecorded_share, figures,
            credit, retrieved.may_fall,
        )  # fmt: skip

    def unrecorded_features(
        self, facts: CaseFacts, decision: Decision, given: str | None = None
    ) -> list[str]:
        """Paths of the unrecorded fields by which precedents would be compared; none without precedents."""
        if self.library is None or not self.library.count(decision.kind):
            return []
        query = self._query(facts, decision, given)
        scope = scope_of(facts, decision)
        weighed = self.library.likeness.kinds[cast(Kind, decision.kind)].weighted
        return [
            path
            for item in weighed
            if item.weight and query.features[item.feature.name] is None
            for path in scope.fact(item.feature.fact).gaps
        ]

    def credit(self, kind: str) -> Credit:
        """Family credit between the options of one decision kind, each pair worked out once."""
        if kind not in self._credits:
            catalogue = self.knowledge.catalogue
            known: dict[tuple[str, str], float] = {}

            def credit(first: str, second: str) -> float:
                pair = (first, second)
                if pair not in known:
                    known[pair] = catalogue.credit(kind, first, second)
                return known[pair]

            self._credits[kind] = credit
        return self._credits[kind]

    def content(self, facts: CaseFacts) -> str:
        """The fingerprint of the case in hand, worked out once for all its decisions."""
        return self._held(facts).content

    def _held(self, facts: CaseFacts) -> "_Held":
        # Several sessions may share this engine: read once, so that another's case never answers for this one.
        held = self._last_case
        if held is None or held.facts is not facts:
            held = self._last_case = _Held(facts, fingerprint(facts.case))
        return held

    def whole_weights(self, kind: str, shelf: Shelf, arch: str) -> npt.NDArray[np.int64]:
        """Feature weights of a decision kind as whole numbers, in the order of the features."""
        return shelf.features.whole_weights(arch, self._feature_weights.get(kind))

    def situation(self, facts: CaseFacts, decision: Decision, given: str | None = None) -> Situation:
        """What the library is asked with at a decision. The engine must have a library."""
        return self._query(facts, decision, given)

    def _query(self, facts: CaseFacts, decision: Decision, given: str | None) -> Situation:
        assert self.library is not None
        return situation_for(
            facts,
            cast(Kind, decision.kind),
            decision.tooth,
            main_side(facts, decision),
            likeness=self.library.likeness,
            assembly=given,
            content=self.content(facts),
        )


class DecisionAnalysis:
    """One decision of one case, worked out in full (``only``: for one option); parts are computed when asked for."""

    def __init__(
        self, engine: Engine, facts: CaseFacts, decision: Decision, given: str | None, only: str | None = None
    ) -> None:
        self.engine = engine
        self.facts = facts
        self.decision = decision
        self.given = given
        self.only = only

    @cached_property
    def weights(self) -> Weights:
        """Criterion weights of the decision, the same for every approach."""
        scope = scope_of(self.facts, self.decision)
        known = self.engine.knowledge
        return criterion_weights(
            known.criteria, self.decision.kind, scope, known.departures(self.decision.kind)
        )

    @cached_property
    def evidence(self) -> Evidence:
        """The precedents heard."""
        return self.engine.evidence(self.facts, self.decision, self.given)

    @cached_property
    def views(self) -> list[View]:
        """The approaches from which the decision is judged, with the facts of each option seen so."""
        catalogue = self.engine.knowledge.catalogue.options[self.decision.kind]
        if self.only is not None:
            catalogue = {name: option for name, option in catalogue.items() if name == self.only}
        return views_of(catalogue, self.facts, self.decision, self.given)

    @cached_property
    def judged(self) -> dict[str, list[Judged]]:
        """Every option from each of its approaches."""
        rules = self.engine.rule_set(self.decision.kind)
        catalogue = self.engine.knowledge.catalogue.options[self.decision.kind]
        found: dict[str, list[Judged]] = {}
        abutment = self.facts.surveyed.get(self.decision.tooth)
        for view in self.views:
            outcomes = rules.evaluate(view.scope, view.layers)
            read: dict[str, tuple[str, ...]] = {}
            for identifier, layer in view.layers.items():
                judged = judge(
                    catalogue[identifier],
                    view.approach,
                    view.scope.extended(layer),
                    outcomes[identifier],
                    self.weights,
                    self.decision.tooth,
                    abutment,
                    f"{self.decision.path}.{identifier}",
                    read,
                )
                found.setdefault(identifier, []).append(judged)
        return found

    @cached_property
    def chosen(self) -> dict[str, Judged]:
        """Each option from its better approach: the better status, then the higher rule score."""
        return {
            identifier: min(
                ways, key=lambda j: (STATUS_ORDER.index(j.status), -j.rules.value, j.approach or "")
            )
            for identifier, ways in self.judged.items()
        }

    def scores(self) -> dict[str, float]:
        """The blended score of every option."""
        return self._scores

    @cached_property
    def _scores(self) -> dict[str, float]:
        return {identifier: self.score_of(judged) for identifier, judged in self.chosen.items()}

    def score_of(self, judged: Judged) -> float:
        """The blended score of an option as judged from one approach."""
        w = self.evidence.weight
        return (1 - w) * judged.rules.value + w * self.evidence.opinion(judged.option.id)

    def order(self) -> list[str]:
        """The options in ranking order: status, then higher score, then identifier."""
        scores = self.scores()
        return sorted(self.chosen, key=lambda o: (STATUS_ORDER.index(self.chosen[o].status), -scores[o], o))

    @cached_property
    def result(self) -> DecisionResult:
        """The ranked answer."""
        scores = self.scores()
        ranked = tuple(
            self._option(identifier, rank, scores[identifier])
            for rank, identifier in enumerate(self.order(), 1)
        )
        return DecisionResult(self.decision, self.evidence.weight, ranked, self.given)

    def seen_from(self, identifier: str, approach: str) -> OptionResult | None:
        """An option judged from one approach, be it the better one or not; ``None`` if it is not judged there."""
        judged = next((way for way in self.judged[identifier] if way.approach == approach), None)
        if judged is None:
            return None
        rank = self.order().index(identifier) + 1
        return self._option(identifier, rank, self.score_of(judged), judged)

    def _option(self, identifier: str, rank: int, score: float, seen: Judged | None = None) -> OptionResult:
        judged = seen or self.chosen[identifier]
        ways = self.judged[identifier]
        evidence = self.evidence

        def outer() -> tuple[float, float]:
            bounds = (min(j.rules.bounds[0] for j in ways), max(j.rules.bounds[1] for j in ways))
            low, high = blended_bounds(bounds, evidence.opinion_bounds(identifier), evidence.weight_bounds)
            return min(low, score), max(high, score)

        # A gap on any approach that is still possible keeps the choice provisional.
        unverified = tuple(dict.fromkeys(gap for way in ways if way.provisional for gap in way.unverified))
        said = {
            effect: tuple(rule.statement for rule in judged.fired if rule.effect == effect)
            for effect in ("step", "caution")
        }
        return OptionResult(
            identifier, judged.status, score, Outer(outer), rank, judged.approach,
            bool(unverified), unverified, judged.rules.value, evidence.opinion(identifier), evidence.weight,
            Lines(lambda: contributions(judged, evidence, self.weights)),
            judged.blocks,
            judged.unlocked_by, judged.preparation, _shown(judged), said["step"], said["caution"],
        )  # fmt: skip


def _shown(judged: Judged) -> dict[str, object]:
    """The option's own facts, as they stand in the answer: the value, or its bounds."""
    shown: dict[str, object] = {}
    for name, fact in judged.scope.layers[-1].items():
        if fact.value is not None:
            shown[name] = fact.value
        elif fact.low is not None or fact.high is not None:
            shown[name] = [fact.low, fact.high]
    return shown
