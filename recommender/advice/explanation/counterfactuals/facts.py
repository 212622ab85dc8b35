"""The smallest change of each recorded fact that flips a choice, and which gap is worth closing.

Every flip was run again with the change made; none is inferred.
"""

from dataclasses import dataclass
from typing import Any

from recommender.advice.explanation.counterfactuals.links import Link, links_of, plain_path
from recommender.advice.explanation.counterfactuals.probe import Prober, Standing
from recommender.advice.explanation.counterfactuals.values import other_values, resolution
from recommender.domain.fields import recorded_fields
from recommender.domain.measures import Interval, expected, is_number


@dataclass(frozen=True, slots=True)
class Flip:
    """One fact changed, and the option that then leads. ``value`` is in the unit of the field."""

    path: str
    now: object
    value: object
    leader: str
    lead_score: float


@dataclass(frozen=True, slots=True)
class Flips:
    """All flips found, by how much the field bears on the decision, smallest change of a field first.

    ``not_tried`` are fields beyond the limit of re-runs.
    """

    flips: tuple[Flip, ...]
    tried: int
    runs: int
    not_tried: tuple[str, ...]

    @property
    def capped(self) -> bool:
        """Whether the limit of re-runs cut the search short."""
        return bool(self.not_tried)


@dataclass(frozen=True, slots=True)
class FieldEffect:
    """One unrecorded field: what each plausible value would lead to.

    ``flips`` maps each value (as text) that changes the leader to the new leader; ``firm`` counts the values
    after which the leading option is no longer provisional; ``largest_move`` is the greatest change of the
    present leader's score, in points.
    """

    path: str
    tried: int
    flips: tuple[tuple[object, str], ...]
    largest_move: float
    firm: int

    @property
    def order(self) -> tuple[float, float, float, str]:
        """Sort key: the share of values that change the leader, that make it firm, then the largest move."""
        return (-len(self.flips) / self.tried, -self.firm / self.tried, -self.largest_move, self.path)


@dataclass(frozen=True, slots=True)
class FieldEffects:
    """Unrecorded fields, the most worth measuring first."""

    fields: tuple[FieldEffect, ...]
    runs: int
    not_tried: tuple[str, ...]

    @property
    def capped(self) -> bool:
        """Whether the limit of re-runs cut the search short."""
        return bool(self.not_tried)


def flips(prober: Prober, wanted: str | None = None, links: dict[str, Link] | None = None) -> Flips:
    """For each recorded fact that bears on the decision, the smallest changes after which another option leads.

    ``wanted`` counts only changes that bring this option to the front. Numbers are changed in both directions,
    by as little as the field is measured in; words to each allowed word.
    """
    limits = prober.search
    recorded = set(recorded_fields(prober.case))
    bearing = links_of(prober.analysis, prober.decision) if links is None else links
    ordered = sorted(
        (link for path, link in bearing.items() if path in recorded), key=lambda link: (-link.pull, link.path)
    )
    found: list[Flip] = []
    not_tried: list[str] = []
    start, tried = prober.runs, 0
    lead = _lead(prober.now)
    for link in ordered:
        if not link.decides and 2 * link.pull < lead:
            tried += 1
            continue  # its rules together cannot close the gap, even from two approaches
        if prober.runs - start >= limits.facts_runs:
            not_tried.append(link.path)
            continue
        lanes = other_values(prober.case, link, prober.decision.tooth, limits)
        tried += bool(lanes)
        before = prober.runs
        for lane in lanes:
            if prober.runs - before >= limits.field_runs:
                break
            flip = _along(prober, link.path, lane, wanted)
            if flip is not None:
                found.append(flip)
    # In the order of pull, the smallest change of a field first.
    order = {link.path: index for index, link in enumerate(ordered)}
    found.sort(key=lambda flip: (order[flip.path], _distance(flip)))
    return Flips(tuple(found), tried, prober.runs - start, tuple(not_tried))


def _lead(now: Standing) -> float:
    """How far the leader is before the next option of its status; infinite where there is none."""
    first = now.order[0]
    others = [now.scores[o] for o in now.order[1:] if now.statuses[o] == now.statuses[first]]
    return now.scores[first] - max(others) - 1e-9 if others else float("inf")


