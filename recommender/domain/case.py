"""A case: one arch of one patient, as validated values (case format, version 1).

Every field carries the name it has in the file. ``None`` always means *not recorded*, never zero, none or
no; an empty list that was written down is a recorded "none of them". A measured number may be an ``Interval``.
Lengths are millimetres, ages years,
angles degrees. Reading from text, with errors that name file and line, is ``recommender.domain.reader``;
checks across fields are ``recommender.domain.checks``.
"""

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from recommender.domain import vocabulary as v


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


class Patient(Record):
    age: Age | None = None
    sex: v.Sex | None = None
    smile_line: v.SmileLine | None = None
    lower_display: v.LowerDisplay | None = None
    incisor_display_mm: IncisorDisplay | DisplayInterval | None = None
    last_tooth_in_smile: IsoTooth | None = None
    aesthetic_priority: v.Level3 | None = None
    hygiene: v.Hygiene | None = None
    caries_risk: v.Level3 | None = None
    dry_mouth: bool | None = None
    allergy: list[v.Allergen] | None = None
    gag_reflex: bool | None = None
    swallowing_risk: bool | None = None
    dexterity: v.Dexterity | None = None
    antiresorptive: bool | None = None
    jaw_radiotherapy: bool | None = None


class Occlusion(Record):
    opposing: v.Opposing | None = None
    opposing_material: v.OpposingMaterial | None = None
    overbite: v.Overbite | None = None
    overbite_mm: OverbiteDepth | OverbiteInterval | None = None
    overjet_mm: OverjetDepth | OverjetInterval | None = None
    load: v.Load | None = None
    guidance: v.Guidance | None = None
    contacts: dict[IsoTooth, list[v.Contact]] | None = None


class Records(Record):
    cast: v.SurveyedCast | None = None
    mounting: v.Mounting | None = None
    altered_cast: bool | None = None
    tilt_ap_deg: Degrees | DegreeInterval | None = None
    tilt_lateral_deg: Degrees | DegreeInterval | None = None
    tripod_marked: bool | None = None


class Span(Record):
    """One edentulous space that is being restored."""

    teeth: Annotated[list[IsoTooth], Field(min_length=1)]
    clearance_mm: Length | dict[IsoTooth, Length] | None = None
    width_mm: Length | None = None
    facial_depth_mm: Length | None = None
    set_teeth: Annotated[int, Field(ge=0, le=16)] | None = None
    ridge: v.Ridge | None = None
    ridge_loss: v.RidgeLoss | None = None
    months_since_extraction: Months | MonthInterval | None = None
    tissue_undercut: bool | None = None


class Undercuts(Record):
    """Deepest gauge that touches, by zone of the crown (mm)."""

    mesiofacial: Undercut | None = None
    midfacial: Undercut | None = None
    distofacial: Undercut | None = None
    mesiolingual: Undercut | None = None
    midlingual: Undercut | None = None
    distolingual: Undercut | None = None
    mesial: Undercut | None = None
    distal: Undercut | None = None


class ContourZones(Record):
    """Survey line by zone of the facial (or lingual) surface."""

    mesiofacial: v.ContourLevel | None = None
    midfacial: v.ContourLevel | None = None
    distofacial: v.ContourLevel | None = None
    mesiolingual: v.ContourLevel | None = None
    midlingual: v.ContourLevel | None = None
    distolingual: v.ContourLevel | None = None


class ProximalRoom(Record):
    mesial: Length | None = None
    distal: Length | None = None


class RestRoom(Record):
    mesial: Length | None = None
    distal: Length | None = None
    cingulum: Length | None = None
    incisal: Length | None = None


class Abutment(Record):
    tooth: IsoTooth
    kind: v.AbutmentKind | None = None
    undercuts_mm: Undercuts | None = None
    undercuts_level_mm: Undercuts | None = None
    crown_height_mm: Length | None = None
    contour_height: v.ContourLevel | ContourZones | None = None
    contour_height_lingual: v.ContourLevel | ContourZones | None = None
    lingual_clearance_mm: Length | None = None
    embrasure_clearance_mm: ProximalRoom | None = None
    recession_mm: Length | None = None
    mobility: Annotated[int, Field(ge=0, le=3)] | None = None
    bone_support: v.BoneSupport | None = None
    probing_mm: Length | None = None
    disease: v.Disease | None = None
    restoration: v.Restoration | None = None
    crown_material: v.CrownMaterial | None = None
    rest_seats: list[v.RestSeat] | None = None
    rest_clearance_mm: Length | RestRoom | None = None
    opposing_adjustable: bool | None = None
    guiding_planes: list[v.GuidingPlane] | None = None
    tilt: v.Tilt | None = None
    vestibule_depth_mm: Length | None = None
    tissue_undercut: bool | None = None
    frenum_near: bool | None = None
    preparable: bool | None = None
    permitted: list[v.PreparationAction] | None = None


class Palate(Record):
    rugae: v.Rugae | None = None
    torus: v.PalateTorus | None = None
    torus_to_vibrating_line_mm: Length | None = None
    vault: v.Vault | None = None
    length_mm: Length | None = None
    tissue_undercut: bool | None = None
    future_loss_likely: bool | None = None


class FloorDepth(Record):
    incisor: Length | None = None
    canine: Length | None = None
    premolar: Length | None = None
    molar: Length | None = None


