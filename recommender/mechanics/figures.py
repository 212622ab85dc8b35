"""The model figures of ``shared/mechanics.yaml``: everything that the published tables lack."""

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

import yaml

from recommender.mechanics.bands import Band
from recommender.resources import shared


@cache
def _document() -> Mapping[str, Any]:
    path = shared("mechanics.yaml")
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    loaded = yaml.load(path.read_text(encoding="utf-8"), Loader=loader)  # a safe loader either way
    if not isinstance(loaded, dict) or loaded.get("format") != 1:
        raise ValueError(f"{path}: expected a mapping with `format: 1`")
    return MappingProxyType(loaded)


def figures(section: str) -> Mapping[str, Any]:
    """One block of the file, as plain values; ``KeyError`` if there is no such block."""
    block = _document()[section]
    if not isinstance(block, dict):
        raise ValueError(f"mechanics.yaml: {section} must be a mapping")
    return MappingProxyType(block)


def figure_band(values: Any) -> Band:
    """A ``[low, typical, high]`` list of the file as a band; a bare number has no width."""
    if isinstance(values, (int, float)):
        return Band(float(values), float(values), float(values))
    low, typical, high = (float(value) for value in values)
    return Band(low, typical, high)
