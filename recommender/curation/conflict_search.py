"""Like situations with different choices in a large library, without comparing every pair.

Each situation is compared with those beside it in several orders of the rows (the multi-pass sorted neighbourhood
method: Hernández and Stolfo 1995, The merge/purge problem for large databases). The time grows with the rows. It may
pass over a pair that stands apart in every order; ``benchmarks/growth.py`` prints how many of all pairs it finds.
"""

from collections.abc import Callable, Iterator
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
) -> Conflicts:
    """The conflicts of a library that stands, the ``most`` most alike in full. ``told`` hears how many of how many rows
    were compared; ``every_pair`` compares each with each (for measuring)."""
    given = known or figures()
    kinds = [kind for kind in sorted(library.shelves) if decision in (None, kind)]
    found: list[tuple[float, str, str, int, Part, int, int]] = []
    done, of = 0, sum(len(library.shelves[kind]) for kind in kinds)
    number = 0
    for kind in kinds:
        shelf = library.shelves[kind]
        for rows in _rows_of(shelf):
            alike, one, other = _pairs(shelf, rows, given, every_pair=every_pair)
            number += len(alike)
            for place in np.argsort(-alike, kind="stable")[: 2 * most].tolist():
                first, second = int(rows.at[one[place]]), int(rows.at[other[place]])
                case = rows.part.columns.case_ids[first].decode()
                found.append((-float(alike[place]), kind, case, first, rows.part, first, second))
            done += len(rows.at)
            told(done, of)
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
        yield _Rows(part, at, part.columns.codes[at], choices[at].astype(np.int64), cases.astype(np.int64), upper)


def _pairs(
    shelf: Shelf, rows: _Rows, given: Figures, *, every_pair: bool
) -> tuple[npt.NDArray[np.float64], Ints, Ints]:
    """Likeness and places of every conflict that is found among these rows, each pair once."""
    # what counts, and how much, goes by the arch of the first of the two
    arches = ((True, "maxilla"), (False, "mandible"))
    measures = [(upper, _Measure(shelf.features, arch, given)) for upper, arch in arches]
    size = len(rows.at)
    seen: list[npt.NDArray[np.float64]] = []
    keys: list[Ints] = []
    for order in [np.arange(size)] if every_pair else _orders(shelf, rows):
        for step in range(1, size if every_pair else min(BESIDE + 1, size)):
            one, other = order[:-step], order[step:]
            good = (rows.choices[one] != rows.choices[other]) & (rows.cases[one] != rows.cases[other])
            good &= (rows.choices[one] >= 0) & (rows.choices[other] >= 0)
            one, other = one[good], other[good]
            # either may be the one that asks: some differences are told one way only
            for asks, asked in ((one, other), (other, one)):
                for upper, measure in measures:
                    of_arch = rows.upper[asks] == upper
                    here, there = asks[of_arch], asked[of_arch]
                    alike = measure(rows.codes[here], rows.codes[there])
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
            (place, float(weight), _padded(item.feature.table))
            for place, (item, weight) in enumerate(zip(features.weighted, weights.tolist(), strict=True))
            if weight
        ]
        # heavy features first: most pairs are told apart by a few
        self.lines.sort(key=lambda line: -line[1])

    def __call__(
        self, one: npt.NDArray[np.uint8], other: npt.NDArray[np.uint8]
    ) -> npt.NDArray[np.float64]:
        alike = np.full(len(one), -1.0)
        at = np.arange(len(one))
        both, apart = np.zeros(len(one)), np.zeros(len(one))
        most = (1 - self.given.alike) * self.total
        for number, (place, weight, table) in enumerate(self.lines):
            here, there = one[at, place], other[at, place]
            known = (here != GAP) & (there != GAP)
            both[at] += weight * known
            apart[at] += weight * np.where(known, table[here, there], 0.0)
            if number % 4 == 3:
                at = at[apart[at] <= most]
        good = at[both[at] >= self.given.recorded * self.total]
        good = good[both[good] > 0]
        alike[good] = 1 - apart[good] / both[good]
        return alike


def _padded(table: npt.NDArray[np.int64]) -> npt.NDArray[np.float64]:
    whole = np.zeros((256, 256))
    whole[: len(table), : len(table)] = table / ONE
    return whole


def _in_full(library: PrecedentLibrary, part: Part, one: int, other: int, given: Figures) -> Conflict | None:
    found = []
    for here, there in ((part.rows[one], part.rows[other]), (part.rows[other], part.rows[one])):
        account = library.account(here, Neighbour(there, 0.0, ()))
        found.append(conflict_of(here, Neighbour(there, 0.0, account), given))
    return max((each for each in found if each is not None), key=lambda each: each.alike, default=None)
