"""The numbers of the case format with their limits and units, and intervals of them.

Lengths are millimetres, ages years, angles degrees.
"""

from dataclasses import dataclass
from typing import Annotated, Literal, TypeGuard

from pydantic import BaseModel, ConfigDict, Field, model_validator


@dataclass(frozen=True, slots=True)
class ToothNumber:
    """Marks a number of the format as a tooth, so that numbering and mirror images find every one of them."""


IsoTooth = Annotated[int, Field(ge=11, le=48), ToothNumber()]
Millimetres = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
UndercutDepth = Annotated[float, Field(ge=0, le=5, allow_inf_nan=False)]
Degrees = Annotated[float, Field(ge=-45, le=45, allow_inf_nan=False)]
Months = Annotated[float, Field(ge=0, le=1200, allow_inf_nan=False)]
IncisorDisplay = Annotated[float, Field(ge=-10, le=20, allow_inf_nan=False)]
OverbiteDepth = Annotated[float, Field(ge=-20, le=20, allow_inf_nan=False)]
OverjetDepth = Annotated[float, Field(ge=-20, le=30, allow_inf_nan=False)]
FieldPath = Annotated[str, Field(min_length=1, max_length=120)]
Age = Annotated[int, Field(ge=0, le=89)] | Literal["90+"]
Text = Annotated[str, Field(max_length=5000)]


def is_number(value: object) -> TypeGuard[float]:
    """Whether a value is a number: yes and no are none."""
    return isinstance(value, (int, float)) and not isinstance(value, bool)


class Record(BaseModel):
    """Base of every part of a case: unknown keys are errors, values are never changed after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=False)


class Interval(Record):
    """A measured number with its bounds, in the unit of its field: ``low <= value <= high``.

    Stands wherever the format has a measured number, within the same limits. ``ValueError`` where the three
    do not rise.
    """

    low: float
    value: float
    high: float

    def __str__(self) -> str:
        return f"{self.value:g} ({self.low:g} to {self.high:g})"

    @model_validator(mode="after")
    def _rises(self) -> "Interval":
        if not self.low <= self.value <= self.high:
            raise ValueError("an interval with low <= value <= high")
        return self


def expected(measured: "Measured") -> float:
    """The one number to work with where a single one is needed: an interval's ``value``."""
    return measured.value if isinstance(measured, Interval) else measured


class MillimetreInterval(Interval):
    low: Millimetres
    value: Millimetres
    high: Millimetres


class UndercutInterval(Interval):
    low: UndercutDepth
    value: UndercutDepth
    high: UndercutDepth


class DegreeInterval(Interval):
    low: Degrees
    value: Degrees
    high: Degrees


class MonthInterval(Interval):
    low: Months
    value: Months
    high: Months


class DisplayInterval(Interval):
    low: IncisorDisplay
    value: IncisorDisplay
    high: IncisorDisplay


class OverbiteInterval(Interval):
    low: OverbiteDepth
    value: OverbiteDepth
    high: OverbiteDepth


class OverjetInterval(Interval):
    low: OverjetDepth
    value: OverjetDepth
    high: OverjetDepth


Length = Millimetres | MillimetreInterval
Undercut = UndercutDepth | UndercutInterval
Measured = float | Interval
