"""The library of precedents: nearest stored situations, exactly, with the account of every feature.

``PrecedentLibrary.build(situations)`` takes situations in any order; the answer does not depend on it.
"""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from recommender.precedents.model import FeatureAccount, Neighbour, Situation, Verdict
from recommender.precedents.retrieval import Candidate, Candidates, Filters, Retrieval, Wider
from recommender.precedents.search.columns import (
    APPROVED,
    ARCH_FLAG,
    NO_OUTCOME,
    OUTCOME,
    PRESENT,
    print_words,
)
from recommender.precedents.search.encode import Query, bands_of, encode_one, query
from recommender.precedents.search.rows import Packer
from recommender.precedents.search.segments import Part, RowFilter, Shelf
from recommender.precedents.search.tables import GAP, ONE, Likeness, load
from recommender.precedents.search.trie import NO_LIMIT
from recommender.precedents.search.unsettled import unsettled

__all__ = ["Candidate", "Candidates", "Filters", "PrecedentLibrary", "Retrieval", "Wider"]


# In a large library a hundred candidates or none settle the bounds as well as five hundred, and are found sooner.
_LARGE_CAP = 100


class PrecedentLibrary:
    """Stored situations of every kind. Immutable once built."""

    def __init__(self, likeness: Likeness, shelves: Mapping[str, Shelf]) -> None:
        self.likeness = likeness
        self.shelves: Mapping[str, Shelf] = dict(shelves)

    @classmethod
    def build(cls, situations: Iterable[Situation], likeness: Likeness | None = None) -> "PrecedentLibrary":
        """A library in memory. ``likeness`` defaults to the project's ``shared/similarity.yaml``."""
        known = likeness or load()
        by_kind: dict[str, list[Situation]] = {kind: [] for kind in known.kinds}
        for situation in situations:
            by_kind[situation.kind].append(situation)
        return cls(known, {kind: Shelf.of(known.kinds[kind], rows) for kind, rows in by_kind.items()})

    @classmethod
    def packed(cls, situations: Iterable[Situation], likeness: Likeness | None = None) -> "PrecedentLibrary":
        """As ``build``, but never holding all situations: each is encoded as it comes, so that a large library
        needs little memory. Measured values come back to the fineness of their codes."""
        known = likeness or load()
        packers = {kind: Packer(features) for kind, features in known.kinds.items()}
        for situation in situations:
            packers[situation.kind].add(situation)
        return cls.of_packers(packers, known)

    @classmethod
    def of_packers(cls, packers: dict[str, Packer], likeness: Likeness) -> "PrecedentLibrary":
        """The library of what packers have taken, by kind; they are emptied on the way."""
        shelves = {}
        for kind, features in likeness.kinds.items():
            rows = packers.pop(kind).rows()
            shelves[kind] = Shelf.from_columns(features, rows.columns, rows)
        return cls(likeness, shelves)

    def changed(self, without: Iterable[str], added: Iterable[Situation]) -> "PrecedentLibrary":
        """This library without the situations of some cases (edited or retired ones) and with some new
        ones."""
        new: dict[str, list[Situation]] = {kind: [] for kind in self.shelves}
        for situation in added:
            new[situation.kind].append(situation)
        gone = frozenset(without)
        return PrecedentLibrary(
            self.likeness, {kind: shelf.changed(gone, new[kind]) for kind, shelf in self.shelves.items()}
        )

    def count(self, kind: str) -> int:
        """How many situations of this kind are stored."""
        return len(self.shelves[kind])

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
        shelf = self.shelves[situation.kind]
        asked = self._query(shelf, situation, weights)
        neighbours = []
        for found in shelf.nearest(asked, k, self._filter(shelf, situation, asked, filters)):
            there = found.situation
            codes = found.part.columns.codes[found.row].tolist()
            lines = _account(shelf, asked, situation, there, codes) if account else ()
            neighbours.append(Neighbour(there, asked.likeness(found.cost), lines))
        return neighbours

    def rows_near(
        self, situation: Situation, k: int, filters: Filters | None = None
    ) -> list[tuple[Part, int]]:
        """The ``k`` nearest as rows of the parts of their shelf."""
        shelf = self.shelves[situation.kind]
        asked = self._query(shelf, situation, None)
        found = shelf.nearest(asked, k, self._filter(shelf, situation, asked, filters))
        return [(each.part, each.row) for each in found]

    def row_filter(
        self, shelf: Shelf, case_id: str, arch: str, print_: str, filters: Filters | None = None
    ) -> RowFilter:
        """What a row must be to be a precedent of a case with this id, arch and fingerprint, whatever it costs."""
        return _row_filter(shelf, case_id, arch, print_, filters or Filters(), -1)

    def account(
        self, situation: Situation, neighbour: Neighbour, weights: Mapping[str, float] | None = None
    ) -> tuple[FeatureAccount, ...]:
        """Every feature of the comparison; ``sum(weight * (1 - difference))`` is the likeness."""
        shelf = self.shelves[situation.kind]
        there = encode_one(shelf.features, neighbour.situation.features).tolist()
        return _account(shelf, self._query(shelf, situation, weights), situation, neighbour.situation, there)

    def unrecorded_share(self, situation: Situation, weights: Mapping[str, float] | None = None) -> float:
        """Share of the weight (0-1) that the situation has not recorded: the most that filling its gaps
        adds."""
        asked = self._query(self.shelves[situation.kind], situation, weights)
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
        return self.retrieve(situation, k, slack, weights, filters, cap).candidates

    def retrieve(
        self,
        situation: Situation,
        k: int,
        slack: float | None = None,
        weights: Mapping[str, float] | None = None,
        filters: Filters | None = None,
        cap: int = 500,
    ) -> Retrieval:
        """``nearest`` (without the account), ``unrecorded_share`` and ``candidates`` in one; the last is worked out
        when it is asked for."""
        shelf = self.shelves[situation.kind]
        asked = self._query(shelf, situation, weights)
        allowed = self._filter(shelf, situation, asked, filters)
        up, down = unsettled(shelf, asked)
        gain = (asked.total - asked.recorded) * ONE + up
        room = gain + down if slack is None else int(np.ceil(slack * asked.total * ONE))
        found = shelf.nearest(asked, k, allowed)
        limit = found[-1].cost + room if len(found) >= k > 0 else NO_LIMIT

        most = min(cap, _LARGE_CAP) if shelf.indexed else cap

        def wider() -> Wider:
            crowded = shelf.indexed and shelf.surely_more(asked, limit, allowed, most)
            within = found if crowded else shelf.nearest(asked, most + 1, allowed)
            within = [each for each in within if each.cost <= limit]
            return Wider(shelf, asked, within[:most], not crowded and len(within) <= most, allowed.need)

        return Retrieval(
            found,
            asked,
            gain / (asked.total * ONE) if asked.total else 0.0,
            wider,
            down / (asked.total * ONE) if asked.total else 0.0,
        )

    @staticmethod
    def _query(shelf: Shelf, situation: Situation, weights: Mapping[str, float] | None) -> Query:
        whole = shelf.features.whole_weights(situation.arch, weights)
        values = situation.features
        return query(
            shelf.tables, encode_one(shelf.features, values), whole, bands_of(shelf.features, values)
        )

    @staticmethod
    def _filter(shelf: Shelf, situation: Situation, asked: Query, filters: Filters | None) -> RowFilter:
        wanted = filters or Filters()
        above = -1
        if wanted.exclude_alike is not None:
            above = int((1.0 - wanted.exclude_alike) * asked.recorded * ONE)
        return _row_filter(shelf, situation.case_id, situation.arch, situation.fingerprint, wanted, above)


