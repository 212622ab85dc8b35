"""Retainers, rests and seats in textbook situations: which comes first, what is blocked, which rules speak.

Scopes are worked out by the facts room; the order is worked out by hand (``by_hand``), without precedents, and
held against published teaching. The source stands beside each situation. Undercut depths are nominal where a
source names only the place.
"""

from collections.abc import Mapping
from typing import Any

import pytest

from recommender.facts.option import rest_layer, retainer_layer
from recommender.facts.values import Scope, between, known
from recommender.knowledge.in_force import knowledge

from .by_hand import Judged, case_of

OKLAHOMA = "University of Oklahoma College of Dentistry, RPD review questions"
KROL = "Krol AJ. Dent Clin North Am 1973;17:631-649"
MCCRACKEN = "Carr AB, Brown DT. McCracken's RPD, 12th ed. 2011"
ATLAS = "Stratton RJ, Wiebelt FJ. Atlas of RPD design, 1988 (laboratory teaching page)"

NOWHERE = {
    **dict.fromkeys(("mesiofacial", "midfacial", "distofacial", "mesial", "distal"), 0.0),
    **dict.fromkeys(("mesiolingual", "midlingual", "distolingual"), 0.0),
}
LOWER_FREE = ("mandible", [36, 37, 46, 47], {"absent": [38, 48]})
UPPER_BOUNDED = ("maxilla", [15, 16], {"absent": [18, 28]})


def surveyed(tooth: int, undercuts: Mapping[str, float], **more: Any) -> dict[str, Any]:
    """A sound tooth with room for everything, surveyed in every zone."""
    return {
        "tooth": tooth, "mobility": 0, "bone_support": "good", "disease": "none", "restoration": "sound",
        "tilt": "none", "preparable": False, "crown_height_mm": 8, "recession_mm": 0, "vestibule_depth_mm": 8,
        "tissue_undercut": False, "frenum_near": False, "contour_height": "middle",
        "contour_height_lingual": "middle", "lingual_clearance_mm": 2.0,
        "undercuts_mm": {**NOWHERE, **undercuts}, **more,
    }  # fmt: skip


def judged_retainers(
    pattern: tuple[str, list[int], dict[str, Any]], abutment: dict[str, Any], **more: Any
) -> dict[str, Judged]:
    """Every assembly on that abutment, from its better approach."""
    arch, missing, fields = pattern
    facts = case_of(arch, missing, **fields, abutments=[abutment], **more)
    tooth = int(abutment["tooth"])
    found: dict[str, Judged] = {}
    for name, option in knowledge().catalogue.options["retainer"].items():
        sides = ("mesial", "distal") if name == "embrasure" else facts.approaches(tooth)
        ways = []
        for side in sides:
            scope = facts.toward(tooth, side)
            if name == "embrasure" and scope.fact("derived.near_neighbour").value is False:
                continue
            ways.append(Judged(scope.extended(retainer_layer(facts, tooth, side, option)), "retainer", name))
        if ways:
            found[name] = min(ways, key=lambda way: (way.status, -way.score))
    return found


def order(judged: Mapping[str, Judged]) -> list[str]:
    return sorted(judged, key=lambda name: (judged[name].status, -judged[name].score, name))


def judged_rests(
    pattern: tuple[str, list[int], dict[str, Any]], abutment: dict[str, Any], assembly: str
) -> dict[str, Judged]:
    arch, missing, fields = pattern
    facts = case_of(arch, missing, **fields, abutments=[abutment])
    tooth = int(abutment["tooth"])
    side = facts.approaches(tooth)[0]
    return {
        name: Judged(
            facts.toward(tooth, side).extended(rest_layer(facts, tooth, side, option, assembly)), "rest", name
        )
        for name, option in knowledge().catalogue.options["rest"].items()
    }


HIGH_SMILE = {
    "patient": {"aesthetic_priority": "high", "smile_line": "average", "last_tooth_in_smile": 15, "age": 40}
}

