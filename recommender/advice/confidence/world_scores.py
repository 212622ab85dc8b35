"""What rules add up to in many worlds: the share of each criterion, and ``R`` of each option."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from recommender.advice.confidence.columns import NONE, WorldScope
from recommender.advice.confidence.judgement import points_moved, start_moved, weight_moved
from recommender.advice.confidence.ranked import Floats, Places, of_worlds
from recommender.advice.confidence.truths import truths
from recommender.advice.confidence.world_rules import Way, WorldRules
from recommender.advice.confidence.worlds import Worlds
from recommender.advice.decision import DecisionAnalysis
from recommender.domain.options import Option
from recommender.knowledge.model import Rule


@dataclass(frozen=True, slots=True)
class Shares:
    """The share of each criterion, a line each, in each world (one column where it is the same everywhere)."""

    names: tuple[str, ...]
    places: Mapping[str, int]
    values: Floats


class WorldScores:
    """The part of the scores of one case that comes from rules, in every world."""

    def __init__(self, rules: WorldRules, worlds: Worlds) -> None:
        self.rules = rules
        self.worlds = worlds
        self._starts: dict[tuple[str, str], Floats] = {}
        self._known_shares: dict[tuple[str, int, bool], tuple[Shares, frozenset[str]]] = {}
        self._points: dict[str, Floats] = {}
        self._bases: dict[tuple[int, bool], Floats] = {}

    def shares(
        self, examined: DecisionAnalysis, at: Places | None, moved: bool, facts: bool
    ) -> tuple[Shares, frozenset[str]]:
        """The share of each criterion in each world."""
        scope = self.rules.main_scope(examined.decision)
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
            elif shift in now.held:
                raw[shift.criterion] = raw[shift.criterion] + shift.add
        names = tuple(raw)
        even = all(np.ndim(value) == 0 for value in raw.values())
        values = np.empty((len(names), 1 if even else size))
        for line, name in zip(values, names, strict=True):
            line[:] = raw[name]
        np.maximum(values, 0.0, out=values)
        values /= values.sum(axis=0)
        return Shares(names, {name: place for place, name in enumerate(names)}, values), fields

    def of_rules(
        self, ways: Sequence[Way], share: Shares, at: Places | None, moved: bool, facts: bool, size: int
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
                        line[share.places[rule.criterion]] += of_worlds(self._points_moved(rule), at) * held
        return _weighed_sum(reached, share.values)

    def _varying(
        self, ways: Sequence[Way], start: Floats, share: Shares, at: Places | None, size: int
    ) -> Floats:
        """``R`` while rules wait for what was not recorded."""
        reached = np.repeat(start[:, :, None], size, axis=2)
        for line, way in zip(reached, ways, strict=True):
            for rule, levels in way.waiting:
                if rule.points and rule.criterion in share.places:
                    line[share.places[rule.criterion]] += rule.points * (of_worlds(levels, at) == 2)
        return _weighed_sum(reached, share.values)

    def _base(self, way: Way, share: Shares, facts: bool) -> Floats:
        """What an option reaches on each criterion by its start and the rules that speak in every world."""
        start = np.array([way.judged.option.starts[name] for name in share.names])
        for rule in way.fixed if facts else way.judged.fired:
            if rule.points and rule.criterion in share.places:
                start[share.places[rule.criterion]] += rule.points
        return start

    def _base_moved(self, way: Way, share: Shares, facts: bool) -> Floats:
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
