"""The words that a case may use, one ``Literal`` for each closed list of the case format (version 1).

Labels and definitions for people stand in ``shared/vocabulary.yaml``; these lists are what is valid.
"""

from typing import Literal, get_args

Arch = Literal["maxilla", "mandible"]
Numbering = Literal["iso", "universal"]
Sex = Literal["female", "male"]
SmileLine = Literal["high", "average", "low"]
LowerDisplay = Literal["none", "edges", "crowns"]
Level3 = Literal["low", "moderate", "high"]
Hygiene = Literal["good", "fair", "poor"]
Allergen = Literal["cobalt", "chromium", "nickel", "palladium", "titanium", "methacrylate", "other"]
Dexterity = Literal["good", "limited"]
Opposing = Literal["natural", "fixed", "removable_partial", "complete_denture"]
OpposingMaterial = Literal["enamel", "metal", "ceramic", "composite", "resin"]
Overbite = Literal["open", "normal", "deep"]
Load = Literal["light", "normal", "heavy"]
Guidance = Literal["canine", "group", "balanced"]
Contact = Literal["closing", "protrusive", "lateral"]
Mounting = Literal["articulated", "hand", "none"]
SurveyedCast = Literal["before_preparation", "after_preparation"]
ScanUnit = Literal["mm", "cm", "m", "inch"]
LevelledBy = Literal["three_points", "occlusal_plane", "as_scanned"]
PathChosenBy = Literal["search", "person"]
Ridge = Literal["firm", "displaceable", "flat", "knife_edge"]
RidgeLoss = Literal["none", "moderate", "severe"]
AbutmentKind = Literal["tooth", "implant", "root"]
ContourLevel = Literal["gingival", "middle", "occlusal"]
BoneSupport = Literal["good", "reduced", "poor"]
Disease = Literal["none", "periodontal", "periapical", "caries"]
Restoration = Literal["sound", "filled", "crowned", "carious", "endodontic"]
CrownMaterial = Literal["metal", "metal_ceramic", "ceramic", "resin"]
RestSeat = Literal["mesial", "distal", "cingulum", "incisal"]
GuidingPlane = Literal["mesial", "distal", "lingual"]
Tilt = Literal["none", "mesial", "distal", "facial", "lingual", "rotated"]
Rugae = Literal["flat", "average", "prominent"]
PalateTorus = Literal["none", "small", "large", "large_posterior"]
Vault = Literal["shallow", "average", "deep"]
FloorTorus = Literal["none", "small", "large"]
Frenum = Literal["low", "high"]
Fabrication = Literal["cast", "laser_melted", "milled"]
Attached = Literal["cast_to", "soldered", "welded", "in_resin"]
Side = Literal["mesial", "distal"]
BaseRetention = Literal["lattice", "mesh", "loops", "nail_heads", "metal"]
Answer = Literal["accepted", "declined", "changed"]
ReviewStatus = Literal["draft", "approved", "retired"]
Zone = Literal[
    "mesiofacial",
    "midfacial",
    "distofacial",
    "mesiolingual",
    "midlingual",
    "distolingual",
    "mesial",
    "distal",
]
ToothType = Literal["incisor", "canine", "premolar", "molar"]

Retainer = Literal[
    "circumferential", "reverse_circumferential", "ring", "embrasure", "combination", "half_and_half",
    "back_action", "hairpin", "extended_arm", "i_bar", "t_bar", "rpa", "lingual_retention", "lingual_wrap",
    "proximal_undercut", "polymer_arm", "attachment", "double_crown", "stud", "rigid_rotational",
    "rest_only", "none",
]  # fmt: skip
MaxillaryConnector = Literal[
    "palatal_strap", "anteroposterior_strap", "u_shaped", "complete_plate", "metal_resin_plate",
    "palatal_bar", "anteroposterior_bar", "unilateral",
]  # fmt: skip
MandibularConnector = Literal[
    "lingual_bar", "linguoplate", "interrupted_linguoplate", "sublingual_bar", "cingulum_bar",
    "lingual_bar_cingulum_bar", "labial_bar", "hinged_labial_bar", "unilateral",
]  # fmt: skip
Connector = Literal[
    "palatal_strap", "anteroposterior_strap", "u_shaped", "complete_plate", "metal_resin_plate",
    "palatal_bar", "anteroposterior_bar", "lingual_bar", "linguoplate", "interrupted_linguoplate",
    "sublingual_bar", "cingulum_bar", "lingual_bar_cingulum_bar", "labial_bar", "hinged_labial_bar",
    "unilateral",
]  # fmt: skip
Replacement = Literal[
    "resin_tooth_lattice", "resin_tooth_metal_base", "tube_tooth", "reinforced_resin",
    "metal_backed_facing", "resin_base_metal_occlusal", "metal_tooth", "leave_open",
]  # fmt: skip
Rest = Literal[
    "mesial", "distal", "mesial_distal", "embrasure", "cingulum", "incisal", "long", "onlay", "none"
]  # fmt: skip
Alloy = Literal[
    "cobalt_chromium", "nickel_chromium", "titanium_cp", "titanium_alloy", "gold_type_iv", "wrought_wire",
    "acetal", "peek",
]  # fmt: skip
PreparationAction = Literal[
    "rest_seat", "guiding_plane", "lower_contour_height", "create_undercut", "remove_undercut", "crown"
]  # fmt: skip
EventKind = Literal[
    "clasp_fracture", "rest_fracture", "framework_fracture", "facing_fracture", "tooth_debond",
    "retention_lost", "sore_spot", "did_not_seat", "relined", "adjusted", "caries", "abutment_mobile",
    "abutment_lost", "appearance_complaint", "not_worn", "reaction", "remade",
]  # fmt: skip

RETAINERS: tuple[str, ...] = get_args(Retainer)
REPLACEMENTS: tuple[str, ...] = get_args(Replacement)
RESTS: tuple[str, ...] = get_args(Rest)
ALLOYS: tuple[str, ...] = get_args(Alloy)
ZONES: tuple[str, ...] = get_args(Zone)


def connectors(arch: str) -> tuple[str, ...]:
    """Every major connector that the vocabulary knows for this arch."""
    return get_args(MaxillaryConnector if arch == "maxilla" else MandibularConnector)
