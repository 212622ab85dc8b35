"""A case: one arch of one patient, as validated values (case format, version 1).

Every field carries the name it has in the file. ``None`` always means *not recorded*, never zero, none or
no; an empty list that was written down is a recorded "none of them". Lengths are millimetres, ages years,
angles degrees. Reading from text, with errors that name file and line, is ``recommender.domain.reader``;
checks across fields are ``recommender.domain.checks``.
"""

from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from recommender.domain import vocabulary as v


@dataclass(frozen=True, slots=True)
class ToothNumber:
    """Marks a number of the format as a tooth, so that numbering and mirror images find every one of them."""


IsoTooth = Annotated[int, Field(ge=11, le=48), ToothNumber()]
Millimetres = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
UndercutDepth = Annotated[float, Field(ge=0, le=5, allow_inf_nan=False)]
Degrees = Annotated[float, Field(ge=-45, le=45, allow_inf_nan=False)]
Age = Annotated[int, Field(ge=0, le=89)] | Literal["90+"]
Text = Annotated[str, Field(max_length=5000)]


class Record(BaseModel):
    """Base of every part of a case: unknown keys are errors, values are never changed after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=False)


class Patient(Record):
    age: Age | None = None
    sex: v.Sex | None = None
    smile_line: v.SmileLine | None = None
    lower_display: v.LowerDisplay | None = None
    incisor_display_mm: Annotated[float, Field(ge=-10, le=20, allow_inf_nan=False)] | None = None
    last_tooth_in_smile: IsoTooth | None = None
    aesthetic_priority: v.Level3 | None = None
    hygiene: v.Hygiene | None = None
    caries_risk: v.Level3 | None = None
    dry_mouth: bool | None = None
    allergy: list[v.Allergen] | None = None
    gag_reflex: bool | None = None
    swallowing_risk: bool | None = None
    dexterity: v.Dexterity | None = None


class Occlusion(Record):
    opposing: v.Opposing | None = None
    opposing_material: v.OpposingMaterial | None = None
    overbite: v.Overbite | None = None
    overbite_mm: Annotated[float, Field(ge=-20, le=20, allow_inf_nan=False)] | None = None
    overjet_mm: Annotated[float, Field(ge=-20, le=30, allow_inf_nan=False)] | None = None
    load: v.Load | None = None
    guidance: v.Guidance | None = None
    contacts: dict[IsoTooth, list[v.Contact]] | None = None


class Records(Record):
    mounting: v.Mounting | None = None
    altered_cast: bool | None = None
    tilt_ap_deg: Degrees | None = None
    tilt_lateral_deg: Degrees | None = None
    tripod_marked: bool | None = None


class Span(Record):
    """One edentulous space that is being restored."""

    teeth: Annotated[list[IsoTooth], Field(min_length=1)]
    clearance_mm: Millimetres | dict[IsoTooth, Millimetres] | None = None
    width_mm: Millimetres | None = None
    facial_depth_mm: Millimetres | None = None
    set_teeth: Annotated[int, Field(ge=0, le=16)] | None = None
    ridge: v.Ridge | None = None
    ridge_loss: v.RidgeLoss | None = None
    months_since_extraction: Annotated[float, Field(ge=0, le=1200, allow_inf_nan=False)] | None = None
    tissue_undercut: bool | None = None


class Undercuts(Record):
    """Deepest gauge that touches, by zone of the crown (mm)."""

    mesiofacial: UndercutDepth | None = None
    midfacial: UndercutDepth | None = None
    distofacial: UndercutDepth | None = None
    mesiolingual: UndercutDepth | None = None
    midlingual: UndercutDepth | None = None
    distolingual: UndercutDepth | None = None
    mesial: UndercutDepth | None = None
    distal: UndercutDepth | None = None


class ContourZones(Record):
    """Survey line by zone of the facial (or lingual) surface."""

    mesiofacial: v.ContourLevel | None = None
    midfacial: v.ContourLevel | None = None
    distofacial: v.ContourLevel | None = None
    mesiolingual: v.ContourLevel | None = None
    midlingual: v.ContourLevel | None = None
    distolingual: v.ContourLevel | None = None


class ProximalRoom(Record):
    mesial: Millimetres | None = None
    distal: Millimetres | None = None


class RestRoom(Record):
    mesial: Millimetres | None = None
    distal: Millimetres | None = None
    cingulum: Millimetres | None = None
    incisal: Millimetres | None = None


class Abutment(Record):
    tooth: IsoTooth
    kind: v.AbutmentKind | None = None
    undercuts_mm: Undercuts | None = None
    undercuts_level_mm: Undercuts | None = None
    crown_height_mm: Millimetres | None = None
    contour_height: v.ContourLevel | ContourZones | None = None
    contour_height_lingual: v.ContourLevel | ContourZones | None = None
    lingual_clearance_mm: Millimetres | None = None
    embrasure_clearance_mm: ProximalRoom | None = None
    recession_mm: Millimetres | None = None
    mobility: Annotated[int, Field(ge=0, le=3)] | None = None
    bone_support: v.BoneSupport | None = None
    probing_mm: Millimetres | None = None
    disease: v.Disease | None = None
    restoration: v.Restoration | None = None
    crown_material: v.CrownMaterial | None = None
    rest_seats: list[v.RestSeat] | None = None
    rest_clearance_mm: Millimetres | RestRoom | None = None
    opposing_adjustable: bool | None = None
    guiding_planes: list[v.GuidingPlane] | None = None
    tilt: v.Tilt | None = None
    vestibule_depth_mm: Millimetres | None = None
    tissue_undercut: bool | None = None
    frenum_near: bool | None = None
    preparable: bool | None = None
    permitted: list[v.PreparationAction] | None = None


class Palate(Record):
    rugae: v.Rugae | None = None
    torus: v.PalateTorus | None = None
    torus_to_vibrating_line_mm: Millimetres | None = None
    vault: v.Vault | None = None
    length_mm: Millimetres | None = None
    tissue_undercut: bool | None = None
    future_loss_likely: bool | None = None


class FloorDepth(Record):
    incisor: Millimetres | None = None
    canine: Millimetres | None = None
    premolar: Millimetres | None = None
    molar: Millimetres | None = None


class Floor(Record):
    depth_mm: Millimetres | FloorDepth | None = None
    torus: v.FloorTorus | None = None
    lingual_tilt: bool | None = None
    lingual_frenum: v.Frenum | None = None
    tissue_undercut: bool | None = None
    labial_sulcus_mm: Millimetres | None = None
    labial_undercut: bool | None = None
    spaces_between_anteriors: bool | None = None
    open_cervical_embrasures: bool | None = None
    future_loss_likely: bool | None = None


class Prescription(Record):
    retainers: dict[IsoTooth, v.Retainer] | None = None
    connector: v.Connector | None = None
    replacements: dict[IsoTooth, v.Replacement] | None = None
    rests: dict[IsoTooth, v.Rest] | None = None
    alloy: v.Alloy | None = None
    note: Text | None = None


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
    month: Annotated[float, Field(ge=0, le=1200, allow_inf_nan=False)] | None = None
    event: v.EventKind
    tooth: IsoTooth | None = None
    part: Annotated[str, Field(max_length=100)] | None = None


class Outcome(Record):
    accepted: bool | None = None
    followed_months: Annotated[float, Field(ge=0, le=1200, allow_inf_nan=False)] | None = None
    still_worn: bool | None = None
    events: list[Event] | None = None
    satisfaction: Annotated[int, Field(ge=1, le=5)] | None = None


class Review(Record):
    status: v.ReviewStatus | None = None
    reason: Text | None = None
    teaching_note: Text | None = None


class Case(Record):
    """One arch of one patient. Only ``format``, ``id``, ``arch`` and ``missing`` are required.

    Tooth numbers are ISO 3950. A tooth that is not in ``missing``, ``absent`` or ``planned_extractions``
    stands.
    """

    format: Literal[1]
    id: Annotated[str, Field(pattern=r"^[A-Za-z0-9_-]{1,80}$")]
    title: Text | None = None
    arch: v.Arch
    missing: list[IsoTooth]
    absent: list[IsoTooth] | None = None
    planned_extractions: list[IsoTooth] | None = None
    future_loss_likely: list[IsoTooth] | None = None
    patient: Patient | None = None
    occlusion: Occlusion | None = None
    records: Records | None = None
    spans: list[Span] | None = None
    abutments: list[Abutment] | None = None
    palate: Palate | None = None
    floor: Floor | None = None
    prescription: Prescription | None = None
    design: Design | None = None
    dentist_answer: list[DentistAnswer] | None = None
    outcome: Outcome | None = None
    review: Review | None = None
    source: Text | None = None
