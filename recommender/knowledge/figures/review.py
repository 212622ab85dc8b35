"""``review.yaml``: how a prescription is held against the recommendation."""

from typing import Annotated, Literal

from pydantic import Field

from recommender.domain.measures import Record

Points = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]


class SchoolPart(Record):
    """Options by which a school is known, and where: beside an extension, a tooth-borne space, or anywhere."""

    decision: Literal["retainer", "rest", "connector", "replacement"]
    options: Annotated[list[str], Field(min_length=1)]
    beside: Literal["extension", "tooth", "any"]


class School(Record):
    """A published school of design: its name, what it says, and where it is published."""

    id: str
    name: str
    says: str
    source: str
    parts: Annotated[list[SchoolPart], Field(min_length=1)]


class Wish(Record):
    """Phrases of a note, in small letters, and the criterion that answers them."""

    criterion: str
    phrases: Annotated[list[str], Field(min_length=1)]


class ReviewFigures(Record):
    """``shared/review.yaml`` says what each is for."""

    format: Literal[1]
    agrees_within: Points
    acceptable_within: Points
    note: str
    reasons: Annotated[int, Field(ge=1, le=20)]
    schools: list[School]
    wishes: list[Wish]
