"""What a search for precedents is asked and gives back: filters, nearest, and what else could be among them."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from recommender.precedents.model import Neighbour, Situation, Voice
from recommender.precedents.search.encode import Query
from recommender.precedents.search.segments import Found, Shelf
from recommender.precedents.search.unsettled import most_gain


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

    found: Sequence[Found]
    asked: Query
    unrecorded_share: float
    wider: Callable[[], "Wider"]
    may_fall: float = 0.0

    @cached_property
    def neighbours(self) -> tuple[Neighbour, ...]:
        """The nearest, best first."""
        return tuple(Neighbour(each.situation, self.asked.likeness(each.cost), ()) for each in self.found)

    @cached_property
    def voices(self) -> tuple[Voice, ...]:
        """What of the nearest a score needs, without making situations of them."""
        return tuple((*each.part.fared(each.row), self.asked.likeness(each.cost)) for each in self.found)

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
    """The candidates of one search, as rows: ``complete`` is ``False`` when only some of them are here."""

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
        return self.asked.likenesses(costs - most_gain(self.shelf, self.asked, self.within))
