"""No proposal that cannot be made: a second reader that knows nothing of the program looks at every design.

Over all demo cases (invented), the published ones, the panel's, thinned copies of all of these, and cases made
by chance. The short form looks at a sample; ``RPD_LONG=1`` at 5,000 and more.
"""

import os
import random
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from recommender.advice.analysis import NoAdviceError
from recommender.advice.frameworks.building import clasp_of
from recommender.advice.frameworks.crown import arcs, grows, opposed, widest_gap
from recommender.advice.frameworks.seating import touches_late
from recommender.advice.frameworks.stored import faults_of_design, metal_of_design
from recommender.advice.frameworks.tooth_sites import tooth_sites
from recommender.advice.recommend import Recommender
from recommender.curation.evaluation.panel import panel_cases
from recommender.curation.evaluation.published import published_cases
from recommender.domain.case import Case
from recommender.domain.errors import CaseError
from recommender.domain.options import Option
from recommender.knowledge.in_force import knowledge
from recommender.precedents.source import demo_source
from tests.advice.buildable_checker import faults
from tests.advice.strategies import cases

LONG = bool(os.environ.get("RPD_LONG"))
GENERATED = 5_000 if LONG else 8
THINNED = 2_000 if LONG else 15


def known_cases() -> list[Case]:
    published = [case for case, _, _ in published_cases()]
    return [*demo_source().cases(), *published, *(case for case, _ in panel_cases())]


def thinned(count: int) -> Iterator[Case]:
    """Copies of known cases of which a part of what was recorded about the teeth was left out, by chance."""
    chance = random.Random(20)
    sources = known_cases()
    while count:
        raw = chance.choice(sources).model_dump(mode="json", exclude_none=True)
        for abutment in raw.get("abutments", []):
            for key in [k for k in abutment if k != "tooth"]:
                if chance.random() < 0.3:
                    del abutment[key]
            zones: dict[str, Any] = abutment.get("undercuts_mm") or {}
            for zone in [z for z in zones if chance.random() < 0.3]:
                del zones[zone]
            if zones == {}:
                abutment.pop("undercuts_mm", None)
        raw.pop("design", None)
        try:
            yield Case.model_validate({**raw, "id": f"thin-{count}"})
        except (CaseError, ValueError):
            continue
        count -= 1


def unbuildable(recommender: Recommender, case: Case) -> list[tuple[str, int, tuple[int, str]]]:
    try:
        answer = recommender.recommend(case)
    except NoAdviceError:
        return []
    return [
        (case.id, place, fault)
        for place, framework in enumerate(answer.frameworks)
        for fault in faults(case, framework.design)
    ]


@pytest.mark.slow
@pytest.mark.skipif(not LONG, reason="every known case: RPD_LONG=1 (a sample runs in test_frameworks)")
def test_every_known_case_gets_designs_that_can_be_made(rules_alone: Recommender) -> None:
    assert not [fault for case in known_cases() for fault in unbuildable(rules_alone, case)]


def test_thinned_copies_of_known_cases_get_designs_that_can_be_made(rules_alone: Recommender) -> None:
    assert not [fault for case in thinned(THINNED) for fault in unbuildable(rules_alone, case)]


def test_an_onlay_away_from_every_base_hangs_on_a_minor_connector(rules_alone: Recommender) -> None:
    """Little room over a lone tooth's seat asks for an onlay; it is held like any other rest."""
    raw = {
        "format": 1, "id": "onlay", "arch": "maxilla", "missing": [12, 14, 16, 17], "absent": [18, 28],
        "abutments": [
            {"tooth": 21}, {"tooth": 23}, {"tooth": 25, "tilt": "lingual", "bone_support": "reduced"},
            {"tooth": 26, "mobility": 2, "bone_support": "poor", "rest_clearance_mm": 0.5},
        ],
    }  # fmt: skip
    case = Case.model_validate(raw)
    frameworks = rules_alone.recommend(case).frameworks
    assert any(framework.rests.get(26) == "onlay" for framework in frameworks)
    assert not [fault for framework in frameworks for fault in faults(case, framework.design)]


