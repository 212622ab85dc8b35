"""Like situations with different choices in a large library, without comparing every pair.

Each situation is compared with those beside it in several orders of the rows (the multi-pass sorted neighbourhood
method: Hernández and Stolfo 1995, The merge/purge problem for large databases). The time grows with the rows. It may
pass over a pair that stands apart in every order; ``benchmarks/growth.py`` prints how many of all pairs it finds.
"""

import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from recommender.curation.conflicts import Conflict, Figures, conflict_of, figures
from recommender.precedents.library import PrecedentLibrary
from recommender.precedents.model import Neighbour
from recommender.precedents.search.columns import ARCH_FLAG, MAXILLA, PRESENT
from recommender.precedents.search.segments import Part, Shelf, rank_of
from recommender.precedents.search.tables import GAP, ONE, FeatureSet

# They change how many pairs are found and the time taken (common practice, no source).
PASSES, BESIDE = 6, 24

_PAUSE = 0.2  # seconds between two words on how far it is

Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Conflicts:
    """``number`` of all that were found; the most alike of them in full."""

    number: int
    first: tuple[Conflict, ...]


@dataclass(frozen=True, slots=True)
class _Rows:
    """Rows of one part (of one arch, where only such are compared): codes, choices, cases, whether of the upper arch;
    ``at``: their rows in the part."""

    part: Part
    at: Ints
    codes: npt.NDArray[np.uint8]
    choices: Ints
    cases: Ints
    upper: npt.NDArray[np.bool_]


def stored_conflicts(
    library: PrecedentLibrary,
    most: int,
    decision: str | None = None,
    known: Figures | None = None,
    told: Callable[[int, int], None] = lambda _done, _of: None,
    *,
    every_pair: bool = False,
    jobs: int = 1,
) -> Conflicts:
    """The conflicts of a library that stands, the ``most`` most alike in full. ``told`` hears how many of how many rows
    were compared; ``every_pair`` compares each with each (for measuring); ``jobs`` threads share the work."""
    given = known or figures()
    kinds = [kind for kind in sorted(library.shelves) if decision in (None, kind)]
    groups = [(kind, rows) for kind in kinds for rows in _rows_of(library.shelves[kind])]
    of = sum(len(rows.at) for _, rows in groups)
    turns = [1 if every_pair else PASSES for _ in groups]
    steps, stopped = [0.0] * len(groups), threading.Event()

    def search(number: int) -> tuple[npt.NDArray[np.float64], Ints, Ints]:
        kind, rows = groups[number]

        def step() -> None:
            if stopped.is_set():
                raise InterruptedError
            steps[number] += len(rows.at) / turns[number]

        return _pairs(library.shelves[kind], rows, given, step, every_pair=every_pair)

    found: list[tuple[float, str, str, int, Part, int, int]] = []
    number = 0
    # nearly all of the work is done outside the interpreter's lock
    with ThreadPoolExecutor(jobs) as pool:
        try:
            asked = [pool.submit(search, place) for place in range(len(groups))]
            while wait(asked, timeout=_PAUSE).not_done:
                told(int(sum(steps)), of)
        finally:
            stopped.set()
        for (kind, rows), one_search in zip(groups, asked, strict=True):
            alike, one, other = one_search.result()
            number += len(alike)
            for place in np.argsort(-alike, kind="stable")[: 2 * most].tolist():
                first, second = int(rows.at[one[place]]), int(rows.at[other[place]])
                case = rows.part.columns.case_ids[first].decode()
                found.append((-float(alike[place]), kind, case, first, rows.part, first, second))
    told(of, of)
    found.sort(key=lambda line: line[:4])
    full = (_in_full(library, part, one, other, given) for *_, part, one, other in found)
    kept = [conflict for conflict in full if conflict is not None][:most]
    kept.sort(key=lambda one: (-one.alike, one.first.kind, one.first.case_id, one.first.site))
    return Conflicts(number, tuple(kept))


def _rows_of(shelf: Shelf) -> Iterator[_Rows]:
    apart = [PRESENT | flag for flag in ARCH_FLAG.values()] if "arch" in shelf.features.same else [PRESENT]
    for part, need in ((part, need) for part in shelf.parts for need in apart):
        at = np.flatnonzero((part.columns.flags & need) == need)
        if len(at) < 2:
            continue
        choices = getattr(part.rows, "choices", None)
        if choices is None:
            words: dict[str | None, int] = {None: -1}
            choices = np.array(
                [words.setdefault(part.rows[row].choice, len(words)) for row in range(len(part.columns))]
            )
        cases = np.unique(part.columns.case_ids[at], return_inverse=True)[1]
        upper = (part.columns.flags[at] & MAXILLA) > 0
        yield _Rows(
            part, at, part.columns.codes[at], choices[at].astype(np.int64), cases.astype(np.int64), upper
        )


