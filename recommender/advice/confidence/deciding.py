"""A decision in every world: status and score of its options, and which leads.

The same steps as for one case (``advice.decision``), a column at a time: only rules that what is recorded leaves
undecided are looked at again, and scores are worked out for options that have the best status somewhere.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.confidence.case_columns import columns_of
from recommender.advice.confidence.columns import NONE
from recommender.advice.confidence.neighbours import WorldNeighbours
from recommender.advice.confidence.ranked import ADVISED_AGAINST, EXCLUDED, Floats, Places, Ranked, of_worlds
from recommender.advice.confidence.world_rules import Way, WorldRules
from recommender.advice.confidence.world_scores import Shares, WorldScores
from recommender.advice.confidence.worlds import Worlds
from recommender.advice.decision import DecisionAnalysis
from recommender.advice.model import Decision
from recommender.facts.figures import ModelFigures, under_own_figures


@dataclass(frozen=True, slots=True)
class _Said:
    """What precedents say of some options: their weight in each world, and ``P`` of each option, a line each."""

    weight: Floats | float
    opinions: Floats | float
    fields: frozenset[str] = NONE


def _as_recorded(examined: DecisionAnalysis, names: Sequence[str]) -> _Said:
    """What the precedents of the case as it is recorded say."""
    evidence = examined.evidence
    return _Said(evidence.weight, np.array([[evidence.opinion(name)] for name in names]))


class WorldCase:
    """The decisions of one case in every world; each worked out when it is asked for."""

    def __init__(self, analysis: CaseAnalysis, worlds: Worlds) -> None:
        self.analysis = analysis
        self.worlds = worlds
        self.columns = columns_of(worlds)
        self.neighbours = WorldNeighbours(analysis.engine, analysis.facts, worlds.count)
        self.rules = WorldRules(analysis, self.columns, worlds.count)
        self.scores = WorldScores(self.rules, worlds)
        self._ranked: dict[tuple[Decision, bool], Ranked] = {}
        self._judgement: dict[Decision, Ranked] = {}

    @property
    def figures(self) -> ModelFigures | None:
        """The figures of the models that the case is worked out with."""
        return self.analysis.facts.figures

    @under_own_figures
    def ranked(self, decision: Decision, moved: bool = False) -> Ranked:
        """A decision in the worlds of unrecorded facts; with ``moved``, the judgement in the figures moves too.

        Rests are ranked, in each world, for the assembly that leads at their tooth there.
        """
        key = (decision, moved)
        if key not in self._ranked:
            if decision.kind == "rest":
                self._ranked[key] = self._rests(decision, moved)
            else:
                self._ranked[key] = self._decide(self.analysis.examine(decision), None, moved)
        return self._ranked[key]

    @under_own_figures
    def judgement(self, decision: Decision) -> Ranked:
        """A decision on what is recorded alone, while the judgement in the figures moves."""
        if decision not in self._judgement:
            half = np.arange(self.worlds.count // 2)  # the second half moves the judgement as the first
            self._judgement[decision] = self._decide(self.analysis.examine(decision), half, True, facts=False)
        return self._judgement[decision]

    @under_own_figures
    def option(
        self, decision: Decision, identifier: str, moved: bool = False, facts: bool = True
    ) -> tuple[npt.NDArray[np.int8], Floats, frozenset[str]]:
        """One option of a decision in each world, be it among the best there or not: status, score, and the drawn
        fields behind them. Without ``facts``, on what is recorded alone."""
        examined = self.analysis.examine(decision)
        known = self._ranked.get((decision, moved)) if facts else self._judgement.get(decision)
        if known is not None and identifier in known.options:
            place = known.options.index(identifier)
            if place in known.scored:
                times = self.worlds.count // known.status.shape[1]
                every = known.common.union(
                    *(own for _, _, own in self.rules.statuses(examined, identifier, facts))
                )
                return np.tile(known.status[place], times), np.tile(known.scores[place], times), every
        size = self.worlds.count
        share, fields = self.scores.shares(examined, None, moved, facts)
        seen = []
        for way, found, behind in self.rules.statuses(examined, identifier, facts):
            seen.append((way, found))
            fields |= behind
        status = np.minimum.reduce([found for _, found in seen])
        said = (
            self._said(examined, [identifier], None, size, None)
            if facts
            else _as_recorded(examined, [identifier])
        )
        (scores,) = self._scores([seen], status[None], share, said, None, moved, facts, size)
        return status, scores, fields | said.fields

    @under_own_figures
    def best_with(self, decision: Decision, part: str) -> npt.NDArray[np.int8]:
        """The best status of any retainer at a tooth with a kind of part (``retentive``, ``rest``), in each world."""
        examined = self.analysis.examine(decision)
        best = np.full(self.worlds.count, EXCLUDED, dtype=np.int8)
        for identifier, ways in examined.judged.items():
            has = any(word.startswith(part) for word in ways[0].option.parts)
            if has and self.rules.floor(examined, identifier, True) < ADVISED_AGAINST:
                for _, status, _ in self.rules.statuses(examined, identifier, True):
                    np.minimum(best, status, out=best)
        return best

    def _rests(self, decision: Decision, moved: bool) -> Ranked:
        tooth = decision.tooth
        above = self.ranked(Decision("retainer", tooth), moved)
        leaders = above.leaders
        # Assemblies between which no rule on rests tells differ in their precedents alone.
        alike: dict[object, list[int]] = {}
        for place in np.unique(leaders).tolist():
            alike.setdefault(self.analysis.engine.kind_for_rests(above.options[place]), []).append(place)
        whole: Ranked | None = None
        fields = above.fields
        for places in alike.values():
            examined = self.analysis.examine_rest(tooth, above.options[places[0]])
            if len(alike) == 1:
                at = None
                given = {above.options[place]: np.flatnonzero(leaders == place) for place in places}
            else:
                at = np.flatnonzero(np.isin(leaders, places))
                given = {above.options[place]: np.flatnonzero(leaders[at] == place) for place in places}
            part = self._decide(examined, at, moved, given=given)
            fields |= part.fields
            if at is None:
                return Ranked(part.options, part.status, part.scores, fields)
            if whole is None:
                shape = (len(part.options), self.worlds.count)
                whole = Ranked(part.options, np.zeros(shape, dtype=np.int8), np.zeros(shape), NONE)
            whole.status[:, at] = part.status
            whole.scores[:, at] = part.scores
        assert whole is not None
        return Ranked(whole.options, whole.status, whole.scores, fields)

    def _decide(
        self,
        examined: DecisionAnalysis,
        at: Places | None,
        moved: bool,
        *,
        facts: bool = True,
        given: Mapping[str, Places] | None = None,
    ) -> Ranked:
        """A decision in the worlds ``at``; ``given`` are the assemblies for which a rest is chosen there, with their
        places among these worlds."""
        size = self.worlds.count if at is None else len(at)
        options = tuple(sorted(examined.judged))
        fields: frozenset[str] = NONE
        status = np.full((len(options), size), EXCLUDED, dtype=np.int8)
        seen: dict[int, list[tuple[Way, npt.NDArray[np.int8]]]] = {}
        floors = {place: self.rules.floor(examined, options[place], facts) for place in range(len(options))}
        # What is recorded can only be made worse by more records: a status is never better than it is now.
        for floor in sorted(set(floors.values())):
            if seen and floor > status.min(axis=0).max():
                break
            for place in (place for place, least in floors.items() if least == floor):
                seen[place] = []
                for way, found, behind in self.rules.statuses(examined, options[place], facts):
                    seen[place].append((way, of_worlds(found, at)))
                    fields |= behind
                status[place] = np.minimum.reduce([found for _, found in seen[place]])
        for place, least in floors.items():
            if place not in seen:
                status[place] = least
        best = status.min(axis=0)
        scores = np.full(status.shape, -np.inf)
        share, weighed = self.scores.shares(examined, at, moved, facts)
        fields |= weighed
        leading = [place for place in seen if (status[place] == best).any()]
        if len(leading) == 1:  # nothing to compare it with
            scores[leading[0]] = 0.0
            return Ranked(options, status, scores, fields)
        names = [options[place] for place in leading]
        said = self._said(examined, names, at, size, given) if facts else _as_recorded(examined, names)
        fields |= said.fields
        scores[leading] = self._scores(
            [seen[place] for place in leading], status[leading], share, said, at, moved, facts, size
        )
        return Ranked(options, status, scores, fields, frozenset(leading), weighed | said.fields)

    def _scores(
        self,
        seen: Sequence[Sequence[tuple[Way, npt.NDArray[np.int8]]]],
        status: npt.NDArray[np.int8],
        share: Shares,
        said: _Said,
        at: Places | None,
        moved: bool,
        facts: bool,
        size: int,
    ) -> Floats:
        """The blended scores of some options, each from its better approach, a line each, in each world."""
        ways = [way for those in seen for way, _ in those]
        lines = self.scores.of_rules(ways, share, at, moved, facts, size)
        rules = np.empty((len(seen), size))
        first = 0
        for place, those in enumerate(seen):
            if len(those) == 1:
                rules[place] = lines[first]
            else:
                whole = np.array([found for _, found in those]) == status[place]
                np.where(whole, lines[first : first + len(those)], -np.inf).max(axis=0, out=rules[place])
            first += len(those)
        rules *= 1 - said.weight
        rules += said.weight * said.opinions
        return rules

    def _said(
        self,
        examined: DecisionAnalysis,
        names: Sequence[str],
        at: Places | None,
        size: int,
        given: Mapping[str, Places] | None,
    ) -> _Said:
        """What precedents say of some options, in the worlds ``at``."""
        decision = examined.decision
        scope = self.rules.main_scope(decision)
        if given is None or len(given) == 1:
            assembly = examined.given if given is None else next(iter(given))
            votes = self.neighbours.retrieve(decision, scope, assembly, at)
            if votes is None:
                return _Said(0.0, 0.0)
            credits = np.array([self.neighbours.credits(decision, name) for name in names])
            return _Said(votes.weight(at), votes.opinions(credits, at), votes.fields)
        weight, opinions, fields = np.zeros(size), np.zeros((len(names), size)), NONE
        for assembly, places in given.items():
            here = places if at is None else at[places]
            votes = self.neighbours.retrieve(decision, scope, assembly, here)
            if votes is None:
                return _Said(0.0, 0.0)
            credits = np.array([self.neighbours.credits(decision, name) for name in names])
            weight[places], opinions[:, places] = votes.weight(here), votes.opinions(credits, here)
            fields |= votes.fields
        return _Said(weight, opinions, fields)
