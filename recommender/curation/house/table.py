"""Every decision of a library's approved cases as arrays, worked out once: what could be chosen, and what was.

Rows are the options of the best status at their decision (what is blocked, unsafe or cannot be made is no row, so
that nothing about it can be learned), decision by decision, options in alphabetical order. Scores by criterion are
those of the published rules. Precedents are not heard here: see ``votes``.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from recommender.advice.analysis import CaseAnalysis, NoAdviceError
from recommender.advice.decision import DecisionAnalysis
from recommender.advice.model import STATUS_ORDER, Decision
from recommender.advice.recommend import Recommender
from recommender.advice.scoring.views import main_side
from recommender.curation.evaluation.leave_one_out import approved, as_it_came
from recommender.curation.house.conditions import conditions
from recommender.domain.case import Case
from recommender.facts.derive import derive
from recommender.facts.values import Fact
from recommender.knowledge.conditions import Condition
from recommender.knowledge.model import Knowledge
from recommender.precedents.model import Situation
from recommender.precedents.outcome_value import OutcomeFigures
from recommender.precedents.search.encode import encode
from recommender.precedents.search.tables import Codes, FeatureSet, Likeness, likeness_of
from recommender.precedents.situations import situation_for, situations

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]
KINDS = ("retainer", "rest", "connector", "replacement")
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Table:
    """The decisions of one kind (``D``), their rows (``N``), criteria (``C``), conditions (``M``).

    ``chosen`` is the row of the house's own choice; -1 where that is no row. ``case`` counts cases in the order
    given. ``raw`` are the criterion weights of each decision, ``scores`` those of each row on each criterion.
    ``truth`` holds for each row whether a condition holds there. ``asked`` and ``stored`` are codes of the features
    of likeness, as the case is asked about and as it serves as a precedent.
    """

    kind: str
    options: tuple[str, ...]
    criteria: tuple[str, ...]
    conditions: tuple[Condition, ...]
    case: Places
    site: Places
    upper: Flags
    start: Places
    option: Places
    chosen: Places
    own: Places
    raw: Floats
    scores: Floats
    truth: Flags
    asked: Codes
    stored: Codes
    weights: npt.NDArray[np.float64]
    worth: Floats
    features: FeatureSet
    credit: Floats

    @property
    def decision(self) -> Places:
        """The decision of each row."""
        return np.repeat(np.arange(len(self.case)), np.diff(self.start))

    @property
    def teaches(self) -> Flags:
        """The decisions that can teach: something could be chosen, and what was chosen could."""
        found: Flags = (self.chosen >= 0) & (np.diff(self.start) > 1)
        return found

    @property
    def published(self) -> Floats:
        """``R`` of each row with the published weights."""
        raw = self.raw[self.decision]
        found: Floats = (raw * self.scores).sum(axis=1) / raw.sum(axis=1)
        return found


@dataclass(frozen=True, slots=True)
class Made:
    """One decision before it becomes rows: ``situation`` as it serves as a precedent, ``asked`` as it is asked about.

    ``facts`` hold, for each approach, the facts by which conditions are told; ``approaches``, ``scores`` one entry an
    option, ``raw`` one a criterion.
    """

    case: int
    situation: Situation
    asked: Situation
    options: tuple[str, ...]
    approaches: tuple[str | None, ...]
    facts: Mapping[str | None, Mapping[str, Fact]]
    scores: Floats
    raw: Floats


def likeness_in(base: Knowledge) -> Likeness:
    """Likeness by the figures of the knowledge."""
    return likeness_of(base.figures.similarity.model_dump(exclude_none=True), base.catalogue.credit)


def learnable(cases: Sequence[Case]) -> list[Case]:
    """The cases that can teach: approved, with a design and something to replace; in order of id."""
    return sorted(approved(cases), key=lambda case: case.id)


def tables(
    cases: Sequence[Case], base: Knowledge, cuts: int, progress: Progress = lambda done, of: None
) -> dict[str, Table]:
    """The tables of all kinds of decision."""
    reader = Reader(base)
    made = []
    for number, case in enumerate(cases):
        made += reader.decisions(number, case)
        progress(number + 1, len(cases))
    return reader.tables(made, cuts)


class Reader:
    """Makes decisions, and tables of them, from cases."""

    def __init__(self, base: Knowledge) -> None:
        self.base = base
        self.likeness = likeness_in(base)
        self.outcomes = OutcomeFigures.of(base.figures.scoring.model_dump())
        self.plain = Recommender(None, base)
        self.criteria = {
            kind: tuple(name for name, weight in base.criteria.base[kind].items() if weight) for kind in KINDS
        }

    def work(self, case: Case) -> CaseAnalysis | None:
        """The case as it came in, worked out by the published rules alone."""
        try:
            return self.plain.work(as_it_came(case))
        except NoAdviceError:
            return None

    def decisions(self, number: int, case: Case, analysis: CaseAnalysis | None = None) -> list[Made]:
        """What the case's own design decided; ``analysis`` is that of ``work`` where there is one already."""
        analysis = analysis or self.work(case)
        if analysis is None:
            return []
        known = set(analysis.decisions())
        found = []
        for stored in situations(case, derive(case), self.likeness, self.outcomes):
            decision = Decision(stored.kind, stored.site)
            assembly = stored.features.get("rest.assembly") if stored.kind == "rest" else None
            if decision not in known or (stored.kind == "rest" and assembly is None):
                continue
            given = None if assembly is None else str(assembly)
            examined = (
                analysis.examine(decision) if given is None else analysis.examine_rest(stored.site, given)
            )
            if stored.choice in examined.chosen:
                found.append(self._made(number, stored, examined, given))
        return found

    def _made(self, number: int, stored: Situation, examined: DecisionAnalysis, given: str | None) -> Made:
        kind, chosen = stored.kind, examined.chosen
        status = {name: STATUS_ORDER.index(judged.status) for name, judged in chosen.items()}
        best = min(status.values())
        options = tuple(sorted(name for name, held in status.items() if held == best))
        side = main_side(examined.facts, examined.decision)
        query = situation_for(
            examined.facts, kind, stored.site, side, likeness=self.likeness, assembly=given, content="-"
        )
        names = {item.feature.fact for item in self.likeness.kinds[kind].weighted}
        facts: dict[str | None, Mapping[str, Fact]] = {}
        for name in options:
            judged = chosen[name]
            if judged.approach not in facts:
                facts[judged.approach] = {fact: judged.scope.fact(fact) for fact in names}
        weights = examined.weights
        criteria = self.criteria[kind]
        return Made(
            number, stored, query, options,
            tuple(chosen[name].approach for name in options), facts,
            np.array([[chosen[name].rules.criteria[c] for c in criteria] for name in options]),
            np.array([weights.total * weights.share.get(name, 0.0) for name in criteria]),
        )  # fmt: skip

    def tables(
        self,
        made: Sequence[Made],
        cuts: int,
        given: Mapping[str, Sequence[Condition]] | None = None,
    ) -> dict[str, Table]:
        """The decisions as a table for each kind; ``given`` conditions stand for those that these decisions part by."""
        by_kind = {kind: [one for one in made if one.situation.kind == kind] for kind in KINDS}
        told = given or {}
        return {
            kind: self._table(kind, found, cuts, told.get(kind)) for kind, found in by_kind.items() if found
        }

    def _table(self, kind: str, made: Sequence[Made], cuts: int, given: Sequence[Condition] | None) -> Table:
        base, features = self.base, self.likeness.kinds[kind]
        known = given or conditions(features, [one.asked.features for one in made], base.registry, cuts)
        options = tuple(sorted(base.catalogue.options[kind]))
        place = {name: at for at, name in enumerate(options)}
        counts = [len(one.options) for one in made]
        return Table(
            kind, options, self.criteria[kind], tuple(known),
            np.array([one.case for one in made]),
            np.array([one.situation.site for one in made]),
            np.array([one.asked.arch == "maxilla" for one in made], dtype=np.bool_),
            np.concatenate(([0], np.cumsum(counts))),
            np.array([place[name] for one in made for name in one.options]),
            _chosen(made, counts),
            np.array([place[str(one.situation.choice)] for one in made]),
            np.array([one.raw for one in made]),
            np.concatenate([one.scores for one in made]),
            np.array([row for one in made for row in _truths(one, known)], dtype=np.bool_),
            encode(features, [one.asked for one in made]),
            encode(features, [one.situation for one in made]),
            np.array([_weights(features, one.asked.arch) for one in made]),
            np.array([one.situation.worth for one in made]),
            features,
            np.array([[base.catalogue.credit(kind, a, b) for b in options] for a in options]),
        )  # fmt: skip


def _chosen(made: Sequence[Made], counts: Sequence[int]) -> Places:
    found, at = [], 0
    for one, count in zip(made, counts, strict=True):
        choice = str(one.situation.choice)
        found.append(at + one.options.index(choice) if choice in one.options else -1)
        at += count
    return np.array(found)


def _weights(features: FeatureSet, arch: str) -> list[float]:
    return [item.weight if item.arch in (None, arch) else 0.0 for item in features.weighted]


def _truths(one: Made, known: Sequence[Condition]) -> list[list[bool]]:
    """Whether each condition holds, for each option in the scope from which it was judged."""
    held = {
        approach: [condition.run(facts.get, {}) is True for condition in known]
        for approach, facts in one.facts.items()
    }
    return [held[approach] for approach in one.approaches]
