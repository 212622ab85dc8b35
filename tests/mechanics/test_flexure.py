"""The bent arm against closed forms, independent solutions and published scaling."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, solve_bvp

from recommender.mechanics import flexure, sections
from recommender.mechanics.tables import row

CO_CR = 210.0


def one(bend: flexure.Bend) -> tuple[float, float, float]:
    return float(bend.stiffness_n_per_mm[0]), float(bend.stress_mpa_per_n[0]), float(bend.peak_at[0])


def straight_stiffness_n_per_mm(
    kind: str, length: float, thickness: float, width: float, modulus_gpa: float
) -> float:
    """Closed form of the uniform straight arm, ``3 E I / L^3``."""
    return float(3000 * modulus_gpa * sections.second_moment_mm4(kind, thickness, width) / length**3)


def arc_stiffness_n_per_mm(
    kind: str, length: float, turn: float, thickness: float, width: float, modulus_gpa: float
) -> float:
    """Closed form of the uniform circular arm: ``E I / (R^3 (turn/2 - sin(2 turn)/4))``, ``R = L/turn``."""
    radius = length / turn
    shape = turn / 2 - np.sin(2 * turn) / 4
    return float(1000 * modulus_gpa * sections.second_moment_mm4(kind, thickness, width) / (radius**3 * shape))


@pytest.mark.parametrize("kind", ["round", "half_round"])
def test_uniform_straight_arm_is_the_closed_form(kind):
    """Timoshenko, Strength of Materials: k = 3 E I / L^3, stress at the root F L c / I."""
    stiffness, stress, where = one(flexure.curved_arm(kind, 12.0, 0.0, 1.0, 1.8, 1.0, CO_CR))
    assert stiffness == pytest.approx(
        straight_stiffness_n_per_mm(kind, 12.0, 1.0, 1.8, CO_CR), rel=1e-9
    )
    moment = float(sections.second_moment_mm4(kind, 1.0, 1.8))
    assert stress == pytest.approx(12.0 * float(sections.extreme_fibre_mm(kind, 1.0)) / moment, rel=1e-9)
    assert where == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("turn", [0.3, 1.0, 2.0, 3.0, 4.5])
def test_uniform_circular_arm_is_the_closed_form(turn):
    """Castigliano on a circular arc: k = E I / (R^3 (turn/2 - sin(2 turn)/4))."""
    stiffness, _, _ = one(flexure.curved_arm("half_round", 11.0, turn, 0.9, 1.6, 1.0, CO_CR))
    expected = arc_stiffness_n_per_mm("half_round", 11.0, turn, 0.9, 1.6, CO_CR)
    assert stiffness == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("taper", [0.8, 0.5, 0.4])
def test_tapered_straight_arm_against_a_boundary_value_solution(taper):
    """E I(x) y'' = F (L - x), y(0) = y'(0) = 0, solved by scipy.integrate.solve_bvp."""
    length, base, width, force = 10.0, 1.0, 1.6, 2.0

    def moment(x):
        size = 1 - (1 - taper) * x / length
        return sections.second_moment_mm4("half_round", base * size, width * size)

    def slope(x, y):
        return np.vstack((y[1], force * (length - x) / (1000 * CO_CR * moment(x))))

    def ends(at_root, _at_tip):
        return np.array([at_root[0], at_root[1]])

    x = np.linspace(0, length, 400)
    solved = solve_bvp(slope, ends, x, np.zeros((2, x.size)), tol=1e-10, max_nodes=20000)
    assert solved.success
    stiffness, _, _ = one(flexure.curved_arm("half_round", length, 0.0, base, width, taper, CO_CR))
    assert force / stiffness == pytest.approx(float(solved.y[0, -1]), rel=1e-6)


def test_tapered_straight_arm_against_finite_differences():
    """Curvature summed twice by the trapezoidal rule on 40 000 steps."""
    length, base, width, taper = 9.0, 1.1, 2.0, 0.5
    x = np.linspace(0, length, 40001)
    size = 1 - (1 - taper) * x / length
    curvature = (length - x) / (
        1000 * CO_CR * sections.second_moment_mm4("half_round", base * size, width * size)
    )
    step = x[1]
    turned = np.concatenate(([0.0], np.cumsum((curvature[1:] + curvature[:-1]) / 2) * step))
    sunk = float(np.sum((turned[1:] + turned[:-1]) / 2) * step)
    stiffness, _, _ = one(flexure.curved_arm("half_round", length, 0.0, base, width, taper, CO_CR))
    assert 1 / stiffness == pytest.approx(sunk, rel=1e-6)


