"""Fulcrum lines, levers and load against hand-worked coordinates and a published example."""

from math import asin, degrees

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from recommender.mechanics.arch import Point, place_teeth
from recommender.mechanics.levers import Line, tip_travel_mm

COORDINATE = st.floats(-30, 30)


def base_turn_rad(line: Line, load: Point, sink_mm: float) -> float:
    """Angle through which the base turns when it sinks by that much at the load."""
    return asin(min(1.0, sink_mm / abs(line.lever_mm(load))))


def clasp_force_n(pull_n: float, retainer: Point, pull: Point, tip: Point, line: Line) -> float:
    """Force that a clasp must hold against a pull on the base that turns it about the indirect retainer.

    ``pull x (retainer to pull) / (retainer to tip)``, distances square to the fulcrum line. ``ValueError``
    where the tip has no lever about the retainer.
    """
    to_tip = line.lever_mm(retainer) - line.lever_mm(tip)
    if to_tip == 0:
        raise ValueError("a tip abreast of the indirect retainer resists nothing")
    return pull_n * (line.lever_mm(retainer) - line.lever_mm(pull)) / to_tip


@pytest.fixture(scope="module")
def lower():
    """Lower Class I, 36 37 46 47 missing: distal-rest line, mesial-rest line, load at the middle of 36."""
    geometry = place_teeth("mandible")
    distal = Line(geometry.seat(45, "distal"), geometry.seat(35, "distal"))
    mesial = Line(geometry.seat(45, "mesial"), geometry.seat(35, "mesial"))
    return geometry, distal, mesial, geometry.seat(36, "middle")


def test_levers_of_the_worked_example(lower):
    """Hand-worked on Mina et al. 2017 means and Ash and Nelson widths: 5.83, 12.77, 16.1 and 9.1 mm."""
    geometry, distal, mesial, load = lower
    canine = geometry.seat(33, "cingulum")
    assert -distal.lever_mm(load) == pytest.approx(5.83, abs=0.006)
    assert -mesial.lever_mm(load) == pytest.approx(12.77, abs=0.006)
    assert distal.lever_mm(canine) == pytest.approx(16.1, abs=0.06)
    assert mesial.lever_mm(canine) == pytest.approx(9.1, abs=0.06)


def test_turn_and_tip_travel_of_the_worked_example(lower):
    """0.5 mm at 36: 4.9 and 2.2 degrees; mesial tip up 0.59, middle tip up 0.30, with a mesial rest down 0.13 mm."""
    geometry, distal, mesial, load = lower
    assert degrees(base_turn_rad(distal, load, 0.5)) == pytest.approx(4.9, abs=0.05)
    assert degrees(base_turn_rad(mesial, load, 0.5)) == pytest.approx(2.2, abs=0.05)
    mesial_tip, middle_tip = geometry.seat(35, "mesial"), geometry.seat(35, "middle")
    assert tip_travel_mm(mesial_tip, distal, load, 0.5).typical == pytest.approx(0.59, abs=0.006)
    assert tip_travel_mm(middle_tip, distal, load, 0.5).typical == pytest.approx(0.30, abs=0.006)
    assert tip_travel_mm(middle_tip, mesial, load, 0.5).typical == pytest.approx(-0.13, abs=0.006)
    # A tip on the line does not move.
    assert tip_travel_mm(mesial_tip, mesial, load, 0.5).typical == pytest.approx(0.0, abs=1e-12)


def test_clasp_demand_of_the_worked_example(lower):
    """A pull of 1 N at 36 asks 1.75 N of a middle tip on 35 with the retainer on 33, 1.96 N with it on 34."""
    geometry, distal, _, load = lower
    tip = geometry.seat(35, "middle")
    assert clasp_force_n(1.0, geometry.seat(33, "cingulum"), load, tip, distal) == pytest.approx(
        1.75, abs=0.006
    )
    assert clasp_force_n(1.0, geometry.seat(34, "mesial"), load, tip, distal) == pytest.approx(
        1.96, abs=0.006
    )
    with pytest.raises(ValueError, match="abreast"):
        clasp_force_n(1.0, tip, load, tip, distal)


def test_rigid_turn_against_a_rotation_matrix(lower):
    """The tip's rise against turning the whole base about an oblique line in space (Rodrigues), small angles."""
    line = Line((-24.0, -4.0), (21.0, 9.0))
    load, tip, sink = (24.0, -6.0), (23.0, 12.0), 1e-4
    axis = np.array([45.0, 13.0, 0.0]) / np.hypot(45.0, 13.0)
    through = np.array([-24.0, -4.0, 0.0])
    angle = -base_turn_rad(line, load, sink) * np.sign(line.lever_mm(load))

    def turned(point):
        v = np.array([*point, 0.0]) - through
        return (
            through
            + v * np.cos(angle)
            + np.cross(axis, v) * np.sin(angle)
            + axis * np.dot(axis, v) * (1 - np.cos(angle))
        )

    assert turned(load)[2] == pytest.approx(-sink, rel=1e-6)
    assert turned(tip)[2] == pytest.approx(tip_travel_mm(tip, line, load, sink).typical, rel=1e-6)


def test_oblique_lever_worked_by_hand():
    """Line through (-4, 0) and (0, 3): a 3-4-5 triangle; the origin lies 12/5 behind it, (0, 8) 4 mm in front."""
    line = Line((-4.0, 0.0), (0.0, 3.0))
    assert line.lever_mm((0.0, 0.0)) == pytest.approx(-2.4)
    assert line.lever_mm((0.0, 8.0)) == pytest.approx(4.0)
    assert line.lever_mm((-4.0, 0.0)) == 0
    with pytest.raises(ValueError, match="two different"):
        Line((1.0, 1.0), (1.0, 1.0))


@given(COORDINATE, COORDINATE, COORDINATE, COORDINATE, COORDINATE, COORDINATE)
def test_levers_mirror(ax, ay, bx, by, px, py):
    if ax == bx:
        return
    line, mirrored = Line((ax, ay), (bx, by)), Line((-bx, by), (-ax, ay))
    assert mirrored.lever_mm((-px, py)) == pytest.approx(line.lever_mm((px, py)), abs=1e-9)
