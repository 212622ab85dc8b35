"""The library of precedents: nearest stored situations, exactly, with the account of every feature.

``PrecedentLibrary.build(situations)`` takes situations in any order; the answer does not depend on it.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from recommender.precedents.model import FeatureAccount, Neighbour, Situation, Verdict
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
from recommender.precedents.search.segments import Found, Part, RowFilter, Shelf
from recommender.precedents.search.tables import GAP, ONE, Likeness, load
from recommender.precedents.search.trie import NO_LIMIT

__all__ = ["Candidate", "Candidates", "Filters", "PrecedentLibrary", "Retrieval", "Wider"]


# In a large library a hundred candidates or none settle the bounds as well as five hundred, and are found sooner.
_LARGE_CAP = 100


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
    """What may enter the ``k`` nearest. ``complete`` is ``False`` when there were more than the cap;
    ``items`` then holds only some of them, and only then ``worths`` (least and greatest worth of each choice over all
    admitted rows) is the bound to fall back on."""

    items: tuple[Candidate, ...]
    complete: bool
    worths: Mapping[str, tuple[float, float]]


@dataclass(frozen=True)
class Retrieval:
    """The precedents of one decision: the nearest, the share of weight that the case in hand has not
    recorded (with what settling its intervals may add to a likeness), what settling them may take from one, and
    (searched for only when it is asked for) what else could be among the nearest once its gaps
    are filled."""

    neighbours: tuple[Neighbour, ...]
    unrecorded_share: float
    wider: Callable[[], "Wider"]
    may_fall: float = 0.0

    @cached_property
    def _wide(self) -> "Wider":
        return self.wider()

    @property
    def candidates(self) -> Candidates:
        """What may enter the nearest, one by one."""
        return self._wide.candidates()

    @property
    def worths(self) -> Mapping[str, tuple[float, float]] | None:
        """Least and greatest worth of each choice over all admitted rows, where there are too many candidates
        to look at one by one; else ``None``."""
        return None if self._wide.complete else self._wide.worths()

    @cached_property
    def pulls(self) -> Mapping[str, list[float]]:
        """Ceiling times worth of every candidate that has a worth, by what it chose."""
        found: dict[str, list[float]] = {}
        for choice, worth, ceiling in self._wide.told():
            if worth and ceiling:
                found.setdefault(choice or "", []).append(ceiling * worth)
        return found


@dataclass(frozen=True, slots=True)
class Wider:
    """The candidates of one hearing, as rows: ``complete`` is ``False`` when only some of them are here."""

    shelf: Shelf
    asked: Query
    within: list[Found]
    complete: bool
    need: int

    def candidates(self) -> Candidates:
        """As plain values."""
        costs = np.array([each.cost for each in self.within], dtype=np.int64)
        now, then = self.asked.likenesses(costs), self._ceilings(costs)
        items = tuple(
            Candidate(each.situation, a, ceiling)
            for each, a, ceiling in zip(self.within, now, then, strict=True)
        )
        return Candidates(items, self.complete, {} if self.complete else self.worths())

    def told(self) -> Iterator[tuple[str | None, float, float]]:
        """Choice, worth and ceiling of each candidate, without making situations of them."""
        costs = np.array([each.cost for each in self.within], dtype=np.int64)
        for each, ceiling in zip(self.within, self._ceilings(costs), strict=True):
            yield *each.part.fared(each.row), ceiling

    def worths(self) -> dict[str, tuple[float, float]]:
        """Least and greatest worth of each choice over all admitted rows."""
        known = self.shelf.worths.get(self.need)
        if known is None:
            known = {}
            for part in self.shelf.parts:
                for choice, low, high in part.worths((part.columns.flags & np.uint8(self.need)) == self.need):
                    least, most = known.get(choice, (low, high))
                    known[choice] = (min(least, low), max(most, high))
            self.shelf.worths[self.need] = known
        return known

    def _ceilings(self, costs: npt.NDArray[np.int64]) -> list[float]:
        return self.asked.likenesses(costs - _most_gain(self.shelf, self.asked, self.within))


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
        up, down = _unsettled(shelf, asked)
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
            tuple(Neighbour(each.situation, asked.likeness(each.cost), ()) for each in found),
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


def _gain(shelf: Shelf, asked: Query, place: int) -> npt.NDArray[np.int64]:
    """The most that settling one feature may take off the cost of each stored code."""
    weight, band = int(asked.weights[place]), asked.bands.get(place)
    if band is None:
        gain: npt.NDArray[np.int64] = weight * (ONE - shelf.tables.least[place])
        return gain
    less: npt.NDArray[np.int64] = shelf.tables.settling(place, int(asked.codes[place]), band)[0].astype(
        np.int64
    )
    return np.asarray(weight * less, dtype=np.int64)


def _unsettled(shelf: Shelf, asked: Query) -> tuple[int, int]:
    """The most that settling the intervals of the case in hand may take off any cost, and add to one."""
    up = down = 0
    for place, band in asked.bands.items():
        less, more = shelf.tables.settling(place, int(asked.codes[place]), band)
        up += int(asked.weights[place]) * int(less.max())
        down += int(asked.weights[place]) * int(more.max())
    return up, down


def _most_gain(shelf: Shelf, asked: Query, found: Sequence[Found]) -> npt.NDArray[np.int64]:
    """For each row, the most that recording what the query has not recorded may take off its cost."""
    open_ = [
        f
        for f, (c, w) in enumerate(zip(asked.codes.tolist(), asked.weights.tolist(), strict=True))
        if w and (c == GAP or f in asked.bands)
    ]
    if not open_ or not found:
        return np.zeros(len(found), dtype=np.int64)
    gain = np.array([_gain(shelf, asked, f) for f in open_])
    most = np.zeros(len(found), dtype=np.int64)
    for part in shelf.parts:
        places = [place for place, each in enumerate(found) if each.part is part]
        if places:
            codes = part.columns.codes[[found[place].row for place in places]][:, open_]
            most[places] = gain[np.arange(len(open_)), codes].sum(axis=1)
    return most


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
        lines.append(FeatureAccount(name, feature.label, *values, verdict, difference, weight / total))
    return tuple(lines)


def _verdict(here: int, there: int, difference: float, near: float) -> Verdict:
    if here == GAP or there == GAP:
        return "not_recorded"
    if difference == 0.0:
        return "alike"
    return "near" if difference <= near else "differs"
