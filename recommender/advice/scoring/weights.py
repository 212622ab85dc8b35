"""How far the weight of each criterion can move before another option leads: exact break points.

With raw weights ``r`` of sum ``T`` an option's score is ``(1 - w)·Σ r_c s_c / T + w·P``. Let one weight be ``x``
instead of ``r_k`` and multiply by the new sum ``B + x`` (``B = T - r_k``), which is positive: every option is then
a straight line in ``x``,

    ``(1 - w)·(A + x·s_k) + w·P·(B + x)``    with ``A = Σ_{c≠k} r_c s_c``,

an option that may come from two approaches is the higher of two lines, and the leader changes where a rival's
line crosses the leader's. Precedents do not depend on the weights, nor do statuses, so this is exact with
precedents in play as well.

Worked example: two criteria, weights 60 and 40, no precedents. The leader scores 80 and 40 on them, the rival 50
and 70. Let the second weight be x: 60·80 + 40x = 60·50 + 70x at x = 60. Up to 60 the leader stays.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import fsum, inf

from recommender.advice.decision import DecisionAnalysis
from recommender.advice.scoring.views import scope_of
from recommender.knowledge.model import Criteria, Knowledge

Line = tuple[float, float]
"""Constant and slope."""


@dataclass(frozen=True, slots=True)
class Break:
    """Where another option takes over: the raw weight of the criterion, its share of all weights then, and
    the option."""

    weight: float
    share: float
    leader: str


@dataclass(frozen=True, slots=True)
class Room:
    """How far one weight can move. ``None`` where no weight in that direction changes the leader."""

    criterion: str
    weight: float
    share: float
    down: Break | None
    up: Break | None

    @property
    def least_change(self) -> float:
        """The smaller of the two distances, as a share of the present weight; infinite where both are open."""
        ways = [abs(end.weight - self.weight) for end in (self.down, self.up) if end is not None]
        return min(ways) / max(self.weight, 1e-9) if ways else inf


def rooms(examination: DecisionAnalysis) -> tuple[Room, ...]:
    """The room of every criterion of the decision, the least first."""
    raw = {name: max(0.0, weight) for name, weight in raw_weights(examination).items()}
    total = fsum(raw.values())
    found = [Room(name, raw[name], raw[name] / total, *_ends(examination, raw, total, name)) for name in raw]
    return tuple(sorted(found, key=lambda room: (room.least_change, room.criterion)))


def raw_weights(examination: DecisionAnalysis) -> dict[str, float]:
    """The weights before they are made to add up to 1: base and shifts (below zero counts as zero)."""
    criteria = examination.engine.knowledge.criteria
    kind = examination.decision.kind
    raw = {name: weight for name, weight in criteria.base[kind].items() if weight}
    scope = scope_of(examination.facts, examination.decision)
    for shift in criteria.shifts:
        if shift.criterion in raw and shift.when.evaluate(scope):
            raw[shift.criterion] += shift.add
    return raw


def _ends(
    examination: DecisionAnalysis, raw: Mapping[str, float], total: float, name: str
) -> tuple[Break | None, Break | None]:
    lines = _lines(examination, raw, total, name)
    leader = examination.result.ranked[0].option
    now, others = raw[name], total - raw[name]
    # Where the first tie by identifier decides, the leader holds on the limit itself.
    down: tuple[float, str] | None = None
    up: tuple[float, str] | None = None
    for rival in sorted(lines):
        if rival == leader:
            continue
        for line in lines[rival]:
            start, end = _above(line, lines[leader])
            if start >= end:
                continue
            if start < now < end:  # level with the leader already, but for rounding
                start, end = (now, end) if now - start <= end - now else (start, now)
            if start >= now and (up is None or start < up[0]):
                up = (start, rival)
            if end <= now and (down is None or end > down[0]):
                down = (end, rival)
    # At a weight of exactly zero and below there is no criterion left to weigh less.
    return (
        Break(down[0], _share(down[0], others), down[1]) if down and down[0] > 0 else None,
        Break(up[0], _share(up[0], others), up[1]) if up and up[0] < inf else None,
    )


def _share(weight: float, others: float) -> float:
    return weight / (others + weight) if others + weight > 0 else 0.0


def _lines(
    examination: DecisionAnalysis, raw: Mapping[str, float], total: float, name: str
) -> dict[str, list[Line]]:
    """The lines of every option of the leader's status, one for each approach of that status."""
    status = examination.result.ranked[0].status
    w = examination.evidence.weight
    others = total - raw[name]
    lines: dict[str, list[Line]] = {}
    for option, ways in examination.judged.items():
        if examination.chosen[option].status != status:
            continue
        opinion = w * examination.evidence.opinion(option)
        for judged in ways:
            if judged.status == status:
                scores = judged.rules.criteria
                rest = fsum(raw[c] * scores[c] for c in raw if c != name)
                lines.setdefault(option, []).append(
                    ((1 - w) * rest + opinion * others, (1 - w) * scores[name] + opinion)
                )
    return lines


def _above(line: Line, held: Sequence[Line]) -> tuple[float, float]:
    """Where, from 0 to infinity, a line lies above all of the others: an interval."""
    low, high = 0.0, inf
    for other in held:
        constant, slope = line[0] - other[0], line[1] - other[1]
        if slope > 0:
            low = max(low, -constant / slope)
        elif slope < 0:
            high = min(high, -constant / slope)
        elif constant <= 0:
            return inf, -inf
    return low, high


def with_weight(base: Knowledge, kind: str, raw_now: float, criterion: str, weight: float) -> Knowledge:
    """The knowledge with the base weight of one criterion moved so that its raw weight, now ``raw_now``, becomes
    ``weight``."""
    was = base.criteria.base
    moved = dict(was[kind])
    moved[criterion] = moved[criterion] + weight - raw_now
    criteria: Criteria = replace(base.criteria, base={**was, kind: moved})
    return replace(base, criteria=criteria)
