"""The transparent weighted rule: criterion scores, their weights, and the bounds that gaps leave open.

``R(o)`` is the weighted mean of criterion scores. Each criterion starts at the option's catalogue value and
moves by the points of the rules that fired; it never leaves 0-100. All arithmetic is exact to rounding, so
that the printed lines add up.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import fsum
from operator import mul

from recommender.facts.values import Scope
from recommender.knowledge.evidence import flattened
from recommender.knowledge.model import HOUSE, Criteria, Rule

Bounds = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Weights:
    """Criterion weights of one decision in one case (sum 1), and the raw bounds while shifts are undecided.

    ``gaps`` maps each unrecorded field that a shift waits for to what it would add: (criterion, raw weight).
    ``published`` are the shares without a house's departures from them, which stand in ``house`` as parts of the whole;
    ``share[c] == published[c] + house[c]`` only in the mean of all criteria, see ``lines``. ``total`` is the sum of
    the raw weights.
    """

    share: Mapping[str, float]
    raw_bounds: Mapping[str, Bounds]
    reasons: Mapping[str, tuple[str, ...]]
    gaps: Mapping[str, tuple[tuple[str, float], ...]] = field(default_factory=dict)
    published: Mapping[str, float] = field(default_factory=dict)
    house: Mapping[str, float] = field(default_factory=dict)
    total: float = 1.0


def criterion_weights(
    criteria: Criteria, decision: str, scope: Scope, departures: Mapping[str, float] | None = None
) -> Weights:
    """Weights from the case by the table in ``shared/criteria.yaml``; ``departures`` are what a house profile has
    added to the published base weights.

    A shift whose condition holds adds to its criterion; one whose condition is not recorded widens the bounds.
    """
    raw = {name: weight for name, weight in criteria.base[decision].items() if weight}
    bounds = {name: (weight, weight) for name, weight in raw.items()}
    reasons: dict[str, list[str]] = {}
    gaps: dict[str, tuple[tuple[str, float], ...]] = {}
    get = flattened(scope).get
    for shift in criteria.shifts:
        if shift.criterion not in raw:
            continue
        held = shift.when.run(get, scope.groups)
        low, high = bounds[shift.criterion]
        if held:
            raw[shift.criterion] += shift.add
            bounds[shift.criterion] = (low + shift.add, high + shift.add)
            reasons.setdefault(shift.criterion, []).append(shift.why)
        elif held is None:
            bounds[shift.criterion] = (low + min(0.0, shift.add), high + max(0.0, shift.add))
            for path in shift.when.gaps(scope):
                gaps[path] = (*gaps.get(path, ()), (shift.criterion, shift.add))
    before = {name: max(0.0, weight - (departures or {}).get(name, 0.0)) for name, weight in raw.items()}
    raw = {name: max(0.0, weight) for name, weight in raw.items()}
    bounds = {name: (max(0.0, low), max(0.0, high)) for name, (low, high) in bounds.items()}
    total = fsum(raw.values())
    share = {name: weight / total for name, weight in raw.items()}
    published, house = share, {}
    if departures:
        # what the house's own criterion leaves, shared out as published
        rest = (1 - share.get(HOUSE, 0.0)) / fsum(weight for name, weight in before.items() if name != HOUSE)
        published = {name: share[name] if name == HOUSE else weight * rest for name, weight in before.items()}
        house = {name: (raw[name] - before[name]) / total for name in departures if raw[name] != before[name]}
    why = {name: tuple(said) for name, said in reasons.items()}
    return Weights(share, bounds, why, gaps, published, house, total)


@dataclass(frozen=True)
class RuleScore:
    """``R`` of one option, and each criterion's way from start to score. Bounds are worked out when asked for."""

    value: float
    criteria: Mapping[str, float]
    caps: Mapping[str, float]
    starts: Mapping[str, float]
    fired: tuple[Rule, ...]
    undecided: tuple[Rule, ...]
    weights: Weights

    @cached_property
    def bounds(self) -> Bounds:
        """The least and the greatest ``R`` that the undecided rules and criterion shifts leave open."""
        moved = _moved(self.weights, self.fired)
        down, up = dict(moved), dict(moved)
        for rule in self.undecided:
            if rule.criterion in moved:
                way = down if rule.points < 0 else up
                way[rule.criterion] += rule.points
        raw = self.weights.raw_bounds
        low = -_greatest_mean([(-_clamp(self.starts[n] + down[n]), raw[n]) for n in moved])
        high = _greatest_mean([(_clamp(self.starts[n] + up[n]), raw[n]) for n in moved])
        return min(low, self.value), max(high, self.value)


def rule_score(
    starts: Mapping[str, float], fired: tuple[Rule, ...], undecided: tuple[Rule, ...], weights: Weights
) -> RuleScore:
    """The weighted mean of criterion scores for one option.

    Worked example: two criteria of weight 0.5, starts 60 and 90; one rule adds 20 to the second. It stops at
    100, so the cap is -10 and ``R`` = 0.5·60 + 0.5·100 = 80.
    """
    scores: dict[str, float] = {}
    caps: dict[str, float] = {}
    for name, points in _moved(weights, fired).items():
        reached = starts[name] + points
        score = scores[name] = _clamp(reached)
        if score != reached:
            caps[name] = score - reached
    value = fsum(map(mul, weights.share.values(), scores.values()))  # both by criterion, in one order
    return RuleScore(value, scores, caps, starts, fired, undecided, weights)


def _moved(weights: Weights, fired: Iterable[Rule]) -> dict[str, float]:
    """Points of the rules that fired, by criterion."""
    moved = dict.fromkeys(weights.share, 0.0)
    for rule in fired:
        if rule.criterion in moved:
            moved[rule.criterion] += rule.points
    return moved


def _clamp(score: float) -> float:
    # written out, as it runs hundreds of thousands of times
    return 0.0 if score <= 0.0 else 100.0 if score > 100.0 else score


def _greatest_mean(items: Sequence[tuple[float, Bounds]]) -> float:
    """The greatest weighted mean of the scores when each weight may lie anywhere in its bounds.

    The best weights are the upper bounds for the best scores and the lower bounds for the rest, so trying every
    cut through the sorted scores finds the optimum.
    """
    ordered = sorted(items, key=lambda item: -item[0])
    weight = sum(low for _, (low, _) in ordered)
    total = sum(score * low for score, (low, _) in ordered)
    best = total / weight if weight > 0 else None
    for score, (low, high) in ordered:
        if high == low:
            continue
        weight += high - low
        total += score * (high - low)
        if weight > 0:
            mean = total / weight
            if best is not None and mean < best:
                break
            best = mean
    return 0.0 if best is None else best
