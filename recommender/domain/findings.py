"""What was found of a patient, an arch and its teeth: the parts of a case that are examined or surveyed."""

from typing import Annotated

from pydantic import Field

from recommender.domain import vocabulary as v
from recommender.domain.measures import (
    Age,
    DegreeInterval,
    Degrees,
    DisplayInterval,
    IncisorDisplay,
    IsoTooth,
    Length,
    MonthInterval,
    Months,
    OverbiteDepth,
    OverbiteInterval,
    OverjetDepth,
    OverjetInterval,
    Record,
    Undercut,
)


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
