"""Weights, limits and figures of ``shared/survey.yaml``: the packaged ones, unless a caller puts others in force."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from typing import Any

import yaml

from recommender.resources import shared

_IN_FORCE: ContextVar[Mapping[str, Any] | None] = ContextVar("survey_figures", default=None)


@contextmanager
def in_force(figures: Mapping[str, Any] | None) -> Iterator[None]:
    """These figures count inside the block, in this thread; ``None`` changes nothing."""
    if figures is None:
        yield
        return
    token = _IN_FORCE.set(figures)
    try:
        yield
    finally:
        _IN_FORCE.reset(token)


def settings() -> Mapping[str, Any]:
    """The whole file as it counts now; numbers in mm and degrees unless a name says otherwise."""
    figures = _IN_FORCE.get()
    return _packaged() if figures is None else figures


@cache
def _packaged() -> Mapping[str, Any]:
    with shared("survey.yaml").open(encoding="utf-8") as file:
        loaded: dict[str, Any] = yaml.load(file, Loader=yaml.CSafeLoader)
    return loaded