def _flipped(prober: Prober, there: Standing | None, wanted: str | None) -> bool:
    if there is None or there.leader == prober.now.leader:
        return False
    return wanted is None or there.leader == wanted


def _along(prober: Prober, path: str, lane: list[Any], wanted: str | None) -> Flip | None:
    """The first value of a lane that flips, drawn back toward what is recorded as far as it still flips."""
    now = prober.value(path)
    near = expected(now) if isinstance(now, Interval) else now
    for value in lane:
        there = prober.with_value(path, value)
        if _flipped(prober, there, wanted):
            if is_number(value):
                value = _drawn_back(prober, path, float(str(near)), value, wanted)
                there = prober.with_value(path, value)
            assert there is not None
            return Flip(path, now, value, there.leader, there.scores[there.leader])
        near = value
    return None


def _drawn_back(prober: Prober, path: str, near: float, far: Any, wanted: str | None) -> Any:
    """Halving on the field's own steps between a value that does not flip and one that does."""
    step = 1.0 if isinstance(far, int) else resolution(path, prober.search)
    way = 1 if far > near else -1
    low, high = 0, int(abs(far - near) / step + 1e-9)
    best = far
    # Steps are counted from the value that does not flip; the last one may fall a little short of ``far``.
    while high - low > 1:
        middle = (low + high) // 2
        value: Any = round(near + way * middle * step, 6)
        if isinstance(far, int):
            value = int(value)
        if _flipped(prober, prober.with_value(path, value), wanted):
            best, high = value, middle
        else:
            low = middle
    return best


def _distance(flip: Flip) -> float:
    """How far a number was moved; 0 for anything else, which keeps the order of the lanes."""
    now = expected(flip.now) if isinstance(flip.now, Interval) else flip.now
    if is_number(now) and is_number(flip.value):
        return abs(float(str(flip.value)) - float(str(now)))
    return 0.0


def gaps_in_question(prober: Prober) -> list[str]:
    """Unrecorded fields of the decision that could block, or could move an option up to the leader."""
    result = prober.analysis.decide(prober.decision)
    examination = prober.analysis.examine(prober.decision)
    leader = result.ranked[0]
    found = dict.fromkeys(leader.unverified)
    for option in result.ranked:
        if option.status == "excluded" or option.high < leader.low:
            continue
        for judged in examination.judged[option.option]:
            for rule in judged.undecided:
                if rule.effect == "blocks" or rule.points:
                    found.update(dict.fromkeys(rule.when.gaps(judged.scope)))
    found.update(dict.fromkeys(examination.weights.gaps))
    return list(dict.fromkeys(plain_path(path) for path in found))


def worths(prober: Prober, links: dict[str, Link] | None = None) -> FieldEffects:
    """Which unrecorded fields are worth recording, each run again with every plausible value."""
    limits = prober.search
    bearing = links_of(prober.analysis, prober.decision) if links is None else links
    asked = [path for path in gaps_in_question(prober) if path in bearing]
    asked.sort(key=lambda path: (-bearing[path].pull, path))
    found: list[FieldEffect] = []
    not_tried: list[str] = []
    start, now = prober.runs, prober.now
    for path in asked:
        if prober.runs - start >= limits.gaps_runs:
            not_tried.append(path)
            continue
        lanes = other_values(prober.case, bearing[path], prober.decision.tooth, limits)[: limits.field_runs]
        seen = [(lane[0], prober.with_value(path, lane[0])) for lane in lanes]
        runs = [(value, there) for value, there in seen if there is not None]
        if not runs:
            continue
        found.append(
            FieldEffect(
                path,
                len(runs),
                tuple((value, there.leader) for value, there in runs if there.leader != now.leader),
                max(abs(there.scores[now.leader] - now.scores[now.leader]) for _, there in runs),
                sum(
                    1
                    for _, there in runs
                    if now.provisional[now.leader] and not there.provisional[there.leader]
                ),
            )
        )
    return FieldEffects(
        tuple(sorted(found, key=lambda worth: worth.order)), prober.runs - start, tuple(not_tried)
    )
