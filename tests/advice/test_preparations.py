"""Near/far words as anatomical surfaces, and what a dentist's leave means."""

import pytest
from hypothesis import HealthCheck, given, settings

from recommender.advice.analysis import NoAdviceError
from recommender.advice.model import Decision
from recommender.advice.preparations import permitted, surface_name
from recommender.advice.recommend import Recommender, recommendation
from recommender.domain.case import Case
from recommender.domain.findings import Abutment
from tests.advice.strategies import cases


@pytest.mark.parametrize(
    ("word", "near", "surface"),
    [
        ("far_facial", "distal", "mesiofacial"),
        ("far_facial", "mesial", "distofacial"),
        ("near_lingual", "mesial", "mesiolingual"),
        ("mid_facial", "distal", "midfacial"),
        ("near_proximal", "distal", "distal"),
        ("far", "distal", "mesial"),
        ("cingulum", "distal", "cingulum"),
        ("far_occlusal", "mesial", "distal"),
    ],
)
def test_surface_names(word: str, near: str, surface: str) -> None:
    assert surface_name(word, near) == surface


def test_the_tip_stands_for_its_first_zone() -> None:
    assert surface_name("tip", "distal", ("near_facial", "far_facial")) == "distofacial"


@pytest.mark.parametrize(
    ("fields", "action", "leave"),
    [
        ({}, "rest_seat", None),
        ({"preparable": False}, "rest_seat", False),
        ({"preparable": True}, "rest_seat", True),
        ({"permitted": ["guiding_plane"]}, "guiding_plane", True),
        ({"permitted": ["guiding_plane"]}, "create_undercut", False),
        ({"preparable": False, "permitted": ["rest_seat"]}, "rest_seat", False),
    ],
)
def test_leave_to_prepare(fields: dict[str, object], action: str, leave: bool | None) -> None:
    assert permitted(Abutment.model_validate({"tooth": 14, **fields}), action) is leave


def test_a_tooth_that_was_not_surveyed_is_asked_about() -> None:
    assert permitted(None, "rest_seat") is None


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(case=cases())
def test_no_work_on_a_tooth_is_asked_for_what_is_excluded(rules_alone: Recommender, case: Case) -> None:
    analysis = rules_alone.work(case)
    possible = set()
    for decision in analysis.decisions():
        for option in analysis.decide(decision).ranked:
            if option.status == "excluded":
                assert option.preparation == option.unlocked_by == ()
            if option.status != "excluded" or all(block.unlocked_by for block in option.blocked_by):
                possible.add(f"{decision.path}.{option.option}")
    try:
        steps = recommendation(analysis).preparation
    except NoAdviceError:
        return
    for step in steps:
        assert set(step.unlocks) <= possible, step


def test_of_two_seats_only_the_one_that_is_not_there_is_asked_for(rules_alone: Recommender) -> None:
    data = {
        "format": 1, "id": "made-1", "arch": "mandible", "missing": [36, 37], "absent": [38, 48],
        "abutments": [{"tooth": 35, "rest_seats": ["mesial"]}],
    }  # fmt: skip
    rests = rules_alone.work(Case.model_validate(data)).decide(Decision("rest", 35))
    asked = [(step.action, step.surface) for step in rests.option("mesial_distal").preparation]
    assert asked == [("rest_seat", "distal")]
    assert not rests.option("mesial").preparation