@pytest.mark.parametrize(("turn", "taper"), [(1.2, 0.5), (2.2, 0.6), (2.9, 1.0)])
def test_curved_tapered_arm_against_integrated_displacements(turn, taper):
    """The section rotations carried along the arc as displacements (no energy theorem), by adaptive quadrature."""
    length, base, width = 12.0, 1.0, 1.7
    radius = length / turn

    def tangent(s):  # from the root, which points along x
        return np.array([np.cos(s / radius), np.sin(s / radius)])

    def place(s):
        return radius * np.array([np.sin(s / radius), 1 - np.cos(s / radius)])

    out = np.array([tangent(length)[1], -tangent(length)[0]])  # square to the tip

    def rotation_rate(s):
        arm = place(length) - place(s)
        bending = arm[0] * out[1] - arm[1] * out[0]
        size = 1 - (1 - taper) * s / length
        return bending / (
            1000 * CO_CR * float(sections.second_moment_mm4("half_round", base * size, width * size))
        )

    def moved(s):
        # A small rotation at s swings the tip about that section.
        arm = place(length) - place(s)
        return rotation_rate(s) * float(np.dot([-arm[1], arm[0]], out))

    compliance, _ = quad(moved, 0, length, epsabs=1e-14, epsrel=1e-11)
    stiffness, _, _ = one(flexure.curved_arm("half_round", length, turn, base, width, taper, CO_CR))
    assert 1 / stiffness == pytest.approx(compliance, rel=1e-6)


def test_bar_arm_of_even_section_is_the_closed_form():
    """An L of two legs, pushed square to its plane: v^3/3EI + h^3/3EI + v^2 h/GJ (Roark, curved and bent beams)."""
    rise, level, thick, wide, poisson = 6.5, 11.5, 1.1, 2.0, 0.3
    bend = flexure.bar_arm("half_round", rise + level, rise, thick, wide, 1.0, CO_CR, poisson)
    bent = 1000 * CO_CR * float(sections.second_moment_mm4("half_round", thick, wide))
    twisted = (
        1000 * CO_CR / (2 * (1 + poisson)) * float(sections.torsion_constant_mm4("half_round", thick, wide))
    )
    compliance = rise**3 / (3 * bent) + level**3 / (3 * bent) + rise**2 * level / twisted
    assert one(bend)[0] == pytest.approx(1 / compliance, rel=1e-9)
    with pytest.raises(ValueError, match="rise"):
        flexure.bar_arm("half_round", 5.0, 6.0, thick, wide, 1.0, CO_CR, poisson)


@pytest.mark.parametrize(
    ("thick", "length", "force", "stress", "limit"),
    [
        (0.6, 10, "RET-178", "RET-179", "RET-180"),
        (0.8, 10, "RET-181", "RET-182", "RET-183"),
        (0.8, 12, "RET-184", "RET-185", "RET-186"),
        (0.8, 15, "RET-187", "RET-188", "RET-189"),
        (1.0, 10, "RET-190", "RET-191", "RET-192"),
        (1.0, 15, "RET-193", "RET-194", "RET-195"),
    ],
)
def test_half_round_worked_examples(thick, length, force, stress, limit):
    """Beam theory rows: cobalt-chromium 210 GPa, half-round of that radius, 0.25 mm, 600 MPa."""
    stiffness, per_newton, _ = one(
        flexure.curved_arm("half_round", length, 0.0, thick, 2 * thick, 1.0, CO_CR)
    )
    assert 0.25 * stiffness == pytest.approx(row("retention", force).typical, abs=0.006)
    assert 0.25 * stiffness * per_newton == pytest.approx(row("retention", stress).typical, abs=0.6)
    assert 600 / (stiffness * per_newton) == pytest.approx(row("retention", limit).typical, abs=6e-4)


def test_cone_doubles_its_deflection_and_moves_its_peak_stress():
    """A round arm tapering to one half: twice the deflection, peak 18.5 % over the root and half way along."""
    even = one(flexure.curved_arm("round", 10.0, 0.0, 1.0, 1.0, 1.0, CO_CR))
    cone = one(flexure.curved_arm("round", 10.0, 0.0, 1.0, 1.0, 0.5, CO_CR))
    assert even[0] / cone[0] == pytest.approx(row("retention", "RET-196").typical, rel=1e-9)
    assert cone[1] / even[1] == pytest.approx(row("retention", "RET-197").typical, abs=5e-4)
    assert cone[2] == pytest.approx(0.5, abs=1e-3)
    # The peak leaves the root once the tip is under two thirds of it.
    assert one(flexure.curved_arm("round", 10.0, 0.0, 1.0, 1.0, 0.68, CO_CR))[2] == pytest.approx(
        0.0, abs=1e-6
    )
    assert one(flexure.curved_arm("round", 10.0, 0.0, 1.0, 1.0, 0.64, CO_CR))[2] > 0


