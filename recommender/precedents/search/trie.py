"""The sorted code trie: exact nearest rows without reading most of them.

The features that separate most are merged into a few groups of combinations that occur; rows are sorted by
the groups, and the runs of equal combinations form a trie held in flat arrays. Nothing here depends on the
weights: a query brings its table of costs, each group becomes a table of sums, and the least that a run can
cost is its cost so far plus the least of every group still to come. A greedy descent finds ``k`` rows and
with them a limit; then only runs that can stay within the limit are opened, cheapest first, and the limit
tightens as rows are measured. Whole numbers throughout, so that the answer equals the flat scan's, ties
included.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from recommender.precedents.search.blocks import Merged, merge, merge_all, sums, survivors
from recommender.precedents.search.columns import Columns, Restriction, Rows
from recommender.precedents.search.encode import Query
from recommender.precedents.search.scan import least
from recommender.precedents.search.tables import CODES, Codes, Words

GROUPS = 6
COMBINATIONS = 512
NO_LIMIT = 0xFFFFFFFF
# How many runs the first descent follows, how many runs make a crowd that is worth a second, wider descent,
# and
# how many that one follows at most. They change the time taken and never the answer.
_BEAM, _CROWD, _WIDE = 64, 4096, 4096
_FIRST_ROWS = 1024
# Of how many rows of its own, and how far to each side of them, a case that is left out looks first.
_OWN, _BESIDE = 8, 12
_SCAN_SHARE = 16

Ints = npt.NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Level:
    """Runs that are equal in the groups so far: ``keys`` of this level's group, where each run's children
    start in the next level (one more entry than runs; rows after the last level), and the flags found in
    the run."""

    keys: npt.NDArray[np.uint16]
    starts: Ints
    flags: npt.NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Trie:
    """``groups``: feature numbers of each level. ``combinations[g]``: the codes of each combination, ``(m,
    features of g)``. ``rest``: features in no group; ``rest_codes`` their codes in sorted order.
    ``order[i]`` is the row at sorted place ``i``; ``present[f, code]`` whether a code occurs. ``merged``:
    all features of the rows in sorted order, for the flat scan."""

    groups: tuple[tuple[int, ...], ...]
    combinations: tuple[Codes, ...]
    levels: tuple[Level, ...]
    order: Ints
    rest: tuple[int, ...]
    rest_codes: Codes
    present: npt.NDArray[np.bool_]
    merged: Merged
    _places: list[Ints] = field(default_factory=list, compare=False, repr=False)

    def __len__(self) -> int:
        return len(self.order)

    def places(self) -> Ints:
        """The sorted place of each row; worked out when it is first asked for."""
        if not self._places:
            found = np.empty(len(self.order), dtype=np.int32)
            found[self.order] = np.arange(len(self.order), dtype=np.int32)
            self._places.append(found)
        return self._places[0]


def build(columns: Columns, rank: Sequence[int]) -> Trie:
    """The trie of these rows; ``rank`` lists the features, most separating first (any order gives exact
    answers)."""
    codes = columns.codes
    count = len(codes)
    head = merge(codes, list(rank), COMBINATIONS, GROUPS)
    keys = head.keys
    order = np.lexsort(keys[::-1])
    flags = columns.flags[order]
    bounds: list[npt.NDArray[np.int64]] = []
    new = np.zeros(count, dtype=np.bool_)
    new[:1] = True
    for key in keys:
        sorted_key = key[order]
        new[1:] |= sorted_key[1:] != sorted_key[:-1]
        bounds.append(np.flatnonzero(new))
    bounds.append(np.arange(count))
    levels = []
    for depth, key in enumerate(keys):
        begin = bounds[depth]
        starts = np.searchsorted(bounds[depth + 1], np.append(begin, count)).astype(np.int32)
        held = np.bitwise_or.reduceat(flags, begin) if count else flags
        levels.append(Level(key[order[begin]], starts, held))
    rest = [feature for feature in rank if not any(feature in group for group in head.groups)]
    present = np.array([np.bincount(column, minlength=CODES) > 0 for column in codes.T]).reshape(-1, CODES)
    in_order = codes[order]
    return Trie(
        head.groups,
        head.combinations,
        tuple(levels),
        order.astype(np.int32),
        tuple(rest),
        np.ascontiguousarray(in_order[:, rest]),
        present,
        merge_all(in_order, list(rank)),
    )


class Search:
    """One query against one trie. ``examined`` counts the runs and rows that were opened."""

    def __init__(self, trie: Trie, columns: Columns, query: Query, restriction: Restriction) -> None:
        self.trie, self.columns, self.restriction = trie, columns, restriction
        costs = self._costs = query.costs
        self._sums = [sums(costs, *group) for group in zip(trie.groups, trie.combinations, strict=True)]
        rest = list(trie.rest)
        self._used = np.flatnonzero(costs[rest].any(axis=1)) if rest else np.zeros(0, dtype=np.int64)
        used = np.array(rest, dtype=np.int64)[self._used]
        self._offsets = (used * CODES).astype(np.int32)
        self._flat = costs.ravel()
        cheapest = (
            np.where(trie.present[used], costs[used], NO_LIMIT).min(axis=1) if len(used) else np.zeros(0)
        )
        # to come after level g: the least of the later groups, and of the features in none
        self._after = [int(cheapest.sum())]
        for table in reversed(self._sums[1:]):
            self._after.insert(0, self._after[0] + int(table.min()))
        self.examined = 0

    def nearest(self, k: int) -> tuple[Rows, Words]:
        """The ``k`` admitted rows of least cost, ties by row number, with their costs."""
        self._best = (np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.uint32))
        self._k = k
        if k <= 0 or not len(self.trie):
            return self._best
        self._beside()
        nodes, costs = self._root()
        if self._limit() == NO_LIMIT:
            self._greedy(0, nodes, costs, _BEAM)
        nodes, costs = self._within_room(0, nodes, costs)
        for depth in range(len(self.trie.levels) - 1):
            nodes, costs = self._next(depth, nodes, costs, self._limit())
            if len(nodes) * _SCAN_SHARE > len(self.trie):
                return self._scan()
            if len(nodes) > _CROWD:
                self._greedy(depth + 1, nodes, costs, min(len(nodes) // 8, _WIDE))
                nodes, costs = self._within_room(depth + 1, nodes, costs)
        self._measure_all(nodes, costs)
        return self._best

    def _beside(self) -> None:
        """A first limit for a case that is here itself and left out: in sorted order its rows lie among their like."""
        own = [row for low, high in self.restriction.without for row in range(low, high)][:_OWN]
        if own:
            count = len(self.trie)
            places = {
                near
                for place in self.trie.places().take(own).tolist()
                for near in range(max(place - _BESIDE, 0), min(place + _BESIDE + 1, count))
            }
            rows = self.trie.order.take(list(places)).astype(np.int64)
            self._keep(rows, self._measured(rows))

    def _measured(self, rows: Rows) -> Words:
        """What these rows cost, every feature counted."""
        offsets = np.arange(self.columns.codes.shape[1], dtype=np.int32) * CODES
        codes = self.columns.codes.take(rows, axis=0)
        found: Words = self._flat.take(codes + offsets).sum(axis=1, dtype=np.uint32)
        return found

    def _scan(self) -> tuple[Rows, Words]:
        """The flat scan, with the limit that the descent has found so far."""
        for places, costs in survivors(self.trie.merged, self._costs, self._limit):
            rows = self.trie.order.take(places).astype(np.int64)
            self._keep(rows, self._measured(rows) if costs is None else costs)
        return self._best

    def within(self, limit: int) -> tuple[Rows, Words]:
        """Every admitted row that costs at most ``limit``, in order of cost and row."""
        if not len(self.trie):
            return np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.uint32)
        nodes, costs = self._descend(limit)
        rows, found = self._rows(nodes, costs, limit)
        order = np.lexsort((rows, found))
        return rows[order], found[order]

    def _descend(self, limit: int) -> tuple[npt.NDArray[np.int64], Words]:
        """Runs of the last level that can stay within the limit."""
        nodes, costs = self._root()
        for depth in range(len(self.trie.levels) - 1):
            nodes, costs = self._next(depth, nodes, costs, limit)
        return nodes, costs

    def _limit(self) -> int:
        costs = self._best[1]
        return int(costs[-1]) if len(costs) >= self._k else NO_LIMIT

    def _root(self) -> tuple[npt.NDArray[np.int64], Words]:
        level = self.trie.levels[0]
        nodes = np.flatnonzero(self._holds(level.flags))
        return nodes, self._sums[0][level.keys[nodes]]

    def _holds(self, flags: npt.NDArray[np.uint8]) -> npt.NDArray[np.bool_]:
        need = np.uint8(self.restriction.need)
        held: npt.NDArray[np.bool_] = (flags & need) == need
        return held

    def _open(
        self, depth: int, nodes: npt.NDArray[np.int64], costs: Words
    ) -> tuple[npt.NDArray[np.int64], Words]:
        """Children (places in the next level, or sorted places of rows), each with its parent's cost."""
        starts = self.trie.levels[depth].starts
        first = starts.take(nodes)
        count = starts.take(nodes + 1) - first
        ends = count.cumsum()
        total = int(ends[-1]) if len(ends) else 0
        self.examined += total
        children = (first - ends + count).repeat(count)
        children += np.arange(total)
        return children, costs.repeat(count)

    def _next(
        self, depth: int, nodes: npt.NDArray[np.int64], costs: Words, limit: int
    ) -> tuple[npt.NDArray[np.int64], Words]:
        """Runs of the next level below these that can stay within the limit."""
        children, so_far = self._open(depth, nodes, costs)
        level = self.trie.levels[depth + 1]
        so_far += self._sums[depth + 1].take(level.keys.take(children))
        room = limit - self._after[depth + 1]
        if room < 0:
            return children[:0], so_far[:0]
        if limit < NO_LIMIT:
            keep = (so_far <= room).nonzero()[0]
            children, so_far = children.take(keep), so_far.take(keep)
        good = self._holds(level.flags.take(children))
        return (children, so_far) if good.all() else (children[good], so_far[good])

    def _within_room(
        self, depth: int, nodes: npt.NDArray[np.int64], costs: Words
    ) -> tuple[npt.NDArray[np.int64], Words]:
        room = self._limit() - self._after[depth]
        keep = (costs <= room).nonzero()[0] if room >= 0 else np.zeros(0, dtype=np.int64)
        return nodes[keep], costs[keep]

    def _greedy(self, depth: int, nodes: npt.NDArray[np.int64], costs: Words, beam: int) -> None:
        """A tighter limit from the most promising runs, level by level, and their rows."""
        for deeper in range(depth, len(self.trie.levels)):
            if len(nodes) > beam:
                keep = np.argpartition(costs, beam)[:beam]
                nodes, costs = nodes[keep], costs[keep]
            if deeper + 1 < len(self.trie.levels):
                nodes, costs = self._next(deeper, nodes, costs, self._limit())
        self._take(nodes, costs, self._limit())

    def _measure_all(self, nodes: npt.NDArray[np.int64], costs: Words) -> None:
        """Measure the rows of these runs, cheapest runs first, in growing portions."""
        order = costs.argsort(kind="stable")
        nodes, costs = nodes[order], costs[order]
        starts = self.trie.levels[-1].starts
        ends = (starts[nodes + 1] - starts[nodes]).cumsum()
        at, portion = 0, _FIRST_ROWS
        while at < len(nodes):
            room = self._limit() - self._after[-1]
            stop = int(np.searchsorted(costs, room, "right")) if room >= 0 else 0
            done = int(ends[at - 1]) if at else 0
            upto = min(stop, int(np.searchsorted(ends, done + portion, "left")) + 1)
            if upto <= at:
                return
            self._take(nodes[at:upto], costs[at:upto], self._limit())
            at, portion = upto, portion * 4

    def _take(self, nodes: npt.NDArray[np.int64], costs: Words, limit: int) -> None:
        self._merge(*self._rows(nodes, costs, limit))

    def _keep(self, rows: Rows, costs: Words) -> None:
        """Take up those of the measured rows that are admitted and cost at most the limit."""
        near = (costs <= self._limit()).nonzero()[0]
        rows, costs = rows.take(near), costs.take(near)
        good = self.columns.admits(rows, costs, self.restriction)
        self._merge(rows[good], costs[good])

    def _merge(self, rows: Rows, costs: Words) -> None:
        rows = np.concatenate((self._best[0], rows))
        costs = np.concatenate((self._best[1], costs))
        # the rows of a greedy descent come round again: each row at most twice
        at = least(costs, rows, 2 * self._k)
        rows, costs = rows[at], costs[at]
        first = np.ones(len(rows), dtype=np.bool_)
        first[1:] = rows[1:] != rows[:-1]
        self._best = rows[first][: self._k], costs[first][: self._k]

    def _rows(self, nodes: npt.NDArray[np.int64], costs: Words, limit: int) -> tuple[Rows, Words]:
        """Admitted rows of these runs of the last level that cost at most the limit."""
        places, found = self._open(len(self.trie.levels) - 1, nodes, costs)
        if len(self._used):
            codes = self.trie.rest_codes.take(places, axis=0)
            if len(self._used) < codes.shape[1]:
                codes = codes[:, self._used]
            found += self._flat.take(codes + self._offsets).sum(axis=1, dtype=np.uint32)
        keep = (found <= limit).nonzero()[0]
        rows = self.trie.order.take(places.take(keep)).astype(np.int64)
        found = found.take(keep)
        good = self.columns.admits(rows, found, self.restriction)
        return rows[good], found[good]
