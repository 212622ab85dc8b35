"""``preparation_costs.yaml``: what each preparation of a tooth does to its record, and what it costs."""

from typing import Annotated, Literal

from pydantic import Field

from recommender.domain.measures import Record

Millimetres = Annotated[float, Field(ge=0, le=20, allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0, le=1000)]


class Effect(Record):
    """What is written into the record at these kinds of surface: one of ``set``, ``spare``, ``at_least``, ``add``."""

    at: Annotated[list[str], Field(min_length=1)]
    field: str
    set: str | float | None = None
    spare: str | None = None
    at_least: Millimetres | None = None
    add: str | None = None


class Cost(Record):
    effects: list[Effect]
    enamel_mm: Millimetres | Literal["change"]
    visits: Count
    shared: bool
    source: str


class Costs(Record):
    """One entry for each preparation of the vocabulary."""

    rest_seat: Cost
    guiding_plane: Cost
    lower_contour_height: Cost
    create_undercut: Cost
    remove_undercut: Cost
    crown: Cost


class Search(Record):
    steps: Count
    looked_at: Count
    runs: Count
    options: Count


class PreparationFigures(Record):
    """``shared/preparation_costs.yaml`` says what each is for."""

    format: Literal[1]
    surfaces: dict[str, list[str]]
    usual_undercut_mm: Millimetres
    usual_undercut_source: str
    actions: Costs
    search: Search
