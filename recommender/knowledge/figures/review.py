"""``review.yaml``: how a prescription is held against the recommendation."""

from typing import Annotated, Literal

from pydantic import Field

from recommender.domain.case import Record

Points = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]


class ReviewFigures(Record):
    """``shared/review.yaml`` says what each is for."""

    format: Literal[1]
    agrees_within: Points
    acceptable_within: Points
    note: str
    reasons: Annotated[int, Field(ge=1, le=20)]
