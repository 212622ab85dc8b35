"""The transparent weighted rule: criterion scores, their weights, and the bounds that gaps leave open.

``R(o)`` is the weighted mean of criterion scores. Each criterion starts at the option's catalogue value and
moves by the points of the rules that fired; it never leaves 0-100. All arithmetic is exact to rounding, so
that the printed lines add up.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import fsum

from recommender.facts.values import Scope
from recommender.knowledge.evidence import flattened
from recommender.knowledge.model import HOUSE, Criteria, CriterionShift, Rule

Bounds = tuple[float, float]


@dataclass(frozen=True)
class Weights:
    """Criterion weights of one decision in one case (sum 1), and the raw bounds while shifts are undecided.

    ``published`` are the shares without a house's departures from them, which stand in ``house`` as parts of the whole;
    ``share[c] == published[c] + house[c]`` only in the mean of all criteria, see ``lines``. ``total`` is the sum of
    the raw weights. ``held`` are the shifts that count, ``undecided`` those that wait for something not recorded in
    ``scope``.
    """

    share: Mapping[str, float]
    raw_bounds: Mapping[str, Bounds]
    published: Mapping[str, float] = field(default_factory=dict)
    house: Mapping[str, float] = field(default_factory=dict)
    total: float = 1.0
    held: Sequence[CriterionShift] = ()
    undecided: Sequence[CriterionShift] = ()
    scope: Scope = field(default=Scope(()), repr=False)

    @cached_property
    def gaps(self) -> Mapping[str, Sequence[tuple[str, float]]]:
        """Each unrecorded field that a shift waits for, and what it would add: (criterion, raw weight)."""
        found: dict[str, list[tuple[str, float]]] = {}
        for shift in self.undecided:
            for path in shift.when.gaps(self.scope):
                found.setdefault(path, []).append((shift.criterion, shift.add))
        return found


def criterion_weights(
    criteria: Criteria, decision: str, scope: Scope, departures: Mapping[str, float] | None = None
) -> Weights:
    """Weights from the case by the table in ``shared/criteria.yaml``; ``departures`` are what a house profile has
    added to the published base weights.

    A shift whose condition holds adds to its criterion; one whose condition is not recorded widens the bounds.
    """
    raw = {name: weight for name, weight in criteria.base[decision].items() if weight}
    low, high = dict(raw), dict(raw)
    counted: list[CriterionShift] = []
    undecided: list[CriterionShift] = []
    get = flattened(scope).get
    for shift in criteria.shifts:
        name, add = shift.criterion, shift.add
        if name not in raw:
            continue
        held = shift.when.run(get, scope.groups)
        if held:
            for weight in (raw, low, high):
                weight[name] += add
            counted.append(shift)
        elif held is None:
            (low if add < 0 else high)[name] += add
            undecided.append(shift)
    least = {name: max(0.0, weight) for name, weight in raw.items()}
    bounds = {name: (max(0.0, low[name]), max(0.0, high[name])) for name in raw}
    total = fsum(least.values())
    share = {name: weight / total for name, weight in least.items()}
    published, house = share, {}
    if departures:
        # what the house's own criterion leaves, shared out as published
        before = {name: max(0.0, weight - departures.get(name, 0.0)) for name, weight in raw.items()}
        rest = (1 - share.get(HOUSE, 0.0)) / fsum(weight for name, weight in before.items() if name != HOUSE)
        published = {name: share[name] if name == HOUSE else weight * rest for name, weight in before.items()}
        house = {
            name: (least[name] - before[name]) / total for name in departures if least[name] != before[name]
        }
    return Weights(share, bounds, published, house, total, counted, undecided, scope)


@dataclass(eq=False)  # frozen it would take three times as long to fill, some 200 times a case
class RuleScore:
    """``R`` of one option. Each criterion's way from start to score, and the bounds, are worked out when asked for."""

    value: float
    starts: Mapping[str, float]
    fired: tuple[Rule, ...]
    undecided: tuple[Rule, ...]
    weights: Weights

    @cached_property
    def criteria(self) -> dict[str, float]:
        """The score of each criterion."""
        return {name: _clamp(at) for name, at in self._reached.items()}

    @cached_property
    def caps(self) -> dict[str, float]:
        """What criteria would have passed 0 or 100 by."""
        return {name: score - at for name, at in self._reached.items() if (score := _clamp(at)) != at}

    @cached_property
    def _reached(self) -> dict[str, float]:
        return {name: self.starts[name] + moved for name, moved in _moved(self.weights, self.fired).items()}

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
    moved = _moved(weights, fired)
    # the limits written out, as it runs hundreds of thousands of times
    value = fsum(
        [
            share * (0.0 if (at := starts[name] + moved[name]) <= 0.0 else 100.0 if at > 100.0 else at)
            for name, share in weights.share.items()
        ]
    )
    return RuleScore(value, starts, fired, undecided, weights)


def _moved(weights: Weights, fired: Iterable[Rule]) -> dict[str, float]:
    """Points of the rules that fired, by criterion."""
    moved = dict.fromkeys(weights.share, 0.0)
    for rule in fired:
        if rule.criterion in moved:
            moved[rule.criterion] += rule.points
    return moved


def _clamp(score: float) -> float:
    return min(max(score, 0.0), 100.0)


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
