"""How much of a library's evidence rests on few cases: which stored cases are asked when every other one is
advised on.

Each stored decision is asked about in turn; its ``neighbours`` nearest precedents (never its own case) are
cited, each with its likeness. A library in which few cases carry most of the citations stands on few legs.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from recommender.domain.case import Case
from recommender.precedents.library import PrecedentLibrary
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
    ``even`` what it would be if all approved cases carried alike. ``never`` were not cited once."""

    asked: int
    by_case: tuple[Cited, ...]
    half: int
    even: int
    never: tuple[str, ...]


def citations(cases: Iterable[Case], neighbours: int = 12) -> Citations:
    """Which approved cases carry the load; the order of the cases changes nothing."""
    likeness = load()
    stored = [one for one in all_situations(cases, likeness) if one.approved]
    library = PrecedentLibrary.build(stored, likeness)
    times: dict[str, int] = dict.fromkeys(sorted({one.case_id for one in stored}), 0)
    weight: dict[str, float] = dict.fromkeys(times, 0.0)
    for situation in sorted(stored, key=lambda one: (one.case_id, one.kind, one.site)):
        asked = replace(situation, choice=None)
        for neighbour in library.nearest(asked, neighbours, account=False):
            times[neighbour.situation.case_id] += 1
            weight[neighbour.situation.case_id] += neighbour.likeness
    total = sum(weight.values())
    by_case = tuple(
        Cited(case_id, times[case_id], weight[case_id] / total if total else 0.0)
        for case_id in sorted(times, key=lambda name: (-weight[name], name))
    )
    never = tuple(one.case_id for one in by_case if not one.times)
    return Citations(
        len(stored), by_case, _half([one.share for one in by_case]), -(-len(by_case) // 2), never
    )


def _half(shares: Sequence[float]) -> int:
    carried = 0.0
    for number, share in enumerate(shares, start=1):
        carried += share
        if carried >= 0.5:
            return number
    return len(shares)
