"""The few figures that facts need, read from ``shared/display.yaml``."""

from functools import cache
from typing import Any

import yaml

from recommender.resources import shared


@cache
def display_figures() -> dict[str, Any]:
    """Which teeth a smile shows by default, and the limits of "recent" and "long"."""
    with shared("display.yaml").open(encoding="utf-8") as stream:
        figures: dict[str, Any] = yaml.load(stream, yaml.CSafeLoader)
    return figures
