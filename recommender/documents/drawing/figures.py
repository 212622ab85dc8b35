"""Sizes, tooth forms, paper and words of the drawing, from ``shared/drawing.yaml``."""

from collections.abc import Mapping
from functools import cache
from typing import Any

from recommender.resources import read_yaml, shared


@cache
def _document() -> dict[str, Any]:
    loaded: dict[str, Any] = read_yaml(shared("drawing.yaml").read_bytes())
    return loaded


def block(name: str) -> Mapping[str, Any]:
    """One block of the file; ``KeyError`` if there is no such block."""
    found: Mapping[str, Any] = _document()[name]
    return found


@cache
def size(name: str) -> float:
    """A size in mm, or a share of the crown where its name says so."""
    return float(block("sizes")[name][0])


@cache
def paper(name: str) -> float:
    """A size on paper (mm)."""
    return float(block("paper")[name])