def test_a_seat_on_a_tooth_that_carries_nothing_else_hangs_on_a_minor_connector(
    rules_alone: Recommender,
) -> None:
    """Beside a base there is no plate where nothing stands on the tooth; a seat against lifting is still held."""
    case = next(one for one in demo_source().cases() if one.id == "harbour-0109")
    for framework in rules_alone.recommend(case).frameworks:
        assert {check.id: check.outcome for check in framework.checks}["one_piece"] == "passed"


@settings(max_examples=GENERATED, deadline=None, suppress_health_check=list(HealthCheck))
@given(case=cases(surveyed=True))
def test_cases_made_by_chance_get_designs_that_can_be_made(rules_alone: Recommender, case: Case) -> None:
    assert not unbuildable(rules_alone, case), case.model_dump(mode="json", exclude_none=True)


def test_the_second_reader_finds_what_cannot_be_made(rules_alone: Recommender) -> None:
    """A check that cannot fail proves nothing: sound designs, each spoilt in one way, are found out."""
    found: set[str] = set()
    for case in demo_source().cases():
        for framework in rules_alone.recommend(case, 1).frameworks:
            design = framework.design
            raw = design.model_dump(mode="json", exclude_none=True)
            for key in ("minor_connectors", "bases", "proximal_plates"):
                spoilt = type(design).model_validate({**raw, key: []})
                found |= {key for _ in faults(case, spoilt)}
            for retainer in raw.get("retainers", []):
                if retainer["assembly"] == "circumferential" and "undercut" in retainer:
                    zone = retainer["undercut"]["zone"]
                    other = {"mesiofacial": "distofacial", "distofacial": "mesiofacial"}[zone]
                    turned = [
                        {**r, "undercut": {"zone": other}} if r is retainer else r for r in raw["retainers"]
                    ]
                    spoilt = type(design).model_validate({**raw, "retainers": turned})
                    found |= {"zone" for _ in faults(case, spoilt)}
        if len(found) == 4:
            break
    assert found == {"minor_connectors", "bases", "proximal_plates", "zone"}


def option(name: str) -> Option:
    return knowledge().catalogue.options["retainer"][name]


@pytest.mark.parametrize(
    ("name", "zone", "rests", "uprights", "based", "embraces", "grown"),
    [
        # Krol 1973: far rest with its upright, plate beside the space, I-bar at the middle: all round the tooth
        ("i_bar", "mid_facial", ["distal"], ["distal"], True, True, True),
        # a bar with a near rest and a near plate and nothing on the lingual lets the tooth slip out
        ("i_bar", "mid_facial", ["mesial"], [], True, False, True),
        # without a base it has neither plate nor anything to leave
        ("i_bar", "mid_facial", ["distal"], ["distal"], False, False, False),
        ("circumferential", "far_facial", ["mesial"], [], True, True, True),
        # tip and rest at the same end, and no space at the other: nothing for the arm to grow from
        ("circumferential", "far_facial", ["distal"], ["distal"], False, True, False),
        ("reverse_circumferential", "near_facial", ["distal"], ["distal"], True, True, True),
        ("lingual_wrap", "near_lingual", ["distal"], ["distal"], True, True, True),
    ],
)  # fmt: skip
def test_where_the_parts_of_a_clasp_lie(
    name: str, zone: str, rests: list[str], uprights: list[str], based: bool, embraces: bool, grown: bool
) -> None:
    """A tooth behind its space (near is mesial); seen from the other side of the mouth nothing changes."""
    figures = knowledge().figures.frameworks.crown
    turned = {"mesial": "distal", "distal": "mesial"}
    for near, told in (("mesial", {"mesial": "mesial", "distal": "distal"}), ("distal", turned)):
        bases = frozenset((near,)) if based else frozenset[str]()
        sites, stands = [told[r] for r in rests], [told[u] for u in uprights]
        clasp = clasp_of(option(name), near, zone, sites, stands, sorted(bases), bases)
        assert (widest_gap(arcs(clasp, figures)) < figures.gap_below) is embraces
        assert grows(clasp) is grown
        if embraces:
            assert opposed(clasp, figures)


KEPT_AS_A_WARNING = {
    "harbour-0032": "a tip in 0.1 mm because nobody asked for more",
    "harbour-0100": "a tip in 0.1 mm, a dimple to be asked for later",
    "harbour-0108": "a bar over too shallow a floor, withdrawn before delivery",
}


