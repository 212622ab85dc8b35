"""``confidence.yaml``: how sure an answer is, and how what would change it is searched."""

from typing import Annotated, Literal

from pydantic import Field

from recommender.domain.measures import Record

Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0, le=100_000)]
Level = Literal["very_low", "low", "moderate", "high"]
Number = Annotated[float, Field(ge=-1000, le=1000, allow_inf_nan=False)]


class ByWords(Record):
    words: Annotated[list[str], Field(min_length=1)]
    level: Level


class ByFound(Record):
    page: Level
    memory: Level
    common_practice: Level


class Margin(Record):
    """What a lead below so many points is called; the last has no limit."""

    below: Annotated[float, Field(gt=0, le=100)] | None = None
    lead: str


class Search(Record):
    facts_runs: Count
    gaps_runs: Count
    field_runs: Count
    gauged: list[str]
    grids: dict[str, list[Number]]
    resolution: dict[str, Annotated[float, Field(gt=0, le=100)]]


class ConfidenceFigures(Record):
    """``shared/confidence.yaml`` says what each is for."""

    format: Literal[1]
    source: str
    levels: list[Level]
    by_words: list[ByWords]
    by_found: ByFound
    precedent: Level
    catalogue: Level
    unsourced_most: Level
    share_carried: Share
    steps_down: list[Literal["disagreement", "imprecision", "disputed", "outside"]]
    outside_below: Share
    sampled: Annotated[int, Field(ge=1, le=100_000)]
    near_precedent: Share
    margin_words: Annotated[list[Margin], Field(min_length=1)]
    weight_told_to: Share
    values_told: Count
    search: Search
