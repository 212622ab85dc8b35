"""A decision in every world: status and score of its options, and which leads.

The same steps as for one case (``advice.decision``), a column at a time: only rules that what is recorded leaves
undecided are looked at again, and scores are worked out for options that have the best status somewhere.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.confidence.case_columns import ALWAYS, CaseColumns
from recommender.advice.confidence.columns import NONE, WorldScope
from recommender.advice.confidence.judgement import points_moved, start_moved, weight_moved
from recommender.advice.confidence.neighbours import WorldNeighbours
from recommender.advice.confidence.option_columns import OptionColumns
from recommender.advice.confidence.truths import truths
from recommender.advice.confidence.worlds import Worlds
from recommender.advice.decision import DecisionAnalysis
from recommender.advice.model import STATUS_ORDER, Decision
from recommender.advice.preparations import permitted
from recommender.advice.scoring.judge import Judged
from recommender.advice.scoring.views import View, main_side
from recommender.domain.options import Option
from recommender.facts.figures import ModelFigures, under_own_figures
from recommender.facts.values import Fact
from recommender.knowledge.evidence import RuleSet
from recommender.knowledge.model import Rule

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Places = npt.NDArray[np.intp]
_EXCLUDED, _ADVISED, _PREPARED = 3, 2, 1
_STATUS = {"impossible": _EXCLUDED, "safety": _EXCLUDED, "advised_against": _ADVISED}
_SPEAKS = frozenset({"favours", "discourages", "blocks", "prepares"})
_CLOSE = 1e-9
Number = TypeVar("Number", bound=np.generic)


@dataclass(frozen=True)
class Ranked:
    """Options of a decision in some worlds, by identifier in alphabetical order.

    ``status`` (``options, worlds``) counts from 0, open, to 3, excluded. ``scores`` hold for the options that have
    the best status of their world; elsewhere ``-inf``. ``fields`` are the drawn fields behind all of it. ``scored``
    are the places of options whose score was worked out for every world, ``common`` the fields behind all of these.
    """

    options: tuple[str, ...]
    status: npt.NDArray[np.int8]
    scores: Floats
    fields: frozenset[str]
    scored: frozenset[int] = frozenset()
    common: frozenset[str] = NONE

    @cached_property
    def leaders(self) -> Places:
        """The place of the option that leads, in each world: best status, then score, then identifier."""
        best = self.status.min(axis=0)
        scores = np.where(self.status == best, self.scores, -np.inf)
        found: Places = np.argmax(scores >= scores.max(axis=0) - _CLOSE, axis=0)
        return found

    def first(self) -> dict[str, float]:
        """First-rank acceptability of every option."""
        count = np.bincount(self.leaders, minlength=len(self.options)) / self.status.shape[1]
        return dict(zip(self.options, count.tolist(), strict=True))

    def level(self, option: str, margin: float) -> Flags:
        """Where an option leads, or has the leader's status and a score within ``margin`` of it."""
        place = self.options.index(option)
        best = self.status.min(axis=0)
        worlds = np.arange(self.status.shape[1])
        lead = self.scores[self.leaders, worlds]
        near: Flags = (self.status[place] == best) & (self.scores[place] >= lead - margin - _CLOSE)
        return near

    def leads(self, option: str) -> Flags:
        """Where an option leads."""
        found: Flags = self.leaders == self.options.index(option)
        return found

    def status_of(self, option: str) -> npt.NDArray[np.int8]:
        """The status of an option in each world."""
        found: npt.NDArray[np.int8] = self.status[self.options.index(option)]
        return found


@dataclass(frozen=True, slots=True)
class Shares:
    """The share of each criterion, a line each, in each world (one column where it is the same everywhere)."""

    names: tuple[str, ...]
    places: Mapping[str, int]
    values: Floats


@dataclass(frozen=True, slots=True)
class _Way:
    """One option from one approach: the rules that speak in every world, and those that speak in some."""

    judged: Judged
    fixed: tuple[Rule, ...]
    waiting: tuple[tuple[Rule, npt.NDArray[np.int8]], ...]
    fields: frozenset[str]


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