def test_what_a_stored_design_leaves_unsaid_is_no_fault(rules_alone: Recommender) -> None:
    """Both readers find nothing in the demo designs, save in those whose teaching note says what was wrong."""
    stored = [case for case in demo_source().cases() if case.design is not None]
    for case in stored if LONG else [case for case in stored if case.id.endswith(("0", "2", "8"))][::3]:
        assert case.design is not None
        analysis = rules_alone.work(case)
        metal, _ = metal_of_design(analysis, case.design)
        found = [*faults(case, metal.design), *faults_of_design(analysis, case.design)]
        assert bool(found) is (case.id in KEPT_AS_A_WARNING), (case.id, found)


@pytest.mark.parametrize(
    ("facial", "lingual", "crown", "work", "late"),
    [
        # the bulge of the tongue side at the cusps leaves a low crown nothing to be guided by
        ("middle", "occlusal", 6.0, set(), True),
        ("middle", "occlusal", 6.0, {("lingual", "lower_contour_height")}, False),
        ("middle", "occlusal", 6.0, {("lingual", "guiding_plane")}, False),
        ("middle", "middle", 6.0, set(), False),
        # a tip that lies just under a low survey line has hardly to travel
        ("gingival", "occlusal", 6.0, set(), False),
        ("occlusal", "middle", 5.0, set(), True),
        ("middle", None, 6.0, set(), False),
    ],
)
def test_rigid_metal_meets_the_tooth_from_the_first_touch_of_the_tip(
    rules_alone: Recommender,
    facial: str,
    lingual: str | None,
    crown: float,
    work: set[tuple[str, str]],
    late: bool,
) -> None:
    """Reciprocal contact before the tip passes the bulge: Carr AB, Brown DT. McCracken's, 12th ed. 2011, ch. 7."""
    tooth = {
        "tooth": 46,
        "contour_height": facial,
        "contour_height_lingual": lingual,
        "crown_height_mm": crown,
    }
    raw = {"format": 1, "id": "late", "arch": "mandible", "missing": [36], "absent": [38, 48], "abutments": [
        {key: value for key, value in tooth.items() if value is not None}]}  # fmt: skip
    analysis = rules_alone.work(Case.model_validate(raw))
    site = tooth_sites(analysis, {})[46]
    clasp = clasp_of(
        option("circumferential"), "mesial", "far_facial", ["mesial"], ["mesial"], [], frozenset()
    )
    assert touches_late(clasp, site, "mesial", 0.25, work, knowledge().figures.frameworks) is late


def test_nothing_is_put_on_an_implant_over_which_no_base_lies(rules_alone: Recommender) -> None:
    """With 1 mm over a space nothing can be set there: a stud on the implant in it would hang on nothing."""
    spaces = [{"teeth": [17, 16, 15, 14, 13], "clearance_mm": 1.0}, {"teeth": [25, 26], "clearance_mm": 7.0}]
    case = Case.model_validate(
        {
            "format": 1, "id": "implant-1", "arch": "maxilla", "missing": [13, 14, 15, 16, 17, 25, 26],
            "absent": [18, 28], "spans": spaces, "abutments": [{"tooth": 13, "kind": "implant"}],
        }
    )  # fmt: skip
    for framework in rules_alone.recommend(case).frameworks:
        assert framework.design.replacements is not None
        assert framework.design.replacements[13] == "leave_open"
        assert not [one for one in framework.design.retainers or () if one.tooth == 13]
        assert not list(faults(case, framework.design))


def test_where_every_connector_is_advised_against_the_fewest_objections_decide(
    rules_alone: Recommender,
) -> None:
    """Teeth that lean to the lingual speak against all metal there; a floor of 6 mm against the bar besides."""
    floor = {"depth_mm": 6.0, "lingual_tilt": True, "labial_sulcus_mm": 5.0}
    case = Case.model_validate(
        {"format": 1, "id": "lean-1", "arch": "mandible", "missing": [32, 33], "absent": [48], "floor": floor}
    )
    for framework in rules_alone.recommend(case).frameworks:
        assert framework.design.connector not in ("lingual_bar", "lingual_bar_cingulum_bar")
        assert not list(faults(case, framework.design))
