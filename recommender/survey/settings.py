"""Weights, limits and figures of ``shared/survey.yaml``: the packaged ones, unless a caller puts others in force."""

from collections.abc import Mapping
from functools import cache
from typing import Any

from recommender.resources import InForce, read_yaml, shared

in_force: InForce[Mapping[str, Any]] = InForce("survey")


def settings() -> Mapping[str, Any]:
    """The whole file as it counts now; numbers in mm and degrees unless a name says otherwise."""
    figures = in_force.get()
    return _packaged() if figures is None else figures


@cache
def _packaged() -> Mapping[str, Any]:
    loaded: dict[str, Any] = read_yaml(shared("survey.yaml").read_bytes())
    return loaded
