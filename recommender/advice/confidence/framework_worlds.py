"""Whole frameworks in every world: the best few compared by what their parts score there.

A framework scores what its parts score, weighed as the solver weighs them, plus what it meets or fails as a whole,
which no unrecorded fact changes here. A part that is blocked in a world takes its framework out of it, save what is
advised against where there is nothing else: the solver makes do with that too. The pool holds the best frameworks of
the case as it is recorded; one that only some other world would bring up is not in it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from recommender.advice.confidence.deciding import WorldCase
from recommender.advice.model import STATUS_ORDER, Decision, Framework
from recommender.domain.dentition import side_of
from recommender.knowledge.figures.frameworks import FrameworkFigures

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
_PREPARED, _ADVISED = 1, 2


@dataclass(frozen=True, slots=True)
class Candidate:
    """A framework as far as it is compared: its score as recorded, and the parts that unrecorded facts can move."""

    score: float
    connector: str
    retainers: Mapping[int, str]
    replacements: Mapping[int, str]


def candidate(framework: Framework) -> Candidate:
    """What is compared of a framework."""
    return Candidate(framework.score, framework.connector, framework.retainers, framework.replacements)


class FrameworkWorlds:
    """Scores of some frameworks in every world, in the order given. ``fields`` are the drawn fields behind them."""

    def __init__(self, world: WorldCase, pool: Sequence[Candidate], figures: FrameworkFigures) -> None:
        self.world = world
        self.pool = tuple(pool)
        self.figures = figures
        self.fields: frozenset[str] = frozenset()
        self._parts: dict[tuple[Decision, str, bool, bool], Floats] = {}
        self._scores: dict[tuple[bool, bool], Floats] = {}
        self._lacking: dict[str, Flags] = {}

    def with_more(self, pool: Sequence[Candidate]) -> "FrameworkWorlds":
        """These frameworks and more; what parts score is taken over."""
        wider = FrameworkWorlds(self.world, (*self.pool, *pool), self.figures)
        wider.fields, wider._parts = self.fields, self._parts
        return wider

    def change(self, decision: Decision, option: str) -> Floats:
        """What a part scores in each world of unrecorded facts beside what it scores now; ``-inf`` where it is
        blocked."""
        return self._change(decision, option, False, True)

    def scores(self, moved: bool = False, facts: bool = True) -> Floats:
        """``(frameworks, worlds)``; ``-inf`` where a part is blocked that is not blocked now."""
        if (moved, facts) not in self._scores:
            self._scores[moved, facts] = self._priced(moved, facts)
        return self._scores[moved, facts]

    def _priced(self, moved: bool, facts: bool) -> Floats:
        """Each framework's score as recorded, and what its parts, by their shares, score more or less in a world."""
        places: dict[tuple[Decision, str], int] = {}
        rows = [self.shares(each) for each in self.pool]
        for row in rows:
            for part in row:
                places.setdefault(part, len(places))
        shares = np.zeros((len(self.pool), len(places)))
        for line, row in zip(shares, rows, strict=True):
            for part, share in row.items():
                line[places[part]] = share
        changes = np.array([self._change(decision, option, moved, facts) for decision, option in places])
        blocked = np.isneginf(changes)
        scores = np.array([each.score for each in self.pool])[:, None] + shares @ np.where(
            blocked, 0.0, changes
        )
        scores[(shares > 0).astype(np.float64) @ blocked > 0] = -np.inf
        return scores

    def shares(self, each: Candidate) -> dict[tuple[Decision, str], float]:
        """The parts of a framework, with the share of its score that each has."""
        weights, considered = self.figures.weights, set(self.world.analysis.facts.considered)
        found = {
            (Decision("retainer", tooth), option): weights.retainer / max(1, len(considered))
            for tooth, option in each.retainers.items()
            if tooth in considered
        }
        for tooth, option in each.replacements.items():
            found[Decision("replacement", tooth), option] = weights.replacement / max(
                1, len(each.replacements)
            )
        found[Decision("connector"), each.connector] = weights.connector
        return found

    def _change(self, decision: Decision, option: str, moved: bool, facts: bool) -> Floats:
        """What a part scores in each world beside what it scores now."""
        key = (decision, option, moved, facts)
        if key not in self._parts:
            status, scores, fields = self.world.option(decision, option, moved, facts)
            self.fields |= fields
            now = self.world.analysis.examine(decision)
            floor = STATUS_ORDER.index(now.chosen[option].status)
            price = self.figures.after_preparation
            was = now.scores()[option] - (price if floor == _PREPARED else 0.0)
            change = scores - np.where(status == _PREPARED, price, 0.0) - was
            blocked = status > max(_PREPARED, floor)
            if facts and (blocked & (status == _ADVISED)).any():
                blocked &= ~((status == _ADVISED) & self._makes_do(decision))
            self._parts[key] = np.where(blocked, -np.inf, change)
        return self._parts[key]

    def _makes_do(self, decision: Decision) -> Flags:
        """Where a decision has nothing better than what is advised against: for a retainer, nothing that holds on any
        tooth of its side, or nothing to bear by at the end of a space."""
        if decision.kind != "retainer":
            found: Flags = self.world.ranked(decision).status.min(axis=0) == _ADVISED
            return found
        side = side_of(decision.tooth)
        if side not in self._lacking:
            lacking = np.ones(self.world.worlds.count, dtype=bool)
            for tooth in self.world.analysis.facts.considered:
                if side_of(tooth) == side:
                    lacking &= self.world.best_with(Decision("retainer", tooth), "retentive") >= _ADVISED
            self._lacking[side] = lacking
        if any(decision.tooth in space.borders for space in self.world.analysis.facts.spaces):
            unrested: Flags = self.world.best_with(decision, "rest") >= _ADVISED
            return self._lacking[side] | unrested
        return self._lacking[side]