FIRST = [
    # situation, dentition, abutment, further fields, acceptable first choices, source
    (
        "bounded, far undercut, tooth in front",
        UPPER_BOUNDED,
        surveyed(14, {"mesiofacial": 0.25}),
        {},
        {"circumferential"},
        OKLAHOMA + ", question 103",
    ),
    (
        "bounded, far undercut, tooth behind",
        UPPER_BOUNDED,
        surveyed(17, {"distofacial": 0.25}),
        {},
        {"circumferential"},
        MCCRACKEN,
    ),
    ("extension, mid undercut, bar room", LOWER_FREE, surveyed(45, {"midfacial": 0.25}), {}, {"i_bar"}, KROL),
    (
        "extension, mid and far undercut",
        LOWER_FREE,
        surveyed(45, {"midfacial": 0.25, "mesiofacial": 0.25}),
        {},
        {"i_bar"},
        OKLAHOMA + ", question 78",
    ),
    (
        "extension, only near undercut",
        LOWER_FREE,
        surveyed(45, {"distofacial": 0.25}),
        {},
        {"t_bar"},
        OKLAHOMA + ", questions 6 and 163",
    ),
    (
        "extension, bar forbidden, deep far undercut",
        LOWER_FREE,
        surveyed(45, {"mesiofacial": 0.5}, tissue_undercut=True),
        {},
        {"combination"},
        OKLAHOMA + ", question 187",
    ),
    (
        "extension, bar forbidden, shallow far undercut",
        LOWER_FREE,
        surveyed(45, {"mesiofacial": 0.25}, vestibule_depth_mm=2),
        {},
        {"rpa", "combination"},
        "Eliason CM. J Prosthet Dent 1983;49:25-27",
    ),
    (
        "extension, tooth leans away from the space",
        LOWER_FREE,
        surveyed(45, {"mesiofacial": 0.5}, tilt="mesial"),
        {},
        {"combination"},
        OKLAHOMA + ", question 187",
    ),
    (
        "bounded, only near undercut",
        UPPER_BOUNDED,
        surveyed(14, {"distofacial": 0.25}),
        {},
        {"t_bar"},
        OKLAHOMA + ", question 103",
    ),
    (
        "bounded, only near undercut, gum overhangs",
        UPPER_BOUNDED,
        surveyed(14, {"distofacial": 0.25}, tissue_undercut=True),
        {},
        {"reverse_circumferential"},
        "Stewart's Clinical RPD, 4th ed. 2008",
    ),
    (
        "lower molar leaning inward",
        ("mandible", [45, 46], {"absent": [48]}),
        surveyed(47, {"mesiolingual": 0.25}, tilt="lingual"),
        {},
        {"ring"},
        ATLAS,
    ),
    (
        "side without a space",
        ("mandible", [36, 37], {"absent": [38, 48]}),
        surveyed(46, {"mesiofacial": 0.25}),
        {},
        {"embrasure"},
        ATLAS,
    ),
    (
        "loose tooth",
        LOWER_FREE,
        surveyed(45, {"midfacial": 0.25}, mobility=2),
        {},
        {"rest_only", "none"},
        "Ankara University e-book; " + MCCRACKEN,
    ),
    (
        "poor bone",
        UPPER_BOUNDED,
        surveyed(14, {"mesiofacial": 0.25}, bone_support="poor"),
        {},
        {"rest_only"},
        "Ankara University e-book",
    ),
    (
        "sound incisor",
        ("maxilla", [11, 21], {}),
        surveyed(12, {"distofacial": 0.25}),
        {},
        {"rest_only"},
        "Ankara University e-book; Stewart's Clinical RPD",
    ),
    (
        "in view, high priority, far lingual undercut",
        UPPER_BOUNDED,
        surveyed(14, {"mesiolingual": 0.25, "mesiofacial": 0.25}),
        HIGH_SMILE,
        {"lingual_retention"},
        "Yeung C et al. Clin Cosmet Investig Dent 2020;12:391-397",
    ),
    (
        "kept root",
        ("mandible", [36, 37, 45, 46, 47], {"absent": [38, 48]}),
        {"tooth": 45, "kind": "root"},
        {},
        {"stud"},
        "common practice, no source",
    ),
    (
        "lingual undercut only, no recontouring",
        LOWER_FREE,
        surveyed(45, {"mesiolingual": 0.25, "midlingual": 0.25}),
        {},
        {"half_and_half"},
        OKLAHOMA + ", question 136",
    ),
]


@pytest.mark.parametrize(
    ("name", "pattern", "abutment", "more", "first", "source"), FIRST, ids=[row[0] for row in FIRST]
)
def test_textbook_first_choice(
    name: str, pattern: Any, abutment: dict[str, Any], more: dict[str, Any], first: set[str], source: str
) -> None:
    judged = judged_retainers(pattern, abutment, **more)
    assert order(judged)[0] in first, (source, [(n, round(judged[n].score, 1)) for n in order(judged)[:4]])


def test_untreated_disease_and_mobility_three_leave_only_nothing() -> None:
    """Nothing is hung on such a tooth: McCracken, ch. 13-14; preparation-of-mouth teaching pages."""
    for finding in ({"disease": "caries"}, {"mobility": 3}):
        judged = judged_retainers(LOWER_FREE, surveyed(45, {"midfacial": 0.25}, **finding))
        assert [name for name, option in judged.items() if option.status < 2] == ["none"]


def test_every_arm_without_an_undercut_is_blocked() -> None:
    """Nothing with nothing to grip is ever open (the extended arm grips the next tooth, which is not surveyed here)."""
    judged = judged_retainers(UPPER_BOUNDED, surveyed(14, {}))
    catalogue = knowledge().catalogue.options["retainer"]
    gripping = {name for name, option in catalogue.items() if option.tip} - {"extended_arm"}
    assert gripping
    assert {name for name in gripping if judged[name].status != 2} == set()
    assert judged["rest_only"].status == 0


