"""Where the figures of a case come from, when they were read from a scan."""

from typing import Annotated

from pydantic import Field

from recommender.domain import vocabulary as v
from recommender.domain.measures import Degrees, IsoTooth, Millimetres, Record


class Scan(Record):
    """Marks of the scan that figures were read from; nothing of its mesh."""

    sha256: (
        Annotated[str, Field(pattern=r"^[0-9a-f]{64}$", description="64 hexadecimal digits in lower case")]
        | None
    ) = None
    triangles: Annotated[int, Field(ge=1, le=3_000_000)] | None = None
    edge_mm: Millimetres | None = None
    roughness_mm: Millimetres | None = None
    unit: v.ScanUnit | None = None
    unit_confirmed: bool | None = None
    side_confirmed: bool | None = None


class SurveyLevel(Record):
    by: v.LevelledBy | None = None
    confirmed: bool | None = None


Coordinate = Annotated[float, Field(ge=-500, le=500, allow_inf_nan=False)]


class Tripod(Record):
    """Three points for the bench: places on the cast, patient's left positive first, and their heights (mm)."""

    points_mm: (
        Annotated[
            list[Annotated[list[Coordinate], Field(min_length=3, max_length=3)]],
            Field(min_length=3, max_length=3),
        ]
        | None
    ) = None
    heights_level_mm: Annotated[list[Coordinate], Field(min_length=3, max_length=3)] | None = None


class SurveyPath(Record):
    tilt_ap_deg: Degrees | None = None
    tilt_lateral_deg: Degrees | None = None
    chosen_by: v.PathChosenBy | None = None
    tripod: Tripod | None = None


class Survey(Record):
    """Where the figures of ``abutments`` and ``spans`` come from, when they were read from a scan."""

    scan: Scan | None = None
    level: SurveyLevel | None = None
    path: SurveyPath | None = None
    method: Annotated[int, Field(ge=1, le=1000)] | None = None
    confirmed: list[IsoTooth] | None = None
