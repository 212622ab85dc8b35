"""``frameworks.yaml``: how parts add up to frameworks, the rules between parts, where parts lie round a crown.

Judgements are the project's own unless a source stands beside them in the file.
"""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from recommender.domain import vocabulary as v
from recommender.domain.measures import Record

Points = Annotated[float, Field(ge=0, le=1e6, allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)]
Figure = Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]
Degrees = Annotated[float, Field(ge=0, le=360, allow_inf_nan=False)]
Millimetres = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0, le=32)]
Place = Annotated[int, Field(ge=1, le=8)]


class RuleBetweenParts(Record):
    """One rule between parts as data: its kind and price, its figures, its source, and what the price rests on.

    ``must``: broken only where no choice of parts keeps it; points of a framework's score for each breach.
    ``want``: points of one retainer's score that a breach is worth. ``always``: never broken. ``told``: looked
    at on the finished framework, moves no choice.
    """

    kind: Literal["must", "want", "always", "told"]
    price: Points = 0.0
    figures: dict[str, Figure] = Field(default_factory=dict)
    source: str
    price_note: str = ""

    @model_validator(mode="after")
    def _priced(self) -> "RuleBetweenParts":
        if (self.kind in ("must", "want")) != (self.price > 0):
            raise ValueError("a must and a want have a price above 0, and nothing else has one")
        return self


class CrownFigures(Record):
    """Where parts lie round a crown, in degrees from the near end over the facial (``advice/frameworks/crown.py``)."""

    zones: dict[str, Degrees]
    rest: Degrees
    plate_facial: Degrees
    plate_lingual: Degrees
    upright_from: Degrees
    upright_to: Degrees
    lingual: Degrees
    plated: Degrees
    bar_tip: Degrees
    facial_brace: Degrees
    brace_short: Degrees
    opposed_within: Degrees
    opposed_beside: Degrees
    gap_below: Degrees
    source: str


class SeatingFigures(Record):
    """How far a tip travels from its first touch to its seat, and for how long rigid metal guides the tooth, in mm.

    ``line``: where a survey line lies within the crown, as a share of its height.
    """

    line: dict[str, float]
    above_gum_mm: Millimetres
    flattest_deg: Degrees
    crown_mm: Millimetres
    plate_mm: Millimetres
    least_set_mm: Millimetres
    source: str


class RoomFigures(Record):
    """Least thickness of metal in recorded room, in mm."""

    least_mm: Millimetres
    shared_embrasure_mm: Millimetres
    source: str


class Offers(Record):
    side_without_space: Count
    other_side: Count
    class_iv: Count


class Places(Record):
    """Which further teeth are looked at, as places from the midline (1 to 8)."""

    nearest: Place
    forward_to: Place
    last_of_all: Place
    last_resort: Place


class FurtherTeeth(Record):
    """What a tooth costs that the case does not consider, and how many are looked at on a side."""

    cost: Points
    shortfall: Share
    each_side: Count
    offers_wanted: Offers
    places: Places


class FarBehind(Record):
    """From how far behind a tooth's leading option others are looked at only while fewer than ``enough`` do
    the same.
    """

    points: Points
    enough: Count


class Weights(Record):
    retainer: Share
    connector: Share
    replacement: Share


class Difference(Record):
    """How much a runner-up has to differ: the share of retained teeth with another kind, or the connector alone."""

    share: Share
    connectors: bool


class RunnerUps(Record):
    """How runner-ups should differ from the first framework, in the order wanted, and at what price."""

    ways: list[Literal["connector", "less_in_view", "less_preparation"]]
    most_given_up: Points
    view_differs_by: Share


class BaseFigures(Record):
    relief_mm: Millimetres
    relief_source: str
    plate_height_tooth_mm: Millimetres
    plate_height_extension_mm: Millimetres
    plate_height_source: str
    retention: dict[v.Replacement, v.BaseRetention]


class FrameworkFigures(Record):
    """Everything in ``shared/frameworks.yaml``."""

    format: Literal[1]
    weights: Weights
    weights_note: str
    after_preparation: Points
    after_preparation_note: str
    further_tooth: FurtherTeeth
    far_behind: FarBehind
    tie_break: Share
    rules: dict[str, RuleBetweenParts]
    crown: CrownFigures
    seating: SeatingFigures
    room: RoomFigures
    mixed_space: Points
    mixed_space_note: str
    frame_alloys: list[v.Alloy]
    frame_alloys_note: str
    frame_alloys_on_prescription: list[v.Alloy]
    indirect_seats: dict[v.ToothType, list[v.RestSeat]]
    indirect_seats_source: str
    preparation_order: list[v.PreparationAction]
    preparation_order_source: str
    runner_ups: RunnerUps
    differences: list[Difference]
    retainer_kinds: list[str]
    bases: BaseFigures