def test_near_and_far_are_the_same_on_either_side_of_a_space() -> None:
    """A tooth in front of its space and one behind it fire the same undercut rules, mirrored."""
    front = judged_retainers(("mandible", [45], {}), surveyed(44, {"mesiofacial": 0.25}))
    behind = judged_retainers(("mandible", [45], {}), surveyed(46, {"distofacial": 0.25}))
    wanted = {"circ_first_choice_bounded", "rpa_no_purpose_bounded", "combination_no_purpose_bounded"}
    for name in ("circumferential", "rpa", "combination"):
        assert front[name].names() & wanted == behind[name].names() & wanted != set()


@pytest.mark.parametrize(
    ("pattern", "abutment", "assembly", "first", "source"),
    [
        (
            ("mandible", [36], {}),
            surveyed(37, {}),
            "circumferential",
            "mesial",
            "Stewart's Clinical RPD: beside a bounded space",
        ),
        (
            UPPER_BOUNDED,
            surveyed(14, {}),
            "circumferential",
            "distal",
            "Stewart's Clinical RPD: beside a bounded space",
        ),
        (
            UPPER_BOUNDED,
            surveyed(14, {}),
            "reverse_circumferential",
            "mesial",
            "Stewart's Clinical RPD: away from the space",
        ),
        (LOWER_FREE, surveyed(45, {}), "i_bar", "mesial", "Kratochvil FJ. J Prosthet Dent 1963;13:114-124"),
        (
            LOWER_FREE,
            surveyed(45, {}, tilt="mesial"),
            "combination",
            "distal",
            OKLAHOMA + ", questions 124 and 187",
        ),
        (
            ("maxilla", [14, 15], {}),
            surveyed(13, {}),
            "circumferential",
            "cingulum",
            "University of Western Australia DENT1158",
        ),
        (
            ("mandible", [34, 35, 36, 37], {"absent": [38]}),
            surveyed(33, {}),
            "i_bar",
            "cingulum",
            "Ankara University e-book",
        ),
        (
            ("mandible", [45, 46], {"absent": [48]}),
            surveyed(47, {}, tilt="mesial"),
            "circumferential",
            "long",
            MCCRACKEN + ", ch. 6",
        ),
        (
            ("mandible", [45, 46], {"absent": [48]}),
            surveyed(47, {}, tilt="lingual"),
            "ring",
            "mesial_distal",
            MCCRACKEN + ", ch. 7",
        ),
        (("mandible", [36, 37], {"absent": [38, 48]}), surveyed(46, {}), "embrasure", "embrasure", ATLAS),
        (LOWER_FREE, surveyed(45, {}), "none", "none", "common practice, no source"),
    ],
)
def test_rest_in_textbook_situations(
    pattern: Any, abutment: dict[str, Any], assembly: str, first: str, source: str
) -> None:
    judged = judged_rests(pattern, abutment, assembly)
    assert order(judged)[0] == first, (source, [(n, round(judged[n].score, 1)) for n in order(judged)[:3]])


def test_rest_under_a_millimetre_is_closed_until_a_seat_is_cut() -> None:
    """1.03 mm is the least for a 2 x 2 mm cobalt-chromium rest under 400 N: Luk et al. 2007."""
    tooth = surveyed(45, {}, rest_clearance_mm={"distal": 0.5, "mesial": 1.6})
    judged = judged_rests(("mandible", [46], {}), tooth, "circumferential")
    assert judged["distal"].status == 2
    assert judged["mesial"].status == 0
    block = next(rule for rule in judged["distal"].fired if rule.effect == "blocks")
    assert {(step.action, step.surface) for step in block.unlocked_by} == {("rest_seat", "near_occlusal")}


# ---- seats for indirect retainers


def seat(tooth_type: str, position: int, rest: str, lever: float, kennedy: str = "I") -> Judged:
    layer = {
        "arch": known("mandible"),
        "derived.kennedy": known(kennedy),
        "derived.tooth_type": known(tooth_type),
        "derived.tooth_position": known(position),
        "derived.extension_sides": known(2),
        "abutment.mobility": known(0),
        "lever.arm_mm": between(lever - 1, lever + 1, unit="mm"),
    }
    return Judged(Scope((layer,)), "indirect_retainer", rest)


def test_canine_or_first_premolar_beats_an_incisor_a_little_farther_away() -> None:
    """Dalhousie University, Removable Partial Denture Manual."""
    incisor = seat("incisor", 2, "cingulum", 24)
    assert seat("canine", 3, "cingulum", 18).score > incisor.score
    assert seat("premolar", 4, "mesial", 16).score > incisor.score


def test_first_premolar_mesial_beats_second_premolar_mesial() -> None:
    """Chinese dental licensing item set 9772949 (item I03)."""
    assert seat("premolar", 4, "mesial", 18).score > seat("premolar", 5, "mesial", 12).score


def test_seat_gains_with_its_lever() -> None:
    """It works by distance: Dalhousie University, Removable Partial Denture Manual."""
    scores = [seat("canine", 3, "cingulum", lever).score for lever in (4, 9, 12, 17, 23)]
    assert scores == sorted(scores)
    assert scores[0] < scores[-1]
