"""Textbook situations of whole mouths: connectors beyond the first choice, weak teeth, arms in view, hidden forms."""

from typing import Any

from .vignettes import FLOOR, HABIT, LOW, MCCRACKEN, OUHSC, PALATE, STEWART, TRAN, UP, tooth, v

ANKARA = "Ankara University, A Guide to Removable Partial Denture Planning (open e-book), 2025"
ARAMANY = "Aramany MA. J Prosthet Dent 1978;40:656-662 (from memory)"
SAUNDERS = "Saunders TR et al. J Prosthet Dent 1979;41:124-128 (from memory)"
WOOD = "Wood R, Winkler S, Lanza J. J Oral Implantol 2003;29:284-286"
TALBOT = "Talbot TR. Int J Prosthodont 1991;4:80-88; Lynch CD, Allen PF. Dent Update 2004;31:506-508"
YEUNG = "Yeung C et al. Clin Cosmet Investig Dent 2020;12:391-397"
ABRAMS = "Abrams SH. Hiding denture clasps: a cosmetic dilemma. Oral Health"
DONOVAN = "Donovan TE, Cho GC. J Calif Dent Assoc 2003;31:551-557 (from memory)"
PLATE_PAGE = "Lingual plate (encyclopaedia page)"
FIRTELL = "Firtell DN, Jacobson TE. J Prosthet Dent 1983;50:8-15"

LIPS = {"smile_line": "average", "last_tooth_in_smile": 15, "aesthetic_priority": "moderate"}
ALL_SHOWS = {"smile_line": "high", "last_tooth_in_smile": 15, "aesthetic_priority": "high"}
FREE_ENDS = [35, 36, 37, 45, 46, 47]


def ridges(spaces: list[list[int]], **more: Any) -> list[dict[str, Any]]:
    return [{"teeth": teeth, **more} for teeth in spaces]


def loose_front(*teeth: int) -> list[dict[str, Any]]:
    return [tooth(number, bone_support="reduced", mobility=1, crown_height_mm=10) for number in teeth]


UPPER_ENDS = [[15, 16, 17], [25, 26, 27]]
LOWER_ENDS = [[35, 36, 37], [45, 46, 47]]

