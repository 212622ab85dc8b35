"""Connectors: room against measured mouths, stiffness against published rankings."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recommender.domain.vocabulary import connectors
from recommender.mechanics.arch import place_teeth
from recommender.mechanics.connectors import (
    connector_geometry,
    grade,
    room_left_mm,
    run_lengths,
)
from recommender.mechanics.sections import second_moment_across_mm4, second_moment_mm4, torsion_constant_mm4
from recommender.mechanics.tables import row


def test_room_for_a_lingual_bar_is_graded_and_no_cliff():
    """7 mm (3 + 4) in one school, 8 mm (4 + 4) in the other (rows CONN-034, CONN-035)."""
    lacking, between, ample = (
        grade(room_left_mm("lingual_bar", "floor", depth)) for depth in (6.4, 7.5, 8.6)
    )
    assert lacking.typical == 0
    assert between.typical == pytest.approx(0.5)
    assert ample.typical == 1
    assert 0 < between.low < between.high <= 1 or between.contains(0.5)


@given(st.sampled_from(("lingual_bar", "sublingual_bar", "linguoplate")), st.floats(0, 15), st.floats(0, 0.2))
def test_more_floor_is_never_less_room_and_the_grade_never_jumps(connector, depth, more):
    first, second = (room_left_mm(connector, "floor", value) for value in (depth, depth + more))
    assert second.low >= first.low
    assert grade(second).typical >= grade(first).typical
    assert grade(second).typical - grade(first).typical <= more + 1e-9


def test_a_shallower_floor_leaves_room_for_other_connectors():
    """A plate or a sublingual bar stands in where a lingual bar does not fit (rows CONN-052, CONN-055)."""
    assert room_left_mm("lingual_bar", "floor", 6.5).high < 0
    assert room_left_mm("sublingual_bar", "floor", 6.5).low > 0
    assert room_left_mm("linguoplate", "floor", 6.5).low > 0
    assert room_left_mm("labial_bar", "floor", 6.5) is None


def test_two_straps_and_their_opening_need_31_mm_of_palate():
    """8 + 15 + 8 mm (rows CONN-013 and CONN-015, from memory)."""
    assert room_left_mm("anteroposterior_strap", "palate", 31.0).high == 0


def test_upper_connectors_rank_as_published():
    """Ben-Ur et al. 1989 and 1999: bars in two planes the stiffest, the U-shaped one the most flexible."""
    shapes = {name: connector_geometry("maxilla", name) for name in connectors("maxilla")}
    stiffness = {name: shape.stiffness.typical for name, shape in shapes.items() if shape is not None}
    assert max(stiffness, key=stiffness.get) == "anteroposterior_bar"
    assert min(stiffness, key=stiffness.get) == "u_shaped"
    # Of the straps the closed ring is the stiffest (row CONN-017, teaching table).
    assert stiffness["anteroposterior_strap"] > stiffness["palatal_strap"] > stiffness["u_shaped"]


def test_lower_bar_sections_rank_as_published():
    """Ben-Ur et al. 1989: 4 x 4 mm full pear over 3.75 x 1.75 over 4 x 1.5 mm half ellipse; thickness over height."""
    pear = float(torsion_constant_mm4("round", 4.0, 4.0))
    thick = float(torsion_constant_mm4("half_round", 1.75, 3.75))
    thin = float(torsion_constant_mm4("half_round", 1.5, 4.0))
    assert pear > thick > thin


def test_a_lower_bar_is_softer_up_and_down_than_sideways():
    """Ben-Ur et al. 1999: vertical (torsional) stiffness was lower than horizontal in every design."""
    radius, young, shear = 15.0, 210e3, 210e3 / 2.6
    vertical = math.pi / 2 / (young * second_moment_across_mm4("half_round", 2.0, 4.0)) + 3 * math.pi / 2 / (
        shear * float(torsion_constant_mm4("half_round", 2.0, 4.0))
    )
    sideways = math.pi / 2 / (young * float(second_moment_mm4("half_round", 2.0, 4.0)))
    assert 1 / (vertical * radius**3) < 1 / (sideways * radius**3)


@pytest.mark.parametrize("arch", ["maxilla", "mandible"])
def test_every_connector_that_crosses_the_arch_has_figures(arch):
    for name in connectors(arch):
        shape = connector_geometry(arch, name)
        if name == "unilateral":
            assert shape is None
            continue
        assert 0 < shape.stiffness.low <= shape.stiffness.high <= 1
        assert 0 < shape.weight_g.typical < 25
        assert 0 <= shape.covered_cm2.typical < 30
        # A gram of cobalt-chromium is an eighth of a cubic centimetre, spread over what it covers.
        if shape.covered_cm2.typical > 0:
            assert 0.02 < shape.weight_g.typical / 8.3 / shape.covered_cm2.typical < 0.4


def test_the_complete_plate_covers_most_and_a_bar_less_than_a_plate():
    upper = {
        name: connector_geometry("maxilla", name) for name in connectors("maxilla") if name != "unilateral"
    }
    assert max(upper, key=lambda name: upper[name].covered_cm2.typical) in (
        "complete_plate",
        "metal_resin_plate",
    )
    lower = {name: connector_geometry("mandible", name) for name in ("lingual_bar", "linguoplate")}
    assert lower["lingual_bar"].covered_cm2.typical < lower["linguoplate"].covered_cm2.typical


def test_run_lengths_follow_the_arch():
    """Closest lingual points at the first molars: 35-39 mm across (row ARCH-024, from memory, so a wide limit)."""
    geometry = place_teeth("maxilla")
    across = 2 * geometry[26].lingual[0]
    assert across == pytest.approx(row("arch_form", "ARCH-024").typical, abs=3)
    lengths = run_lengths(place_teeth("mandible"))
    assert lengths["labial"] > lengths["lingual"] > lengths["cingulum"]
