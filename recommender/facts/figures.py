"""The few figures that facts need (``shared/display.yaml``), and the door to the figures of the models."""

from collections.abc import Callable, Mapping
from functools import wraps
from typing import Any, Concatenate, ParamSpec, Protocol, TypeVar, cast

from recommender.mechanics.figures import ModelFigures, document, in_force

__all__ = ["ModelFigures", "display_figures", "under_own_figures"]

P = ParamSpec("P")
R = TypeVar("R")


class HoldsFigures(Protocol):
    @property
    def figures(self) -> ModelFigures | None: ...


H = TypeVar("H", bound=HoldsFigures)


def display_figures() -> Mapping[str, Any]:
    """Which teeth a smile shows by default, the limits of "recent" and "long", and when a tooth is doubtful."""
    return document("display")


def under_own_figures(
    function: Callable[Concatenate[H, P], R],
) -> Callable[Concatenate[H, P], R]:
    """What the function works out rests on the figures that its first argument holds (``None``: the packaged)."""

    @wraps(function)
    def call(facts: H, *args: P.args, **kwargs: P.kwargs) -> R:
        if facts.figures is None:
            return function(facts, *args, **kwargs)
        with in_force(facts.figures):
            return function(facts, *args, **kwargs)

    return cast(Callable[Concatenate[H, P], R], call)