def _row_filter(shelf: Shelf, case_id: str, arch: str, print_: str, wanted: Filters, above: int) -> RowFilter:
    need = PRESENT
    if wanted.approved_only:
        need |= APPROVED
    if wanted.outcome_known is not None:
        need |= OUTCOME if wanted.outcome_known else NO_OUTCOME
    if wanted.arch:
        need |= ARCH_FLAG[wanted.arch]
    if "arch" in shelf.features.same:
        need |= ARCH_FLAG[arch]
    prints = tuple(
        words for words in (print_words(print_), print_words(wanted.exclude_fingerprint)) if words != (0, 0)
    )
    return RowFilter(need, tuple(sorted({*wanted.exclude_cases, case_id})), prints, above)


def _account(
    shelf: Shelf, asked: Query, here: Situation, there: Situation, codes: Sequence[int]
) -> tuple[FeatureAccount, ...]:
    lines = []
    total, near = asked.total or 1, shelf.features.near
    pairs = zip(asked.codes.tolist(), codes, asked.weights.tolist(), strict=True)
    for place, (item, (code, other, weight)) in enumerate(zip(shelf.features.weighted, pairs, strict=True)):
        if item.arch not in (None, here.arch):
            continue
        feature = item.feature
        row = None if code == GAP else shelf.tables.row(place, code, asked.bands.get(place))
        difference = 1.0 if row is None else int(row[other]) / ONE
        name, verdict = feature.name, _verdict(code, other, difference, near)
        values = here.features.get(name), there.features.get(name)
        lines.append(
            FeatureAccount(name, feature.label, *values, verdict, difference, weight / total, feature.unit)
        )
    return tuple(lines)


def _verdict(here: int, there: int, difference: float, near: float) -> Verdict:
    if here == GAP or there == GAP:
        return "not_recorded"
    if difference == 0.0:
        return "alike"
    return "near" if difference <= near else "differs"
