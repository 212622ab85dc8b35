"""The rows of one kind of decision: a large sorted part, a small part of what came later, one search over
both."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np
import numpy.typing as npt

from recommender.precedents.model import Situation
from recommender.precedents.search import scan
from recommender.precedents.search import trie as index
from recommender.precedents.search.columns import PRESENT, Columns, Restriction, columns_of, in_tie_order
from recommender.precedents.search.encode import ChargedTables, Query, count_codes
from recommender.precedents.search.tables import ONE, FeatureSet, Words

# Below so many rows the flat scan is as quick as the trie.
TRIE_FROM = 10_000
# The part of later rows is merged into the main one when it passes this many rows and this share of it.
TAIL_ROWS, TAIL_SHARE = 2_000, 0.05
_SAMPLE = 1024


class RowSource(Protocol):
    """Gives row ``n`` as a situation. One that keeps its rows in columns may offer ``choice_worths``,
    ``fared`` and ``joined`` (see ``rows.StoredRows``)."""

    def __getitem__(self, row: int, /) -> Situation: ...


@dataclass(frozen=True, slots=True)
class Part:
    """Rows in tie order with, for a large part, their trie."""

    columns: Columns
    rows: RowSource
    trie: index.Trie | None = None

    def nearest(self, query: Query, k: int, restriction: Restriction) -> tuple[npt.NDArray[np.int64], Words]:
        """The ``k`` admitted rows of least cost, ties by row number."""
        if self.trie is None:
            return scan.nearest(self.columns, query, k, restriction)
        return index.Search(self.trie, self.columns, query, restriction).nearest(k)

    def fared(self, row: int) -> tuple[str | None, float]:
        """What the row chose and its worth, without making a situation of it where rows lie in columns."""
        quick = getattr(self.rows, "fared", None)
        if quick is not None:
            found: tuple[str | None, float] = quick(row)
            return found
        there = self.rows[row]
        return there.choice, there.worth

    def worths(self, among: npt.NDArray[np.bool_]) -> Iterable[tuple[str, float, float]]:
        """Each choice among these rows with its least and greatest worth (a choice may come more than
        once)."""
        quick = getattr(self.rows, "choice_worths", None)
        if quick is not None:
            found: Iterable[tuple[str, float, float]] = quick(among)
            return found
        rows = (self.rows[row] for row in np.flatnonzero(among).tolist())
        return ((s.choice, s.worth, s.worth) for s in rows if s.choice is not None)


@dataclass(frozen=True, slots=True)
class RowFilter:
    """Which rows may be found: what each must be and what it must not; by case id, so that it serves every part."""

    need: int
    without: tuple[str, ...] = ()
    prints: tuple[tuple[int, int], ...] = ()
    above: int = -1

    def on(self, columns: Columns) -> Restriction:
        """The same for the rows of one part."""
        ranges = [columns.rows_of(case) for case in self.without]
        return Restriction(self.need, tuple(r for r in ranges if r[0] < r[1]), self.prints, self.above)


@dataclass(frozen=True, slots=True)
class Found:
    """A row that a search found: which part, which row, what it costs."""

    part: Part
    row: int
    cost: int

    @property
    def situation(self) -> Situation:
        """The row as a situation."""
        return self.part.rows[self.row]


def rank_of(features: FeatureSet, counts: npt.NDArray[np.int64]) -> list[int]:
    """Features by how far they separate: weight times recorded share times expected difference, most
    first."""
    shares = []
    for weighted, count in zip(features.weighted, counts, strict=True):
        table = weighted.feature.table / ONE
        recorded = count[: len(table)].astype(float)
        total = max(float(recorded.sum()), 1.0)
        spread = float(recorded @ table @ recorded) / total**2
        shares.append(weighted.weight * spread * float(recorded.sum()) / max(float(count.sum()), 1.0))
    return sorted(range(len(shares)), key=lambda f: (-shares[f], f))


@dataclass(frozen=True, slots=True)
class Shelf:
    """Rows of one kind. ``counts[f, code]`` counts the codes of the rows that are present."""

    features: FeatureSet
    parts: tuple[Part, ...]
    counts: npt.NDArray[np.int64]
    tables: ChargedTables
    worths: dict[int, dict[str, tuple[float, float]]] = field(default_factory=dict)

    @classmethod
    def of(cls, features: FeatureSet, situations: Iterable[Situation]) -> "Shelf":
        """A shelf of situations in any order."""
        ordered = in_tie_order(list(situations))
        return cls.from_columns(features, columns_of(features, ordered), ordered)

    @classmethod
    def from_columns(
        cls, features: FeatureSet, columns: Columns, rows: RowSource, trie: index.Trie | None = None
    ) -> "Shelf":
        """A shelf of rows that are encoded already; a trie is built where it pays and none is given."""
        counts = count_codes(columns.codes)
        if trie is None and len(columns) >= TRIE_FROM:
            trie = index.build(columns, rank_of(features, counts))
        return cls(features, (Part(columns, rows, trie),), counts, ChargedTables.of(features, counts))

    @classmethod
    def of_parts(
        cls, features: FeatureSet, parts: tuple[Part, ...], counts: npt.NDArray[np.int64]
    ) -> "Shelf":
        """A shelf as it was saved: its parts, and the counts of the codes of the rows that are present."""
        return cls(features, parts, counts, ChargedTables.of(features, counts))

    def __len__(self) -> int:
        return int(self.counts[0].sum())

    def nearest(self, query: Query, k: int, wanted: RowFilter) -> list[Found]:
        """The ``k`` rows of least cost, ties by case id, then site."""
        found = []
        for part in self.parts:
            rows, costs = part.nearest(query, k, wanted.on(part.columns))
            found += [Found(part, row, cost) for row, cost in zip(rows.tolist(), costs.tolist(), strict=True)]
        return self._in_order(found)[: max(k, 0)]

    @property
    def indexed(self) -> bool:
        """Whether the main part is large enough to have a trie."""
        return self.parts[0].trie is not None

    def surely_more(self, query: Query, limit: int, wanted: RowFilter, most: int) -> bool:
        """Whether a sample of a large part alone shows more than ``most`` rows within the limit (cheaply; ``False``
        proves nothing)."""
        columns = self.parts[0].columns
        rows = np.arange(0, len(columns), max(1, len(columns) // _SAMPLE))
        costs = scan.row_costs(columns.codes[rows], query)
        return int(((costs <= limit) & columns.admits(rows, costs, wanted.on(columns))).sum()) > most

    def _in_order(self, found: list[Found]) -> list[Found]:
        if len(self.parts) == 1:
            return found

        def key(item: Found) -> tuple[int, bytes, int]:
            columns = item.part.columns
            return item.cost, bytes(columns.case_ids[item.row]), int(columns.sites[item.row])

        return sorted(found, key=key)

    def changed(self, without: frozenset[str], added: Sequence[Situation]) -> "Shelf":
        """This shelf without all rows of some cases, and with some new rows, which are searched flat until
        enough of them have come to rebuild the whole."""
        main, later = self.parts[0], self.parts[1:]
        columns = main.columns
        gone = [columns.rows_of(case) for case in sorted(without)]
        gone = [(low, high) for low, high in gone if low < high]
        counts = self.counts.copy()
        if gone:
            flags = np.array(columns.flags)
            for low, high in gone:
                there = np.flatnonzero(flags[low:high] & PRESENT) + low
                counts -= count_codes(columns.codes[there])
                flags[there] = 0
            columns = replace(columns, flags=flags)
        tail = [part.rows[row] for part in later for row in range(len(part.columns))]
        kept = in_tie_order([*(s for s in tail if s.case_id not in without), *added])
        if len(kept) > max(TAIL_ROWS, TAIL_SHARE * len(columns)):
            present = np.flatnonzero(columns.flags & PRESENT)
            join = getattr(main.rows, "joined", None)
            if join is not None:
                rows = join(present, kept)
                return Shelf.from_columns(self.features, rows.columns, rows)
            return Shelf.of(self.features, [*(main.rows[row] for row in present.tolist()), *kept])
        for part in later:
            counts -= count_codes(part.columns.codes)
        parts = [Part(columns, main.rows, main.trie)]
        if kept:
            parts.append(Part(columns_of(self.features, kept), kept))
            counts += count_codes(parts[1].columns.codes)
        return Shelf(self.features, tuple(parts), counts, ChargedTables.of(self.features, counts))