@given(st.floats(4, 20), st.floats(0.5, 1.6), st.floats(1.05, 2.0))
def test_rods_follow_diameter_to_the_fourth_and_length_cubed(length, diameter, factor):
    """Chen et al. 2024, BMC Oral Health 24: force of straight rods goes with d^4 / L^3 (row RET-166)."""
    base = one(flexure.curved_arm("round", length, 0.0, diameter, diameter, 1.0, CO_CR))[0]
    thicker = one(flexure.curved_arm("round", length, 0.0, diameter * factor, diameter * factor, 1.0, CO_CR))[
        0
    ]
    longer = one(flexure.curved_arm("round", length * factor, 0.0, diameter, diameter, 1.0, CO_CR))[0]
    assert thicker / base == pytest.approx(factor**4, rel=1e-9)
    assert base / longer == pytest.approx(factor**3, rel=1e-9)


@given(
    st.floats(5, 25), st.floats(0, 3.0), st.floats(0.6, 1.5), st.floats(1.2, 2.5), st.floats(0.4, 1.0),
    st.floats(1.0, 1.4),
)  # fmt: skip
@settings(max_examples=60)
def test_longer_or_thinner_is_never_stiffer_and_more_turn_never_weaker(
    length, turn, thick, wide, taper, factor
):
    """Curved arms are stiffer than straight ones of equal length (Geramy et al. 2007, row RET-168)."""
    base = one(flexure.curved_arm("half_round", length, turn, thick, wide, taper, CO_CR))[0]
    assert one(flexure.curved_arm("half_round", length * factor, turn, thick, wide, taper, CO_CR))[
        0
    ] <= base * (1 + 1e-12)
    assert one(flexure.curved_arm("half_round", length, turn, thick / factor, wide, taper, CO_CR))[
        0
    ] <= base * (1 + 1e-12)
    more = min(turn * factor + 0.05, np.pi)
    assert one(flexure.curved_arm("half_round", length, more, thick, wide, taper, CO_CR))[0] >= base * (
        1 - 1e-12
    )


def test_half_ellipse_section_against_integration():
    """Second moment and centroid of the half ellipse (Roark) by numerical integration."""
    half_width, height = 0.8, 0.7
    area, _ = quad(lambda y: 2 * half_width * np.sqrt(1 - (y / height) ** 2), 0, height)
    first, _ = quad(lambda y: 2 * half_width * np.sqrt(1 - (y / height) ** 2) * y, 0, height)
    middle = first / area
    moment, _ = quad(lambda y: 2 * half_width * np.sqrt(1 - (y / height) ** 2) * (y - middle) ** 2, 0, height)
    assert float(sections.second_moment_mm4("half_round", height, 2 * half_width)) == pytest.approx(
        moment, rel=1e-6
    )
    assert float(sections.extreme_fibre_mm("half_round", height)) == pytest.approx(height - middle, rel=1e-6)
    assert sections.area_mm2("half_round", height, 2 * half_width) == pytest.approx(area, rel=1e-6)
    # The factors quoted for a true half-round, 0.10976 and 0.57559.
    assert pytest.approx(0.10976, abs=5e-6) == sections.HALF_ROUND_MOMENT
    assert pytest.approx(0.57559, abs=5e-6) == sections.HALF_ROUND_FIBRE


def test_an_unknown_section_is_refused():
    with pytest.raises(ValueError, match="unknown section"):
        sections.second_moment_mm4("square", 1.0, 1.0)


def test_withdrawing_over_lateral_force():
    """Snap-fit mechanics at friction 0.2 and 15, 20, 30 degrees (row RET-198); a locking fit is refused."""
    expected = row("retention", "RET-198")
    for angle, value in ((15, expected.low), (20, expected.typical), (30, expected.high)):
        assert flexure.withdrawal_factor(np.radians(angle), 0.2) == pytest.approx(value, abs=6e-4)
    with pytest.raises(ValueError, match="lock"):
        flexure.withdrawal_factor(np.radians(80), 0.2)


def test_acetal_as_stiff_as_a_cobalt_chromium_rod():
    """Turner, Radford, Sherriff 1999: a 15 mm x 1 mm Co-Cr rod is matched by about 5 mm of acetal (RET-175 to -177)."""
    rod = straight_stiffness_n_per_mm("round", 15.0, 1.0, 1.0, 220.0)
    acetal = straight_stiffness_n_per_mm("round", 5.0, 1.4, 1.4, 2.245)
    assert rod == pytest.approx(row("retention", "RET-176").typical, abs=0.05)
    assert acetal == pytest.approx(row("retention", "RET-177").typical, abs=0.05)
    assert acetal / rod == pytest.approx(1.0, abs=0.07)
