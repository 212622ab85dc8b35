"""Near/far words as anatomical surfaces, and what a dentist's leave means."""

import pytest

from recommender.advice.preparations import permitted, surface_name
from recommender.domain.case import Abutment


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
