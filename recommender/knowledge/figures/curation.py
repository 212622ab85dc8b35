"""``curation/*.yaml``: what an educator's reports and exercises weigh by."""

from typing import Annotated, Literal

from pydantic import Field

from recommender.domain import vocabulary as v
from recommender.domain.measures import Record

Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0, le=100_000)]
Points = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
Kennedy = Literal["I", "II", "III", "IV"]


class ConflictFigures(Record):
    """``conflicts.yaml``: when two decisions count as the same situation with another choice."""

    format: Literal[1]
    alike: Share
    recorded: Share
    neighbours: Annotated[int, Field(ge=1, le=1000)]


class ArchShare(Record):
    maxilla: Share
    mandible: Share


class CoverageFigures(Record):
    """``coverage.yaml``: what a library's coverage is weighed against."""

    format: Literal[1]
    class_frequency: dict[Kennedy, str]
    assumed: str = ""
    arch_share: ArchShare
    modification_bands: dict[Kennedy, list[Count]]
    thin_below: Count
    seldom_below: Share


class ExerciseFigures(Record):
    """``exercises.yaml``: how answers are judged and the next exercise is chosen."""

    format: Literal[1]
    close: Points
    wide: Points
    precedents: Count
    told: Count
    counts: Points
    recall: Annotated[float, Field(ge=0.7, le=0.97)]
    leaves: Annotated[int, Field(ge=1, le=3650)]
    candidates: Annotated[int, Field(ge=1, le=1000)]


Positive = Annotated[float, Field(gt=0, le=1e6, allow_inf_nan=False)]


class KappaRange(Record):
    least: Positive
    most: Positive


class HouseFigures(Record):
    """``house.yaml``: how a house profile is learned from a library."""

    format: Literal[1]
    folds: Annotated[int, Field(ge=2, le=50)]
    inner_folds: Annotated[int, Field(ge=2, le=50)]
    lines: Annotated[list[Count], Field(min_length=1)]
    ridge: Positive
    ridge_precedents: Positive
    ridge_likeness: Positive
    least_cases: Count
    least_decisions: Count
    most_counts: Positive
    least_weight: Positive
    neighbours: Annotated[list[Annotated[int, Field(ge=1, le=1000)]], Field(min_length=1)]
    kappa: KappaRange
    multipliers: Annotated[list[Annotated[float, Field(ge=0, le=100)]], Field(min_length=1)]
    resamples: Annotated[int, Field(ge=100, le=1_000_000)]
    interval: Annotated[float, Field(gt=0, lt=1)]
    adopt_below: Annotated[float, Field(gt=0, lt=0.5)]
    most_cases: Annotated[int, Field(ge=1)]
    cuts: Annotated[int, Field(ge=1, le=50)]
    family: Annotated[int, Field(ge=1, le=50)]
    groups: dict[str, list[str]]


class FailureDefinition(Record):
    id: str
    label: str
    text: str
    events: list[v.EventKind]


class TooFew(Record):
    units: Count
    at_risk: Count


class SurvivalFigures(Record):
    """``survival.yaml``: what counts as failure, and when there is too little to say anything."""

    format: Literal[1]
    default: str
    whole: list[v.EventKind]
    definitions: Annotated[list[FailureDefinition], Field(min_length=1)]
    too_few: TooFew
    confidence: Annotated[float, Field(gt=0, lt=1)]
    months: list[Annotated[float, Field(gt=0, le=1200)]]
