"""The library of precedents: nearest stored situations, exactly, with the account of every feature.

``PrecedentLibrary.build(situations)`` takes situations in any order; the answer does not depend on it.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from recommender.precedents import scan
from recommender.precedents.columns import (
    APPROVED,
    ARCH_FLAG,
    NO_OUTCOME,
    OUTCOME,
    PRESENT,
    Columns,
    Restriction,
    columns_of,
    in_tie_order,
    print_words,
)  # fmt: skip
from recommender.precedents.encode import ChargedTables, Query, count_codes, encode_one, query
from recommender.precedents.model import FeatureAccount, Neighbour, Situation, Verdict
from recommender.precedents.tables import GAP, ONE, FeatureSet, Likeness, load

__all__ = ["Candidate", "Candidates", "Filters", "PrecedentLibrary"]


@dataclass(frozen=True, slots=True)
class Filters:
    """Which stored situations may be precedents. The situation in hand itself (same case id, or same
    content) is always left out.

    ``outcome_known``: ``True`` only with a known outcome, ``False`` only without, ``None`` either.
    ``exclude_alike``: leave out near-duplicates, that is rows whose likeness over the features recorded in
    the case in hand reaches this (0-1).
    """

    approved_only: bool = True
    outcome_known: bool | None = None
    arch: str | None = None
    exclude_cases: frozenset[str] = frozenset()
    exclude_fingerprint: str = ""
    exclude_alike: float | None = None


@dataclass(frozen=True, slots=True)
class Candidate:
    """A stored situation that could be among the nearest once gaps are filled. ``ceiling`` is the most its
    likeness can become by recording what the case in hand has not recorded."""

    situation: Situation
    likeness: float
    ceiling: float


@dataclass(frozen=True, slots=True)
class Candidates:
    """What may enter the ``k`` nearest. ``complete`` is ``False`` when there were more than the cap; then
    ``worths`` (least and greatest worth of each choice over all admitted rows) is the bound to fall back
    on."""

    items: tuple[Candidate, ...]
    complete: bool
    worths: Mapping[str, tuple[float, float]]


@dataclass(slots=True)
class Shelf:
    """Rows of one kind with their tables."""

    features: FeatureSet
    columns: Columns
    tables: ChargedTables
    situation: Callable[[int], Situation]
    situations: Sequence[Situation]
    worths: dict[int, dict[str, tuple[float, float]]] = field(default_factory=dict)

    @classmethod
    def of(cls, features: FeatureSet, situations: Iterable[Situation]) -> "Shelf":
        ordered = in_tie_order(list(situations))
        columns = columns_of(features, ordered)
        tables = ChargedTables.of(features, count_codes(columns.codes))
        return cls(features, columns, tables, ordered.__getitem__, ordered)


class PrecedentLibrary:
    """Stored situations of every kind. Immutable once built."""

    def __init__(self, likeness: Likeness, shelves: Mapping[str, Shelf]) -> None:
        self.likeness = likeness
        self._shelves = dict(shelves)

    @classmethod
    def build(cls, situations: Iterable[Situation], likeness: Likeness | None = None) -> "PrecedentLibrary":
        """A library in memory. ``likeness`` defaults to the project's ``shared/similarity.yaml``."""
        known = likeness or load()
        by_kind: dict[str, list[Situation]] = {kind: [] for kind in known.kinds}
        for situation in situations:
            by_kind[situation.kind].append(situation)
        return cls(known, {kind: Shelf.of(known.kinds[kind], rows) for kind, rows in by_kind.items()})

    def count(self, kind: str) -> int:
        """How many situations of this kind are stored."""
        return len(self._shelves[kind].columns)

    def nearest(
        self,
        situation: Situation,
        k: int,
        weights: Mapping[str, float] | None = None,
        filters: Filters | None = None,
        account: bool = True,
    ) -> list[Neighbour]:
        """The ``k`` stored situations most like this one, ties by case id, then site.

        ``weights`` replaces feature weights for this call; ``account=False`` leaves the per-feature account
        out.
        """
        shelf = self._shelves[situation.kind]
        asked = self._query(shelf, situation, weights)
        rows, costs = scan.nearest(
            shelf.columns, asked, k, self._restriction(shelf, situation, asked, filters)
        )
        found = []
        for row, cost in zip(rows.tolist(), costs.tolist(), strict=True):
            there = shelf.situation(row)
            lines = (
                self._account(shelf, asked, situation, there, shelf.columns.codes[row].tolist())
                if account
                else ()
            )
            found.append(Neighbour(there, asked.likeness(cost), lines))
        return found

    def account(
        self, situation: Situation, neighbour: Neighbour, weights: Mapping[str, float] | None = None
    ) -> tuple[FeatureAccount, ...]:
        """Every feature of the comparison; ``sum(weight * (1 - difference))`` is the likeness."""
        shelf = self._shelves[situation.kind]
        there = encode_one(shelf.features, neighbour.situation.features).tolist()
        return self._account(
            shelf, self._query(shelf, situation, weights), situation, neighbour.situation, there
        )

    def unrecorded_share(self, situation: Situation, weights: Mapping[str, float] | None = None) -> float:
        """Share of the weight (0-1) that the situation has not recorded: the most that filling its gaps
        adds."""
        asked = self._query(self._shelves[situation.kind], situation, weights)
        return (asked.total - asked.recorded) / asked.total if asked.total else 0.0

    def candidates(
        self,
        situation: Situation,
        k: int,
        slack: float | None = None,
        weights: Mapping[str, float] | None = None,
        filters: Filters | None = None,
        cap: int = 500,
    ) -> Candidates:
        """All situations whose likeness is at least that of the ``k``-th nearest less ``slack``, best first.

        ``slack`` defaults to the unrecorded share, so that whatever the missing values turn out to be, the
        true ``k`` nearest are among these.
        """
        shelf = self._shelves[situation.kind]
        asked = self._query(shelf, situation, weights)
        restriction = self._restriction(shelf, situation, asked, filters)
        _, costs = scan.nearest(shelf.columns, asked, k, restriction)
        open_share = asked.total - asked.recorded
        room = open_share * ONE if slack is None else int(np.ceil(slack * asked.total * ONE))
        full = len(costs) >= k > 0
        limit = min(int(costs[-1]) + room, 0xFFFFFFFF) if full else 0xFFFFFFFF
        rows, found = scan.within(shelf.columns, asked, limit, restriction)
        gain = self._most_gain(shelf, asked)
        items = []
        for row, cost in zip(rows[:cap].tolist(), found[:cap].tolist(), strict=True):
            more = int(gain[np.arange(len(gain)), shelf.columns.codes[row]].sum())
            ceiling = asked.likeness(cost - more)
            items.append(Candidate(shelf.situation(row), asked.likeness(cost), ceiling))
        return Candidates(tuple(items), len(rows) <= cap, self._worths(shelf, restriction.need))

    @staticmethod
    def _query(shelf: Shelf, situation: Situation, weights: Mapping[str, float] | None) -> Query:
        whole = shelf.features.whole_weights(situation.arch, weights)
        return query(shelf.tables, encode_one(shelf.features, situation.features), whole)

    @staticmethod
    def _restriction(
        shelf: Shelf, situation: Situation, asked: Query, filters: Filters | None
    ) -> Restriction:
        wanted = filters or Filters()
        need = PRESENT
        if wanted.approved_only:
            need |= APPROVED
        if wanted.outcome_known is not None:
            need |= OUTCOME if wanted.outcome_known else NO_OUTCOME
        if wanted.arch:
            need |= ARCH_FLAG[wanted.arch]
        if "arch" in shelf.features.same:
            need |= ARCH_FLAG[situation.arch]
        ranges = [shelf.columns.rows_of(case) for case in sorted({*wanted.exclude_cases, situation.case_id})]
        above = -1
        if wanted.exclude_alike is not None:
            above = int((1.0 - wanted.exclude_alike) * asked.recorded * ONE)
        prints = tuple(
            words
            for words in (print_words(situation.fingerprint), print_words(wanted.exclude_fingerprint))
            if words != (0, 0)
        )
        return Restriction(need, tuple(r for r in ranges if r[0] < r[1]), prints, above)

    @staticmethod
    def _most_gain(shelf: Shelf, asked: Query) -> "np.ndarray[tuple[int, int], np.dtype[np.int64]]":
        """For each feature not recorded in the query and each stored code, the most that recording it may
        add."""
        gain = np.zeros((len(asked.codes), 256), dtype=np.int64)
        for index, (code, weight) in enumerate(
            zip(asked.codes.tolist(), asked.weights.tolist(), strict=True)
        ):
            if code == GAP and weight:
                least = shelf.tables.rows[index].min(axis=0).astype(np.int64)
                gain[index] = weight * (ONE - least)
        return gain

    @staticmethod
    def _worths(shelf: Shelf, need: int) -> dict[str, tuple[float, float]]:
        known = shelf.worths.get(need)
        if known is None:
            known = {}
            for row in np.flatnonzero((shelf.columns.flags & np.uint8(need)) == need).tolist():
                there = shelf.situation(row)
                if there.choice is not None:
                    low, high = known.get(there.choice, (there.worth, there.worth))
                    known[there.choice] = (min(low, there.worth), max(high, there.worth))
            shelf.worths[need] = known
        return known

    @staticmethod
    def _account(
        shelf: Shelf, asked: Query, here: Situation, there: Situation, codes: Sequence[int]
    ) -> tuple[FeatureAccount, ...]:
        lines = []
        for index, item in enumerate(shelf.features.weighted):
            if item.arch not in (None, here.arch):
                continue
            feature, code, other = item.feature, int(asked.codes[index]), codes[index]
            difference = 1.0
            if code != GAP:
                difference = int(shelf.tables.rows[index][code][other]) / ONE
            verdict = _verdict(code, other, difference, shelf.features.near)
            share = int(asked.weights[index]) / asked.total if asked.total else 0.0
            values = here.features.get(feature.name), there.features.get(feature.name)
            lines.append(FeatureAccount(feature.name, feature.label, *values, verdict, difference, share))
        return tuple(lines)


def _verdict(here: int, there: int, difference: float, near: float) -> Verdict:
    if here == GAP or there == GAP:
        return "not_recorded"
    if difference == 0.0:
        return "alike"
    return "near" if difference <= near else "differs"