MOUTHS = [
    # ---- upper connectors
    v(
        "long free ends, firm ridges, sound premolars",
        MCCRACKEN,
        "connector",
        UP,
        [15, 16, 17, 25, 26, 27],
        first="anteroposterior_strap",
        palate=PALATE,
        spans=ridges(UPPER_ENDS, ridge="firm"),
        abutments=[tooth(14, midfacial=0.25), tooth(24, midfacial=0.25)],
    ),
    v(
        "long free ends, flat ridges",
        MCCRACKEN,
        "connector",
        UP,
        [15, 16, 17, 25, 26, 27],
        first="complete_plate",
        palate=PALATE,
        spans=ridges(UPPER_ENDS, ridge="flat"),
        abutments=[tooth(14), tooth(24)],
    ),
    v("coming losses, upper", ANKARA, "connector", UP, [16, 17, 26, 27], first="complete_plate",
      order="complete_plate anteroposterior_strap", palate={**PALATE, "future_loss_likely": True}),
    v("one side bare", ARAMANY, "connector", UP, [11, 12, 13, 14, 15, 16, 17], first="complete_plate", palate=PALATE),
    v("a handful of teeth", ANKARA, "connector", UP, [17, 16, 15, 14, 12, 11, 21, 22, 24, 25, 26],
      first="complete_plate", palate=PALATE),
    v("several weak abutments beside free ends", ANKARA, "connector", UP, [16, 17, 26, 27], first="complete_plate",
      palate=PALATE, abutments=[tooth(t, bone_support="reduced") for t in (14, 15, 24, 25)]),
    v("four incisors", "Lecture-note page on major connectors (front-and-back strap most used in Classes II and IV)",
      "connector", UP, [12, 11, 21, 22], order="anteroposterior_strap u_shaped", palate=PALATE),
    v("torus with room behind it", MCCRACKEN, "connector", UP, [15, 16, 17, 25], first="anteroposterior_strap",
      shut="palatal_strap complete_plate", palate={**PALATE, "torus": "large", "torus_to_vibrating_line_mm": 11}),
    v("torus without room behind it", MCCRACKEN, "connector", UP, [15, 16, 25, 26], first="u_shaped",
      shut="palatal_strap anteroposterior_strap", palate={**PALATE, "torus": "large", "torus_to_vibrating_line_mm": 3}),
    # ---- lower connectors
    v("teeth that lean far in", WOOD, "connector", LOW, [36, 37, 46, 47], first="labial_bar",
      shut="lingual_bar linguoplate cingulum_bar sublingual_bar",
      floor={**FLOOR, "lingual_tilt": True, "labial_sulcus_mm": 9}),
    v("against a complete denture", SAUNDERS, "connector", LOW, FREE_ENDS, first="linguoplate", floor=FLOOR,
      occlusion={"opposing": "complete_denture"}),
    v("every lower premolar and molar gone", PLATE_PAGE, "connector", LOW, [34, *FREE_ENDS, 44], first="linguoplate"),
    v("flat ridges under two free ends", MCCRACKEN, "connector", LOW, FREE_ENDS, first="linguoplate", floor=FLOOR,
      spans=ridges(LOWER_ENDS, ridge="flat")),
    v("no canine or first premolar fit for a rest on one side", MCCRACKEN, "connector", LOW, [36, 37, 46, 47],
      shut="linguoplate interrupted_linguoplate",
      abutments=[tooth(33, disease="periodontal"), tooth(34, disease="caries"), tooth(35), tooth(45)]),
    v("high frenum", OUHSC, "connector", LOW, [36, 37, 46, 47], first="linguoplate",
      floor={**FLOOR, "lingual_frenum": "high"}),
    v("canine gone, loose clean teeth, deep sulcus", TALBOT, "connector", LOW, [33, 34, 35, 36, 37, 46, 47],
      order="hinged_labial_bar linguoplate sublingual_bar", patient={"hygiene": "good", "lower_display": "none"},
      floor={**FLOOR, "labial_sulcus_mm": 9}, abutments=[*loose_front(31, 32, 41, 42), tooth(45)]),
    v("the same teeth, not clean", TALBOT, "connector", LOW, [33, 34, 35, 36, 37, 46, 47], shut="hinged_labial_bar",
      patient={"hygiene": "poor"}, floor={**FLOOR, "labial_sulcus_mm": 9}, abutments=loose_front(31, 32, 41, 42)),
    v("open necks, weak front teeth, deep floor", MCCRACKEN, "connector", LOW, [36, 37, 46, 47],
      first="lingual_bar_cingulum_bar", floor={**FLOOR, "open_cervical_embrasures": True},
      abutments=loose_front(31, 32, 41, 42)),
    v("shallow floor, spaced teeth", MCCRACKEN, "connector", LOW, [36, 37, 46, 47],
      first="interrupted_linguoplate sublingual_bar", shut="lingual_bar cingulum_bar",
      floor={**FLOOR, "depth_mm": 6, "spaces_between_anteriors": True, "open_cervical_embrasures": True}),
    # ---- wire or cast
    v("weak premolar, deep far undercut", OUHSC + ", question 187", "retainer 45", LOW, [46, 47], first="combination",
      abutments=[tooth(45, mesiofacial=0.5, midfacial=0.1, bone_support="reduced", mobility=1)]),
    v("weak premolar, mid undercut", "Krol AJ. Dent Clin North Am 1973;17:631-649", "retainer 45", LOW, [46, 47],
      first="i_bar", abutments=[tooth(45, midfacial=0.25, bone_support="reduced", mobility=1)]),
    v("deep far undercut, sound tooth", OUHSC + ", question 187", "retainer 34", LOW, [35, 36, 37], first="combination",
      abutments=[tooth(34, mesiofacial=0.5, midfacial=0.1)]),
    v("ahead of the axis", OUHSC + ", questions 30 and 187", "retainer 44", LOW, [35, 36, 37, 45], first="combination",
      abutments=[tooth(44, mesiofacial=0.5), tooth(34, midfacial=0.25), tooth(46, distofacial=0.25)]),
    v("canine ahead of the axis", OUHSC + ", questions 30 and 187", "retainer 23", UP, [15, 16, 17, 24, 25],
      first="combination", patient=LIPS,
      abutments=[tooth(23, mesiofacial=0.5), tooth(14, midfacial=0.25), tooth(26, distofacial=0.25)]),
    v("wire and an embrasure", OUHSC + ", question 30", "retainer 46", LOW, [36, 37], shut="combination",
      order="embrasure circumferential", abutments=[tooth(46, mesiofacial=0.25), tooth(47, distofacial=0.25)]),
    v("unsure hands, shallow sulcus", HABIT, "retainer 15", UP, [16, 17], first="combination",
      patient={**LIPS, "dexterity": "limited"}, abutments=[tooth(15, mesiofacial=0.5, vestibule_depth_mm=4)]),
    # ---- in view
    v("all shows, a molar holds", DONOVAN, "retainer 15", UP, [16], first="rest_only",
      shut="circumferential combination", patient=ALL_SHOWS,
      abutments=[tooth(15, midfacial=0.25, mesiofacial=0.25), tooth(17, distofacial=0.25)]),
    v("canine, long face under a low lip", "Davenport JC et al. Br Dent J 2001;190:71-81 (from memory)", "retainer 13",
      UP, [14, 15], first="i_bar", patient={**LIPS, "smile_line": "low"},
      abutments=[tooth(13, midfacial=0.25, mesiofacial=0.25, crown_height_mm=11, recession_mm=2)]),
    v("lingual undercut, looks matter somewhat", YEUNG, "retainer 14", UP, [15, 16], first="lingual_retention",
      patient=LIPS, abutments=[tooth(14, mesiofacial=0.25, mesiolingual=0.25, lingual_clearance_mm=2)]),
    v("lingual undercut, looks do not matter", HABIT, "retainer 14", UP, [15, 16], first="circumferential",
      patient={"smile_line": "low", "last_tooth_in_smile": 13, "aesthetic_priority": "low"},
      abutments=[tooth(14, mesiofacial=0.25, mesiolingual=0.25, lingual_clearance_mm=2)]),
    v("lingual undercut in the way beside the space", YEUNG, "retainer 14", UP, [15, 16],
      order="circumferential combination", patient=LIPS,
      abutments=[tooth(14, mesiofacial=0.25, mesiolingual=0.25, distolingual=0.5)]),
    v("lingual arm, no room under the bite", HABIT, "retainer 14", UP, [15, 16], shut="lingual_retention lingual_wrap",
      patient=ALL_SHOWS, abutments=[tooth(14, mesiofacial=0.25, mesiolingual=0.25, lingual_clearance_mm=0.3)]),
    v("lingual tip beside a free end", "Kratochvil FJ. J Prosthet Dent 1963;13:114-124", "retainer 34", LOW,
      [35, 36, 37], shut="lingual_retention", patient={"aesthetic_priority": "high"},
      abutments=[tooth(34, mesiolingual=0.25)]),
    v("hidden arm in an unbroken row", ABRAMS, "retainer 24", UP, [16, 17], first="lingual_wrap", patient=ALL_SHOWS,
      abutments=[tooth(24, distolingual=0.25, mesiofacial=0.25, lingual_clearance_mm=2,
                       embrasure_clearance_mm={"mesial": 1.5, "distal": 0.4}), tooth(15, midfacial=0.25)]),
    v("hollow cut away by a guiding plane", TRAN + "; " + FIRTELL, "retainer 14", UP, [15, 16],
      shut="proximal_undercut rigid_rotational", patient=ALL_SHOWS,
      abutments=[tooth(14, mesiofacial=0.25, distal=0.0, guiding_planes=["distal"])]),
    # ---- nothing to grip
    v("nothing to grip, no leave", STEWART, "retainer 14", UP, [15, 16], first="rest_only",
      shut="circumferential i_bar t_bar", patient=LIPS, abutments=[tooth(14, permitted=["rest_seat"])]),
    v("last upper molar, undercut beside the space", STEWART, "retainer 17", UP, [15, 16], first="ring",
      order="ring t_bar", patient=LIPS, abutments=[tooth(17, mesiofacial=0.25)]),
    v("lone premolar before a free end", "Krol AJ. Dent Clin North Am 1973;17:631-649", "retainer 25", UP, [24, 26, 27],
      first="i_bar", patient=LIPS, abutments=[tooth(25, midfacial=0.25), tooth(23, distofacial=0.25)]),
    v("pier between two bounded spaces", STEWART, "rest 15", UP, [14, 16], first="mesial_distal",
      abutments=[tooth(15, mesiofacial=0.25), tooth(13), tooth(17)]),
    # ---- replacement teeth
    v("free end, 4.5 mm", HABIT, "replacement 36", LOW, [36, 37], first="resin_base_metal_occlusal",
      spans=ridges([[36, 37]], clearance_mm=4.5, ridge="firm")),
    v("free end, room enough, opposing enamel", STEWART, "replacement 36", LOW, [36, 37], first="resin_tooth_lattice",
      spans=ridges([[36, 37]], clearance_mm=6.5, ridge="firm"),
      occlusion={"opposing": "natural", "opposing_material": "enamel"}),
]  # fmt: skip
