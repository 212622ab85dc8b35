"""Weights, limits and figures of ``shared/survey.yaml``, read once."""

from functools import cache
from typing import Any

import yaml

from recommender.resources import shared


@cache
def settings() -> dict[str, Any]:
    """The whole file; numbers in mm and degrees unless a name says otherwise."""
    with shared("survey.yaml").open(encoding="utf-8") as file:
        loaded: dict[str, Any] = yaml.load(file, Loader=yaml.CSafeLoader)
    return loaded
