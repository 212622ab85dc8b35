"""``frameworks.yaml``: how parts add up to whole frameworks, and the rules between parts."""

from typing import Annotated, Literal

from pydantic import ConfigDict, Field

from recommender.domain import vocabulary as v
from recommender.domain.case import Record

Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Points = Annotated[float, Field(ge=0, le=1e6, allow_inf_nan=False)]
Millimetres = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0, le=32)]


class Weights(Record):
    retainer: Share
    connector: Share
    replacement: Share


class FurtherTooth(Record):
    cost: Points
    shortfall: Points
    each_side: Count


class Offers(Record):
    side_without_space: Count
    other_side: Count
    class_iv: Count


class Wanted(Record):
    least: Count
    most: Count
    each_modification: Count


class WantedByClass(Record):
    I: Wanted  # noqa: E741
    II: Wanted
    III: Wanted
    IV: Wanted


class BetweenParts(Record):
    """One rule between parts, as it is told."""

    model_config = ConfigDict(extra="allow", frozen=True, strict=False)

    text: str | None = None
    source: str


class Difference(Record):
    share: Share
    connectors: bool


class Bases(Record):
    relief_mm: Millimetres
    relief_source: str
    plate_height_tooth_mm: Millimetres
    plate_height_extension_mm: Millimetres
    plate_height_source: str
    retention: dict[v.Replacement, v.BaseRetention]


class FrameworkFigures(Record):
    """``shared/frameworks.yaml`` says what each is for. Words and further figures may stand beside these."""

    model_config = ConfigDict(extra="allow", frozen=True, strict=False)

    format: Literal[1]
    weights: Weights
    after_preparation: Points
    further_tooth: FurtherTooth
    offers_wanted: Offers
    retainers_wanted: WantedByClass
    retainers_wanted_source: str
    bounded_both_sides_least: Count
    rests_least: Count
    rests_area_least_cm2: Annotated[float, Field(ge=0, le=100)]
    force_balance_least: Share
    shared_embrasure_room_mm: Millimetres
    tie_break: Annotated[float, Field(ge=0, le=1)]
    mixed_space: Points
    frame_alloys: list[v.Alloy]
    preparation_order: list[v.PreparationAction]
    differences: list[Difference]
    retainer_kinds: list[str]
    bases: Bases