_Status = tuple[_Way, npt.NDArray[np.int8], frozenset[str]]


class WorldCase:
    """The decisions of one case in every world; each worked out when it is asked for."""

    def __init__(self, analysis: CaseAnalysis, worlds: Worlds) -> None:
        self.analysis = analysis
        self.worlds = worlds
        self.columns = CaseColumns(worlds)
        self.neighbours = WorldNeighbours(analysis.engine, analysis.facts, worlds.count)
        self.option_columns = OptionColumns(self.columns)
        self._ranked: dict[tuple[Decision, bool], Ranked] = {}
        self._ways: dict[tuple[Decision, str | None, str], list[_Way]] = {}
        self._starts: dict[tuple[str, str], Floats] = {}
        self._refused: dict[tuple[int, str], tuple[Flags | bool, frozenset[str]]] = {}
        self._again: dict[tuple[str, str], dict[str, Rule]] = {}
        self._judgement: dict[Decision, Ranked] = {}
        self._known_status: dict[tuple[Decision, str | None, str], list[_Status]] = {}
        self._known_shares: dict[tuple[str, int, bool], tuple[Shares, frozenset[str]]] = {}
        self._points: dict[str, Floats] = {}
        self._bases: dict[tuple[int, bool], Floats] = {}

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
                every = known.common.union(*(own for _, _, own in self._statuses(examined, identifier, facts)))
                return np.tile(known.status[place], times), np.tile(known.scores[place], times), every
        size = self.worlds.count
        share, fields = self._shares(examined, None, moved, facts)
        seen = []
        for way, found, behind in self._statuses(examined, identifier, facts):
            seen.append((way, found))
            fields |= behind
        status = np.minimum.reduce([found for _, found in seen])
        said = self._said(examined, [identifier], None, size, None) if facts else _as_recorded(examined, [identifier])
        (scores,) = self._scores([seen], status[None], share, said, None, moved, facts, size)
        return status, scores, fields | said.fields

    @under_own_figures
    def best_that_holds(self, decision: Decision) -> npt.NDArray[np.int8]:
        """The best status of any retainer at a tooth that holds the denture in, in each world."""
        examined = self.analysis.examine(decision)
        best = np.full(self.worlds.count, _EXCLUDED, dtype=np.int8)
        for identifier, ways in examined.judged.items():
            holds = any(word.startswith("retentive") for word in ways[0].option.parts)
            if holds and self._floor(examined, identifier, True) < _ADVISED:
                for _, status, _ in self._statuses(examined, identifier, True):
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

    def scope(self, decision: Decision, side: str | None) -> WorldScope:
        """The scope of a decision seen from a side."""
        if decision.kind == "connector":
            return self.columns.case_scope
        if decision.kind == "replacement":
            return self.columns.space(decision.tooth)
        return self.columns.toward(decision.tooth, side or "mesial")

    # ---- which rules speak where

    def _ways_of(self, examined: DecisionAnalysis, identifier: str) -> list[_Way]:
        """An option from each of its approaches."""
        key = (examined.decision, examined.given, identifier)
        found = self._ways.get(key)
        if found is None:
            found = self._ways[key] = [
                self._way(examined, view, judged)
                for view in examined.views
                if identifier in view.layers
                for judged in examined.judged[identifier]
                if judged.approach == view.approach
            ]
        return found

    def _way(self, examined: DecisionAnalysis, view: View, judged: Judged) -> _Way:
        base = self.scope(examined.decision, view.approach)
        option = judged.option
        layer = view.layers[option.id]
        scope = base.extended(self.option_columns.layer(examined.decision, view.approach, option, layer))
        again = self._again_for(examined, option.id)
        fixed = [rule for rule in judged.fired if rule.id not in again]
        waiting: list[tuple[Rule, npt.NDArray[np.int8]]] = []
        fields: frozenset[str] = NONE
        asked = [rule for rule in judged.undecided if rule.id not in again]
        for rule in (*asked, *again.values()):
            if rule.effect not in _SPEAKS:
                continue
            held = truths(rule.when.root, scope)
            if isinstance(held.levels, int):
                if held.levels == 2:
                    fixed.append(rule)
            else:
                waiting.append((rule, held.levels))
                fields |= held.fields
        return _Way(judged, tuple(fixed), tuple(waiting), fields)

    def _again_for(self, examined: DecisionAnalysis, identifier: str) -> Mapping[str, Rule]:
        """The rules about an option whose answer a record may turn although it looks settled."""
        key = (examined.decision.kind, identifier)
        found = self._again.get(key)
        if found is None:
            every = _restless(examined.engine.rule_set(examined.decision.kind))
            found = self._again[key] = {rule.id: rule for rule in every if rule.speaks_of(identifier)}
        return found

    def _forbidden(self, tooth: int, action: str) -> tuple[Flags | bool, frozenset[str]]:
        """Where the dentist will not prepare a tooth in this way."""
        key = (tooth, action)
        if key not in self._refused:
            layer = self.columns.tooth_layer(tooth)
            willing, listed = layer.column("abutment.preparable"), layer.column("abutment.permitted")
            answers = np.array([[_refuses(a, b, action) for b in listed.forms] for a in willing.forms])
            if willing.codes is None and listed.codes is None:
                self._refused[key] = bool(answers[0, 0]), NONE
            else:
                rows = 0 if willing.codes is None else willing.codes
                lines = 0 if listed.codes is None else listed.codes
                self._refused[key] = answers[rows, lines], willing.fields | listed.fields
        return self._refused[key]

    def _status(
        self, decision: Decision, way: _Way, facts: bool
    ) -> tuple[npt.NDArray[np.int8], frozenset[str]]:
        """Status of an option from one approach, in each world."""
        status = np.zeros(self.worlds.count, dtype=np.int8)
        fields: frozenset[str] = NONE
        blocks: list[tuple[Rule, npt.NDArray[np.int8] | None]] = [
            (rule, None) for rule in (way.fixed if facts else way.judged.fired) if rule.effect == "blocks"
        ]
        if facts:
            blocks += [(rule, levels) for rule, levels in way.waiting if rule.effect == "blocks"]
        for rule, levels in blocks:
            if rule.block is None:
                continue
            worst = _STATUS[rule.block]
            height: npt.NDArray[np.int8] | int = worst
            if rule.unlocked_by:
                refused: Flags | bool = False
                if decision.tooth in self.analysis.facts.considered and decision.kind in ("retainer", "rest"):
                    for step in rule.unlocked_by:
                        if facts:
                            one, behind = self._forbidden(decision.tooth, step.action)
                            fields |= behind
                        else:
                            abutment = self.analysis.facts.surveyed.get(decision.tooth)
                            one = permitted(abutment, step.action) is False
                        refused = refused | one
                height = np.where(refused, worst, _PREPARED).astype(np.int8)
            if levels is not None:
                height = np.where(levels == 2, height, 0).astype(np.int8)
            np.maximum(status, height, out=status)
        return status, fields

    def _statuses(self, examined: DecisionAnalysis, identifier: str, facts: bool) -> "list[_Status]":
        """Each approach of an option with its status in every world, and the drawn fields behind it."""
        if not facts:
            return [
                (way, self._status(examined.decision, way, False)[0], NONE)
                for way in self._ways_of(examined, identifier)
            ]
        key = (examined.decision, examined.given, identifier)
        found = self._known_status.get(key)
        if found is None:
            found = self._known_status[key] = []
            for way in self._ways_of(examined, identifier):
                status, behind = self._status(examined.decision, way, True)
                found.append((way, status, behind | way.fields))
        return found

    # ---- what they add up to

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
        status = np.full((len(options), size), _EXCLUDED, dtype=np.int8)
        seen: dict[int, list[tuple[_Way, npt.NDArray[np.int8]]]] = {}
        floors = {place: self._floor(examined, options[place], facts) for place in range(len(options))}
        # What is recorded can only be made worse by more records: a status is never better than it is now.
        for floor in sorted(set(floors.values())):
            if seen and floor > status.min(axis=0).max():
                break
            for place in (place for place, least in floors.items() if least == floor):
                seen[place] = []
                for way, found, behind in self._statuses(examined, options[place], facts):
                    seen[place].append((way, self._at(found, at)))
                    fields |= behind
                status[place] = np.minimum.reduce([found for _, found in seen[place]])
        for place, least in floors.items():
            if place not in seen:
                status[place] = least
        best = status.min(axis=0)
        scores = np.full(status.shape, -np.inf)
        share, weighed = self._shares(examined, at, moved, facts)
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
        seen: Sequence[Sequence[tuple[_Way, npt.NDArray[np.int8]]]],
        status: npt.NDArray[np.int8],
        share: Shares,
        said: "_Said",
        at: Places | None,
        moved: bool,
        facts: bool,
        size: int,
    ) -> Floats:
        """The blended scores of some options, each from its better approach, a line each, in each world."""
        ways = [way for those in seen for way, _ in those]
        lines = self._rules(ways, share, at, moved, facts, size)
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
    ) -> "_Said":
        """What precedents say of some options, in the worlds ``at``."""
        decision = examined.decision
        scope = self.scope(decision, main_side(self.analysis.facts, decision))
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

    def _floor(self, examined: DecisionAnalysis, identifier: str, facts: bool) -> int:
        """The best status that an option can have in any world."""
        if facts and any(rule.effect == "blocks" for rule in self._again_for(examined, identifier).values()):
            return 0
        return min(STATUS_ORDER.index(way.status) for way in examined.judged[identifier])

    def _shares(
        self, examined: DecisionAnalysis, at: Places | None, moved: bool, facts: bool
    ) -> tuple[Shares, frozenset[str]]:
        """The share of each criterion in each world."""
        scope = self.scope(examined.decision, main_side(self.analysis.facts, examined.decision))
        if facts:
            key = (examined.decision.kind, id(scope), moved)
            if key not in self._known_shares:
                self._known_shares[key] = self._weighed(examined, scope, moved, facts)
            share, fields = self._known_shares[key]
        else:
            share, fields = self._weighed(examined, scope, moved, facts)
        if at is not None and share.values.shape[1] > 1:
            share = Shares(share.names, share.places, share.values[:, at])
        return share, fields

    def _weighed(
        self, examined: DecisionAnalysis, scope: WorldScope, moved: bool, facts: bool
    ) -> tuple[Shares, frozenset[str]]:
        criteria = examined.engine.knowledge.criteria
        kind, size = examined.decision.kind, self.worlds.count
        fields: frozenset[str] = NONE
        raw: dict[str, Floats | float] = {}
        for name, weight in criteria.base[kind].items():
            if weight:
                raw[name] = (
                    weight * weight_moved(self.worlds.known.judgement, kind, name, size) if moved else weight
                )
        now = examined.weights
        for shift in criteria.shifts:
            if shift.criterion not in raw:
                continue
            if facts:
                held = truths(shift.when.root, scope)
                fields |= held.fields
                raw[shift.criterion] = raw[shift.criterion] + shift.add * np.asarray(held.held)
            elif shift.why in now.reasons.get(shift.criterion, ()):
                raw[shift.criterion] = raw[shift.criterion] + shift.add
        names = tuple(raw)
        even = all(np.ndim(value) == 0 for value in raw.values())
        values = np.empty((len(names), 1 if even else size))
        for line, name in zip(values, names, strict=True):
            line[:] = raw[name]
        np.maximum(values, 0.0, out=values)
        values /= values.sum(axis=0)
        return Shares(names, {name: place for place, name in enumerate(names)}, values), fields

    @staticmethod
    def _at(values: npt.NDArray[Number], at: Places | None) -> npt.NDArray[Number]:
        return values if at is None else values[at]

    def _rules(
        self, ways: Sequence[_Way], share: Shares, at: Places | None, moved: bool, facts: bool, size: int
    ) -> Floats:
        """``R`` of options from one approach each, a line each, in each world."""
        if moved:
            reached = np.empty((len(ways), len(share.names), size))
            for line, way in zip(reached, ways, strict=True):
                base = self._base_moved(way, share, facts)
                line[:] = base if at is None else base[:, at]
        else:
            start = np.empty((len(ways), len(share.names)))
            for line, way in zip(start, ways, strict=True):
                line[:] = self._base(way, share, facts)
            waiting = [
                place
                for place, way in enumerate(ways)
                if facts and any(rule.points and rule.criterion in share.places for rule, _ in way.waiting)
            ]
            even = np.clip(start, 0.0, 100.0) @ share.values
            if not waiting:
                return even if even.shape[1] == size else np.repeat(even, size, axis=1)
            found = np.empty((len(ways), size))
            found[:] = even
            found[waiting] = self._varying([ways[i] for i in waiting], start[waiting], share, at, size)
            return found
        if facts:
            for line, way in zip(reached, ways, strict=True):
                for rule, levels in way.waiting:
                    if rule.points and rule.criterion in share.places:
                        held = (levels if at is None else levels[at]) == 2
                        line[share.places[rule.criterion]] += self._at(self._points_moved(rule), at) * held
        return _weighed_sum(reached, share.values)

    def _varying(
        self, ways: Sequence[_Way], start: Floats, share: Shares, at: Places | None, size: int
    ) -> Floats:
        """``R`` while rules wait for what was not recorded."""
        reached = np.repeat(start[:, :, None], size, axis=2)
        for line, way in zip(reached, ways, strict=True):
            for rule, levels in way.waiting:
                if rule.points and rule.criterion in share.places:
                    line[share.places[rule.criterion]] += rule.points * (self._at(levels, at) == 2)
        return _weighed_sum(reached, share.values)

    def _base(self, way: _Way, share: Shares, facts: bool) -> Floats:
        """What an option reaches on each criterion by its start and the rules that speak in every world."""
        start = np.array([way.judged.option.starts[name] for name in share.names])
        for rule in way.fixed if facts else way.judged.fired:
            if rule.points and rule.criterion in share.places:
                start[share.places[rule.criterion]] += rule.points
        return start

    def _base_moved(self, way: _Way, share: Shares, facts: bool) -> Floats:
        """As ``_base``, with starts and points moved, in each world."""
        key = (id(way), facts)
        found = self._bases.get(key)
        if found is None:
            found = self._starts_moved(way.judged.option, share.names).copy()
            for rule in way.fixed if facts else way.judged.fired:
                if rule.points and rule.criterion in share.places:
                    found[share.places[rule.criterion]] += self._points_moved(rule)
            self._bases[key] = found
        return found

    def _points_moved(self, rule: Rule) -> Floats:
        if rule.id not in self._points:
            self._points[rule.id] = points_moved(self.worlds.known.judgement, rule, self.worlds.count)
        return self._points[rule.id]

    def _starts_moved(self, option: Option, names: tuple[str, ...]) -> Floats:
        """Starts of an option in each world, a line for each criterion."""
        key = (option.decision, option.id)
        if key not in self._starts:
            how, count = self.worlds.known.judgement, self.worlds.count
            lines = [option.starts[name] + start_moved(how, option, name, count) for name in names]
            self._starts[key] = np.array(lines)
        return self._starts[key]


def _weighed_sum(reached: Floats, share: Floats) -> Floats:
    """Scores of criteria (``options, criteria, worlds``), held between 0 and 100 and weighed by their shares."""
    np.maximum(reached, 0.0, out=reached)
    np.minimum(reached, 100.0, out=reached)
    if share.shape[1] == 1:
        return np.asarray(share[:, 0] @ reached)
    found: Floats = np.einsum("cw,ncw->nw", share, reached)
    return found


@lru_cache(maxsize=32)
def _restless(rules: RuleSet) -> list[Rule]:
    """Rules whose answer a record may turn although it looks settled: those that ask whether something is recorded,
    and those that read a fact which more records may move."""
    return [
        rule
        for rule in rules.rules
        if not rule.when.facts.isdisjoint(ALWAYS) or any(atom.kind == "recorded" for atom in rule.when.atoms)
    ]


def _refuses(willing: Fact, listed: Fact, action: str) -> bool:
    """As ``preparations.permitted``, of facts: whether it says no."""
    if willing.value is False:
        return True
    return isinstance(listed.value, frozenset) and action not in listed.value