def _pairs(
    shelf: Shelf, rows: _Rows, given: Figures, told: Callable[[], None], *, every_pair: bool
) -> tuple[npt.NDArray[np.float64], Ints, Ints]:
    """Likeness and places of every conflict that is found among these rows, each pair once."""
    # what counts, and how much, goes by the arch of the first of the two
    arches = ((True, "maxilla"), (False, "mandible"))
    measures = [(upper, _Measure(shelf.features, arch, given)) for upper, arch in arches]
    one_way = all(
        np.array_equal(item.feature.table, item.feature.table.T) for item in shelf.features.weighted
    )
    size, columns = len(rows.at), np.ascontiguousarray(rows.codes.T)
    seen: list[npt.NDArray[np.float64]] = []
    keys: list[Ints] = []
    for order in [np.arange(size)] if every_pair else _orders(shelf, rows):
        told()
        for step in range(1, size if every_pair else min(BESIDE + 1, size)):
            one, other = order[:-step], order[step:]
            good = (rows.choices[one] != rows.choices[other]) & (rows.cases[one] != rows.cases[other])
            good &= (rows.choices[one] >= 0) & (rows.choices[other] >= 0)
            one, other = one[good], other[good]
            # either may be the one that asks: some differences are told one way only, and arches weigh otherwise
            both_ways = [(one, other), (other, one)]
            if one_way and (rows.upper[one] == rows.upper[other]).all():
                both_ways = both_ways[:1]
            for asks, asked in both_ways:
                for upper, measure in measures:
                    of_arch = rows.upper[asks] == upper
                    if not of_arch.any():
                        continue
                    here, there = asks[of_arch], asked[of_arch]
                    alike = measure(columns, here, there)
                    enough = alike >= given.alike
                    here, there = here[enough], there[enough]
                    seen.append(alike[enough])
                    keys.append(np.minimum(here, there).astype(np.int64) * size + np.maximum(here, there))
    alike, pair = np.concatenate(seen), np.concatenate(keys)
    order = np.lexsort((-alike, pair))
    key, place = np.unique(pair[order], return_index=True)
    return alike[order][place], key // size, key % size


def _orders(shelf: Shelf, rows: _Rows) -> Iterator[Ints]:
    """The rows sorted by the features that separate most, each time beginning with others."""
    rank = rank_of(shelf.features, shelf.counts)
    step = max(1, len(rank) // PASSES)
    for turn in range(PASSES):
        turned = rank[turn * step :] + rank[: turn * step]
        yield np.lexsort([rows.codes[:, feature] for feature in reversed(turned)])


class _Measure:
    """Likeness over what both recorded, of many pairs at once; -1 where that carries too little of the weight."""

    def __init__(self, features: FeatureSet, arch: str, given: Figures) -> None:
        self.given = given
        weights = features.whole_weights(arch)
        self.total = float(weights.sum())
        self.lines = [
            (place, float(weight), (float(weight) * _padded(item.feature.table)).ravel())
            for place, (item, weight) in enumerate(zip(features.weighted, weights.tolist(), strict=True))
            if weight
        ]
        # heavy features first: most pairs are told apart by a few
        self.lines.sort(key=lambda line: -line[1])

    def __call__(self, columns: npt.NDArray[np.uint8], one: Ints, other: Ints) -> npt.NDArray[np.float64]:
        """Of the rows at these places; ``columns`` are their codes, a feature a line."""
        alike = np.full(len(one), -1.0)
        at = np.arange(len(one))
        apart = np.zeros(len(one))
        most = (1 - self.given.alike) * self.total
        for number, (place, _, table) in enumerate(self.lines):
            codes = columns[place]
            apart += table.take((codes.take(one[at]).astype(np.int32) << 8) + codes.take(other[at]))
            if number % 3 == 2:
                near = apart <= most
                at, apart = at[near], apart[near]
        both = np.zeros(len(at))
        for place, weight, _ in self.lines:
            codes = columns[place]
            both += weight * ((codes.take(one[at]) != GAP) & (codes.take(other[at]) != GAP))
        good = (both >= self.given.recorded * self.total) & (both > 0)
        alike[at[good]] = 1 - apart[good] / both[good]
        return alike


def _padded(table: npt.NDArray[np.int64]) -> npt.NDArray[np.float64]:
    """Differences (0-1) of every two codes; what was not recorded differs from nothing."""
    whole = np.zeros((256, 256))
    whole[: len(table), : len(table)] = table / ONE
    whole[GAP] = whole[:, GAP] = 0.0
    return whole


def _in_full(library: PrecedentLibrary, part: Part, one: int, other: int, given: Figures) -> Conflict | None:
    found = []
    for here, there in ((part.rows[one], part.rows[other]), (part.rows[other], part.rows[one])):
        account = library.account(here, Neighbour(there, 0.0, ()))
        found.append(conflict_of(here, Neighbour(there, 0.0, account), given))
    return max((each for each in found if each is not None), key=lambda each: each.alike, default=None)