class Floor(Record):
    depth_mm: Length | FloorDepth | None = None
    torus: v.FloorTorus | None = None
    lingual_tilt: bool | None = None
    lingual_frenum: v.Frenum | None = None
    tissue_undercut: bool | None = None
    labial_sulcus_mm: Length | None = None
    labial_undercut: bool | None = None
    spaces_between_anteriors: bool | None = None
    open_cervical_embrasures: bool | None = None
    future_loss_likely: bool | None = None


class RuledOut(Record):
    """What the dentist does not want; ``any`` for a tooth: no clasp of any kind."""

    retainers: dict[IsoTooth, list[v.Retainer | Literal["any"]]] | None = None
    connector: list[v.Connector] | None = None
    replacements: dict[IsoTooth, list[v.Replacement]] | None = None


class Prescription(Record):
    retainers: dict[IsoTooth, v.Retainer] | None = None
    connector: v.Connector | None = None
    replacements: dict[IsoTooth, v.Replacement] | None = None
    rests: dict[IsoTooth, v.Rest] | None = None
    alloy: v.Alloy | None = None
    note: Text | None = None
    # a word of Python, and the key of the file: annotated by hand, read through ``ruled_out``
    __annotations__["not"] = RuledOut | None
    vars()["not"] = None

    @property
    def ruled_out(self) -> RuledOut | None:
        """What the dentist ruled out: the field ``not`` of the file."""
        found: RuledOut | None = getattr(self, "not")
        return found


class UsedUndercut(Record):
    zone: v.Zone
    mm: UndercutDepth | None = None


class DesignRetainer(Record):
    tooth: IsoTooth
    assembly: v.Retainer
    approach: v.Side | None = None
    partner: IsoTooth | None = None
    rest: v.Rest | None = None
    undercut: UsedUndercut | None = None
    alloy: v.Alloy | None = None
    attached: v.Attached | None = None


class ToothRest(Record):
    tooth: IsoTooth
    rest: v.Rest


class MinorConnector(Record):
    tooth: IsoTooth
    site: v.RestSeat | Literal["lingual"]


class ProximalPlate(Record):
    tooth: IsoTooth
    surface: v.Side
    height_mm: Millimetres | None = None


class Plating(Record):
    teeth: list[IsoTooth]
    step_back: bool | None = None


class Base(Record):
    teeth: list[IsoTooth]
    retention: v.BaseRetention | None = None
    relief_mm: Millimetres | None = None
    tissue_stop: bool | None = None
    flange: bool | None = None


class Preparation(Record):
    tooth: IsoTooth
    surface: Annotated[str, Field(max_length=40)] | None = None
    action: v.PreparationAction


class Design(Record):
    """A framework: a stored precedent's, one to be reviewed, or the tool's own proposal."""

    connector: v.Connector | None = None
    alloy: v.Alloy | None = None
    fabrication: v.Fabrication | None = None
    retainers: list[DesignRetainer] | None = None
    rests: dict[IsoTooth, v.Rest] | None = None
    indirect_retainers: list[ToothRest] | None = None
    minor_connectors: list[MinorConnector] | None = None
    proximal_plates: list[ProximalPlate] | None = None
    plating: list[Plating] | None = None
    bases: list[Base] | None = None
    replacements: dict[IsoTooth, v.Replacement] | None = None
    preparation: list[Preparation] | None = None


class DentistAnswer(Record):
    item: Annotated[str, Field(max_length=100)]
    answer: v.Answer
    reason: Text | None = None


class Event(Record):
    month: Months | None = None
    event: v.EventKind
    tooth: IsoTooth | None = None
    part: Annotated[str, Field(max_length=100)] | None = None


class Outcome(Record):
    accepted: bool | None = None
    followed_months: Months | None = None
    still_worn: bool | None = None
    events: list[Event] | None = None
    satisfaction: Annotated[int, Field(ge=1, le=5)] | None = None


class Review(Record):
    status: v.ReviewStatus | None = None
    reason: Text | None = None
    teaching_note: Text | None = None


class Scan(Record):
    """Marks of the scan that figures were read from; nothing of its mesh."""

    sha256: (
        Annotated[str, Field(pattern=r"^[0-9a-f]{64}$", description="64 hexadecimal digits in lower case")] | None
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


class Case(Record):
    """One arch of one patient. Only ``format``, ``id``, ``arch`` and ``missing`` are required.

    Tooth numbers are ISO 3950. A tooth that is not in ``missing``, ``absent`` or ``planned_extractions``
    stands.
    """

    format: Literal[1]
    id: Annotated[
        str, Field(pattern=r"^[A-Za-z0-9_-]{1,80}$", description="1 to 80 letters, digits, - and _")
    ]
    title: Text | None = None
    arch: v.Arch
    missing: list[IsoTooth]
    absent: list[IsoTooth] | None = None
    planned_extractions: list[IsoTooth] | None = None
    future_loss_likely: list[IsoTooth] | None = None
    asked: list[FieldPath] | None = None
    patient: Patient | None = None
    occlusion: Occlusion | None = None
    records: Records | None = None
    spans: list[Span] | None = None
    abutments: list[Abutment] | None = None
    palate: Palate | None = None
    floor: Floor | None = None
    survey: Survey | None = None
    prescription: Prescription | None = None
    design: Design | None = None
    dentist_answer: list[DentistAnswer] | None = None
    outcome: Outcome | None = None
    review: Review | None = None
    source: Text | None = None
