"""Arch geometry against the published beta function and a hand-worked lower arch."""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from recommender.domain.dentition import ARCH_ORDER, mirror
from recommender.mechanics.arch import place_teeth
from recommender.mechanics.curve import beta_function, half_curve, molar_depth_mm, molar_width_mm
from recommender.mechanics.tables import row
from recommender.mechanics.teeth import running_width_mm, tooth_size

ARCHES = ("maxilla", "mandible")


def test_beta_function_peak_and_ends():
    """Braun et al. 1998, Angle Orthod 68:29-36: y(0) = D, y(+-W/2) = 0 (rows ARCH-001, ARCH-002)."""
    assert float(beta_function(0.0, 54.19, 28.10)) / 28.10 == pytest.approx(1.0, abs=1e-4)
    assert float(beta_function(0.0, 60.0, 1.0)) == pytest.approx(
        row("arch_form", "ARCH-002").typical, abs=1e-5
    )
    assert beta_function(np.array([-30.0, 30.0]), 60.0, 25.0) == pytest.approx([0.0, 0.0], abs=1e-9)


@pytest.mark.parametrize(("arch", "identifier"), [("maxilla", "ARCH-012"), ("mandible", "ARCH-013")])
def test_arc_length_first_molar_to_first_molar(arch, identifier):
    """Arc length of the Braun curve with the means of Mina et al. 2017 (rows ARCH-012, ARCH-013)."""
    curve = half_curve(molar_width_mm(arch).typical, molar_depth_mm(arch).typical)
    assert 2 * curve.half_arc_mm == pytest.approx(row("arch_form", identifier).typical, abs=0.06)


def test_arc_length_against_adaptive_quadrature():
    """The tabulated arc against scipy's adaptive quadrature of sqrt(1 + y'^2) up to 25 mm across."""
    width, depth = 54.19, 28.10
    curve = half_curve(width, depth)

    def slope(x: float) -> float:
        return float(beta_function(x, width, depth)) * 0.8 * (1 / (x + width / 2) - 1 / (width / 2 - x))

    length, _ = quad(lambda x: np.hypot(1.0, slope(x)), 0.0, 25.0)
    across, forward = curve.at(np.array([length]))
    assert across[0] == pytest.approx(25.0, abs=1e-4)
    assert forward[0] == pytest.approx(float(beta_function(25.0, width, depth)), abs=1e-4)


@pytest.mark.parametrize(
    ("arch", "total", "inset"), [("maxilla", "ARCH-014", 2.6), ("mandible", "ARCH-015", 2.9)]
)
def test_contacts_lie_inside_the_facial_line(arch, total, inset):
    """Ash and Nelson widths are shorter than the facial arc (ARCH-014, ARCH-015): inset 2.6 and 2.9 mm."""
    first_molar = 26 if arch == "maxilla" else 36
    assert 2 * running_width_mm(first_molar) == pytest.approx(row("arch_form", total).typical)
    assert place_teeth(arch).inset_mm == pytest.approx(inset, abs=0.05)


@pytest.mark.parametrize(
    ("tooth", "site", "forward"),
    [
        (33, "cingulum", 21.89),
        (34, "mesial", 19.08),
        (35, "mesial", 12.77),
        (35, "middle", 9.37),
        (35, "distal", 5.83),
        (36, "middle", 0.00),
    ],
)
def test_worked_example_of_the_lower_arch(tooth, site, forward):
    """Hand-worked: W 54.19, D 28.10 (Mina et al. 2017), Ash and Nelson widths, stretch 1.1224."""
    geometry = place_teeth("mandible")
    assert geometry.stretch == pytest.approx(1.1224, abs=5e-5)
    assert geometry.seat(tooth, site)[1] == pytest.approx(forward, abs=0.006)
    assert geometry.seat(mirror(tooth), site)[1] == geometry.seat(tooth, site)[1]


