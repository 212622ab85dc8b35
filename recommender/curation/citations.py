"""How much of a library's evidence rests on few cases: which stored cases are asked when every other one is
advised on.

Each stored decision is asked about in turn; its ``neighbours`` nearest precedents (never its own case) are
cited, each with its likeness. A library in which few cases carry most of the citations stands on few legs.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from recommender.domain.case import Case
from recommender.precedents.library import PrecedentLibrary
from recommender.precedents.search.columns import APPROVED, PRESENT
from recommender.precedents.search.segments import Part
from recommender.precedents.search.tables import load
from recommender.precedents.situations import all_situations


@dataclass(frozen=True, slots=True)
class Cited:
    """One case: how often it was among the nearest, and its ``share`` (0-1) of the sum of likeness."""

    case_id: str
    times: int
    share: float


@dataclass(frozen=True, slots=True)
class Citations:
    """``by_case``, the most cited first. ``half`` is the least number of cases that carry half of the load;
    ``even`` what it would be if all approved cases carried alike. ``never`` were not cited once. ``asked`` decisions
    were asked about of ``of`` that are stored: in a large library an even choice of them."""

    asked: int
    by_case: tuple[Cited, ...]
    half: int
    even: int
    never: tuple[str, ...]
    of: int


MOST_ASKED = 2_000


def citations(cases: Iterable[Case], neighbours: int = 12) -> Citations:
    """Which approved cases carry the load; the order of the cases changes nothing."""
    likeness = load()
    stored = (one for one in all_situations(cases, likeness) if one.approved)
    return citations_in(PrecedentLibrary.build(stored, likeness), neighbours, most_asked=None)


def citations_in(
    library: PrecedentLibrary,
    neighbours: int = 12,
    most_asked: int | None = MOST_ASKED,
    told: Callable[[int, int], None] = lambda _done, _of: None,
) -> Citations:
    """The same of a library that stands. ``most_asked``: how many decisions are asked about at most, every n-th in the
    order of case and site; ``told`` hears how many of how many were."""
    rows = [
        (part, row)
        for kind in sorted(library.shelves)
        for part in library.shelves[kind].parts
        for row in np.flatnonzero((part.columns.flags & _COUNT) == _COUNT).tolist()
    ]
    step = 1 if most_asked is None else max(1, -(-len(rows) // most_asked))
    asked = rows[::step]
    known = {bytes(one) for part in {id(p): p for p, _ in rows}.values() for one in _approved_ids(part)}
    times: dict[str, int] = dict.fromkeys(sorted(one.decode() for one in known), 0)
    weight: dict[str, float] = dict.fromkeys(times, 0.0)
    for number, (part, row) in enumerate(asked):
        if number % 100 == 0:
            told(number, len(asked))
        for neighbour in library.nearest(replace(part.rows[row], choice=None), neighbours, account=False):
            times[neighbour.situation.case_id] += 1
            weight[neighbour.situation.case_id] += neighbour.likeness
    told(len(asked), len(asked))
    total = sum(weight.values())
    by_case = tuple(
        Cited(case_id, times[case_id], weight[case_id] / total if total else 0.0)
        for case_id in sorted(times, key=lambda name: (-weight[name], name))
    )
    never = tuple(one.case_id for one in by_case if not one.times)
    half = _half([one.share for one in by_case])
    return Citations(len(asked), by_case, half, -(-len(by_case) // 2), never, len(rows))


_COUNT = PRESENT | APPROVED


def _approved_ids(part: Part) -> Iterator[bytes]:
    columns = part.columns
    yield from np.unique(columns.case_ids[(columns.flags & _COUNT) == _COUNT]).tolist()


def _half(shares: Sequence[float]) -> int:
    carried = 0.0
    for number, share in enumerate(shares, start=1):
        carried += share
        if carried >= 0.5:
            return number
    return len(shares)
