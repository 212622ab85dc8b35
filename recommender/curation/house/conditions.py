"""Conditions that a line of a house profile may have: each feature of likeness, parted as the library's cases part
it."""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from recommender.knowledge.atoms import number_text
from recommender.knowledge.conditions import Condition, parse
from recommender.knowledge.registry import Registry, visible_scopes
from recommender.precedents.search.tables import Feature, FeatureSet, FeatureValue

ALWAYS = "always"


def conditions(
    features: FeatureSet, values: Sequence[Mapping[str, FeatureValue | None]], registry: Registry, cuts: int
) -> list[Condition]:
    """``always``, then for each feature what parts these values: a word each, a measure at ``cuts`` places at most."""
    found = [parse(ALWAYS)]
    for item in features.weighted:
        seen = [each for each in (given.get(item.feature.name) for given in values) if each is not None]
        for text in _texts(item.feature, seen, cuts):
            condition = parse(text)
            if not registry.complaints(condition, visible_scopes("option", features.kind)):
                found.append(condition)
    return found


def _texts(feature: Feature, seen: Sequence[FeatureValue], cuts: int) -> Iterable[str]:
    fact = feature.fact
    if feature.holds:
        return [f"{feature.holds} in {fact}", f"{feature.holds} not in {fact}"] if len(set(seen)) > 1 else []
    numbers = [number for value in seen if (number := _middle(value)) is not None]
    if feature.scale == "numeric" or (numbers and len(numbers) == len(seen)):
        step = feature.step or 1.0
        return [
            f"{fact} {side} {number_text(cut)}" for cut in _cuts(numbers, cuts, step) for side in ("<", ">=")
        ]
    words = sorted({str(value).lower() if isinstance(value, bool) else str(value) for value in seen})
    return [f"{fact} == {word}" for word in words] if len(words) > 1 else []


def _middle(value: FeatureValue) -> float | None:
    """A number, the middle of a pair of bounds, or ``None`` for a word."""
    if isinstance(value, tuple):
        return (value[0] + value[1]) / 2
    return float(value) if isinstance(value, (int, float)) and not isinstance(value, bool) else None


def _cuts(numbers: Sequence[float], cuts: int, step: float) -> list[float]:
    """Places between values that part them at even shares, to the fineness that the feature keeps."""
    distinct = sorted(set(numbers))
    if len(distinct) < 2:
        return []
    shares = np.quantile(np.array(numbers), np.linspace(0, 1, cuts + 2)[1:-1], method="inverted_cdf")
    found = {min((value for value in distinct if value > share), default=None) for share in shares.tolist()}
    found |= {value for value in shares.tolist() if value > distinct[0]}
    if len(distinct) <= cuts + 1:
        found = set(distinct[1:])
    return sorted({round(round(cut / step) * step, 6) for cut in found if cut is not None})
