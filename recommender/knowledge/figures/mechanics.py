"""``mechanics.yaml``: figures of the computing models that the published tables lack."""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from recommender.domain import vocabulary as v
from recommender.domain.measures import Record

Number = Annotated[float, Field(ge=-10_000, le=10_000, allow_inf_nan=False)]
Positive = Annotated[float, Field(gt=0, le=10_000, allow_inf_nan=False)]
Row = Annotated[str, Field(pattern=r"^[A-Z]{3,5}-\d{3}$")]
Band = Annotated[list[Number], Field(min_length=3, max_length=3)]
Two = Annotated[list[Number], Field(min_length=2, max_length=2)]
Figure = Row | Band
Found = Literal["page", "derived", "memory", "common_practice"]


class Block(Record):
    """A part of the file: every one says where it comes from."""

    source: str
    found: Found


class Outline(Record):
    facial: Positive
    lingual: Positive


class Outlines(Record):
    incisor: Outline
    canine: Outline
    premolar: Outline
    molar: Outline


class Arch(Block):
    outline: Outlines


class Material(Record):
    modulus: Figure
    proof: Figure
    density: Figure


class Alloys(Block):
    poisson: Annotated[float, Field(ge=0, le=0.5)]
    cobalt_chromium: Material
    nickel_chromium: Material
    titanium_cp: Material
    titanium_alloy: Material
    gold_type_iv: Material
    wrought_wire: Material
    acetal: Material
    peek: Material


class Section(Record):
    thickness: Figure
    width: Figure
    taper: Band


class BarSection(Section):
    length: Figure
    below_margin: Band
    rise: Band


class Arms(Block):
    cast: Section
    polymer: Section
    wire: Section
    bar: BarSection
    surface_share: Positive
    strut_share: Positive
    length_spread: Band
    turn_share: Band
    polymers: list[v.Alloy]


class Withdrawal(Block):
    friction: Annotated[float, Field(ge=0, le=2)]
    convergence_deg: Band
    polymer_excess: Band
    polymer_excess_source: str


class LayerEntry(Record):
    """A layer and its thickness: a row of the tables, or a band in mm."""

    layer: str
    row: Row | None = None
    mm: Band | None = None

    @model_validator(mode="after")
    def _one(self) -> "LayerEntry":
        if (self.row is None) == (self.mm is None):
            raise ValueError("either row or mm")
        return self


class ReplacementLayers(Block):
    resin_tooth_lattice: list[LayerEntry]
    resin_tooth_metal_base: list[LayerEntry]
    tube_tooth: list[LayerEntry]
    reinforced_resin: list[LayerEntry]
    metal_backed_facing: list[LayerEntry]
    resin_base_metal_occlusal: list[LayerEntry]
    metal_tooth: list[LayerEntry]
    leave_open: list[LayerEntry]


class ReplacementDepth(Block):
    metal_backed_facing: list[LayerEntry]
    facing_under_contact: Band
    metal_edge: Band


class Rests(Block):
    thickness: Band


class Support(Block):
    tooth_mm: Band
    mucosa_mm: Band
    base_sink_mm: Band


class Frequency(Record):
    high: Positive
    average: Positive
    low: Positive


class Smile(Block):
    high: Band
    average: Band
    low: Band
    frequency: Frequency
    drop_mm: Number
    drop_ages: Two
    reach: dict[int, Two]


class LowerSmile(Block):
    none: Band
    edges: Band
    crowns: Band
    unknown: Band


class RowsByArch(Record):
    maxilla: list[Row]
    mandible: list[Row]


class BandByArch(Record):
    maxilla: Band
    mandible: Band


class RestDisplay(Block):
    ages: list[Number]
    maxilla: list[Row]
    mandible: list[Row]
    young_age: Number
    young: RowsByArch
    women: BandByArch
    spread: Band
    less_by_position: dict[int, Number]
    typical_age: Number


class View(Block):
    aside_deg: list[Number]
    half_turn_deg: Positive


class SurveyLine(Block):
    gingival: Number
    middle: Number
    occlusal: Number
    short_arm_reach: Positive
    short_arm_level: Two


class ConnectorPart(Record):
    run: str
    place: Literal["front", "middle", "rear"] | None = None
    kind: Literal["rectangle", "half_round"]
    width: Band
    thickness: Band


class Radii(Record):
    front: Positive
    middle: Positive
    rear: Positive


class Fork(Record):
    """Shares of a fork's length: each leg, and the bridge between them."""

    leg: Annotated[float, Field(gt=0, lt=1)]
    bridge: Annotated[float, Field(gt=0, lt=1)]


class Room(Record):
    floor: Band | None = None
    sulcus: Band | None = None
    crown: Band | None = None
    palate: Band | None = None
    behind_torus: Band | None = None


class Connectors(Block):
    tolerance_mm: Positive
    margin_mm: Positive
    palate_radius_mm: Radii
    strip_share: Positive
    side_share: Annotated[float, Field(gt=0, le=1)]
    fork: Fork
    vault: Band
    frame_step_mm: Positive
    base_lever_mm: Positive
    maxilla: dict[v.Connector, list[ConnectorPart]]
    mandible: dict[v.Connector, list[ConnectorPart]]
    room: dict[v.Connector, Room]


class OrdinaryArm(Record):
    reach: Positive
    level: Two


class Shows(Block):
    hidden_under: Annotated[float, Field(ge=0, le=1)]
    clear_from: Annotated[float, Field(ge=0, le=1)]
    arm: OrdinaryArm
    crown_share: Band


class MechanicsFigures(Record):
    """``shared/mechanics.yaml`` says what each is for."""

    format: Literal[1]
    arch: Arch
    alloys: Alloys
    arms: Arms
    withdrawal: Withdrawal
    replacement_layers: ReplacementLayers
    replacement_depth: ReplacementDepth
    rests: Rests
    support: Support
    smile: Smile
    lower_smile: LowerSmile
    rest_display: RestDisplay
    view: View
    survey_line: SurveyLine
    connectors: Connectors
    shows: Shows
