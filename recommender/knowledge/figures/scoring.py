"""``scoring.yaml``: the blend of rules and precedents, and what a precedent's outcome is worth."""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from recommender.domain import vocabulary as v
from recommender.domain.measures import Record

Worth = Annotated[float, Field(ge=-1, le=1, allow_inf_nan=False)]
Weight = Annotated[float, Field(ge=1e-9, le=1e6, allow_inf_nan=False)]
Months = Annotated[float, Field(ge=0, le=1200, allow_inf_nan=False)]


class WornMonths(Record):
    """From how many months on a precedent that was worn without an event counts as followed for some time, and as
    followed for long."""

    some: Months
    long: Months

    @model_validator(mode="after")
    def _rise(self) -> "WornMonths":
        if not self.some < self.long:
            raise ValueError("some before long")
        return self


class Scoring(Record):
    """The figures of the blend; ``shared/scoring.yaml`` says what each is for."""

    format: Literal[1]
    neighbours: Annotated[int, Field(ge=1, le=1000)]
    # a word of Python, and the key of the file: annotated by hand, read through ``lambda_``
    __annotations__["lambda"] = Weight
    kappa: Weight
    near_tie: Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)] = 0.0
    outcome_values: dict[str, Worth]
    worn_months: WornMonths
    worn_months_note: str = ""
    event_speaks_to: dict[str, list[v.EventKind]]

    @property
    def lambda_(self) -> float:
        """How much neutral evidence thin evidence is mixed with: the field ``lambda`` of the file."""
        found: float = getattr(self, "lambda")
        return found