@pytest.mark.parametrize("arch", ARCHES)
def test_left_and_right_are_exact_mirror_images(arch):
    geometry = place_teeth(arch)
    for tooth in ARCH_ORDER[arch]:
        place, other = geometry[tooth], geometry[mirror(tooth)]
        for name in ("centre", "tangent", "normal", "mesial", "distal", "facial", "lingual", "line_distal"):
            (x, y), (mirrored_x, mirrored_y) = getattr(place, name), getattr(other, name)
            assert (x, y) == (-mirrored_x, mirrored_y)
        assert place.outline == tuple((-x, y) for x, y in other.outline)


@given(
    width=st.floats(3.0, 40.0),
    span=st.sampled_from([(15, 16), (24, 25, 26), (12, 11), (11, 21), (17, 18)]),
)
@settings(max_examples=40, deadline=None)
def test_recorded_widths_mirror_and_keep_every_place(width, span):
    one = place_teeth("maxilla", {span: width})
    other = place_teeth("maxilla", {tuple(mirror(tooth) for tooth in reversed(span)): width})
    assert set(one.places) == set(ARCH_ORDER["maxilla"])
    for tooth, place in one.places.items():
        x, y = other[mirror(tooth)].centre
        assert place.centre == (-x, y)


def test_a_recorded_width_is_shared_by_the_teeth_of_the_space():
    plain, wider = place_teeth("mandible"), place_teeth("mandible", {(35, 36): 21.0})
    assert wider[35].mesiodistal_mm + wider[36].mesiodistal_mm == pytest.approx(21.0)
    assert wider[35].mesiodistal_mm / wider[36].mesiodistal_mm == pytest.approx(7 / 11)
    assert wider[37].centre[1] < plain[37].centre[1]
    assert wider[34] == plain[34]
    assert wider[46] == plain[46]


@pytest.mark.parametrize("arch", ARCHES)
def test_outlines_touch_at_contacts_and_do_not_overlap(arch):
    from shapely.geometry import Point, Polygon

    geometry = place_teeth(arch)
    polygons = {tooth: Polygon(place.outline) for tooth, place in geometry.places.items()}
    order = ARCH_ORDER[arch]
    for tooth, polygon in polygons.items():
        assert polygon.is_valid
        size = tooth_size(tooth)
        box = size.mesiodistal_mm * size.faciolingual_mm
        assert 0.6 * box < polygon.area < 1.1 * box
        assert polygon.contains(Point(geometry[tooth].centre))
    for first, second in itertools.pairwise(order):
        overlap = polygons[first].intersection(polygons[second]).area
        assert overlap < 0.05 * min(polygons[first].area, polygons[second].area)
        assert polygons[first].distance(polygons[second]) < 1e-6


@pytest.mark.parametrize("arch", ARCHES)
def test_vectors_are_unit_and_normals_point_outward(arch):
    geometry = place_teeth(arch)
    for place in geometry.places.values():
        assert np.hypot(*place.normal) == pytest.approx(1.0)
        assert np.dot(place.tangent, place.normal) == pytest.approx(0.0, abs=1e-12)
        assert np.dot(place.normal, np.subtract(place.facial, place.lingual)) == pytest.approx(
            place.faciolingual_mm
        )
        assert np.hypot(*place.facial) > np.hypot(*place.lingual) or abs(place.facial[0]) > abs(
            place.lingual[0]
        )


def test_scale_is_one_standard_deviation_of_real_arches():
    """Mina et al. 2017: 54.19 SD 5.31 and 28.10 SD 2.59 in the lower arch."""
    scale = place_teeth("mandible").scale
    assert scale.high == pytest.approx(59.50 / 54.19)
    assert scale.low == pytest.approx(48.88 / 54.19)


def test_bad_input_is_refused():
    with pytest.raises(ValueError, match="below zero"):
        place_teeth("maxilla", {(15,): -1.0})
    with pytest.raises(KeyError):
        place_teeth("maxilla", {(35,): 7.0})
    with pytest.raises(KeyError):
        place_teeth("both")
