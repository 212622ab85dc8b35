"""``display.yaml``: figures behind a few facts."""

from typing import Annotated, Literal

from pydantic import Field

from recommender.domain.measures import Record

Position = Annotated[int, Field(ge=0, le=9)]


class Seen(Record):
    """Positions from the midline up to which lower teeth are seen, and from which they are not."""

    seen_to: Position
    hidden_from: Position


class LowerDisplay(Record):
    none: Seen
    edges: Seen
    crowns: Seen


class Doubtful(Record):
    """From which grades of mobility a tooth is doubtful, weak, weak at the front, and carries nothing; and the bone."""

    mobility: Annotated[int, Field(ge=1, le=3)]
    weak_mobility: Annotated[int, Field(ge=1, le=3)]
    weak_front_mobility: Annotated[int, Field(ge=1, le=3)]
    carries_nothing_mobility: Annotated[int, Field(ge=1, le=3)]
    bone: list[Literal["good", "reduced", "poor"]]
    reduced_bone: list[Literal["good", "reduced", "poor"]]
    source: str


class Display(Record):
    """``shared/display.yaml`` says what each is for."""

    format: Literal[1]
    lower_display: LowerDisplay
    lower_display_source: str
    recent_extraction_months: Annotated[float, Field(ge=0, le=1200)]
    recent_extraction_source: str
    long_front_space_teeth: Annotated[int, Field(ge=1, le=16)]
    long_front_space_source: str
    plate_rest_positions: Annotated[list[Annotated[int, Field(ge=1, le=8)]], Field(min_length=1)]
    plate_rest_source: str
    doubtful_tooth: Doubtful
