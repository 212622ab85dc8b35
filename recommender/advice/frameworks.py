"""Whole frameworks from the ranked parts."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

from recommender.advice.model import Decision, DecisionResult, Framework, Seat

if TYPE_CHECKING:
    from recommender.advice.recommend import Working


def assemble(
    working: "Working", results: Mapping[Decision, DecisionResult], seats: tuple[Seat, ...], count: int
) -> tuple[Framework, ...]:
    """The best ``count`` whole frameworks, best first."""
    return ()
