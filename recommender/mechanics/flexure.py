"""A curved, tapered cantilever pushed at its tip: stiffness and stress.

Lengths in millimetres, moduli in GPa, forces in newtons, stresses in MPa. Every function takes arrays of one
length, so that many arms are worked out at once. The deflection is the integral of Castigliano's theorem,
``d/F = integral of m^2/(E I) + t^2/(G J) ds``, with ``m`` and ``t`` the bending and twisting lever of a unit
tip force at each section (Timoshenko, *Strength of Materials*), by Gauss-Legendre quadrature. Thickness and
width taper straight from the origin to the tip.
"""

from dataclasses import dataclass

import numpy as np

from recommender.mechanics.curve import Array
from recommender.mechanics.sections import (
    extreme_fibre_mm,
    second_moment_mm4,
    torsion_constant_mm4,
    torsion_modulus_mm3,
)

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)
_U = (_NODES + 1) / 2
_W = _WEIGHTS / 2
_GRID = np.linspace(0.0, 1.0, 201)


@dataclass(frozen=True, slots=True)
class Bend:
    """What a tip force does to an arm, one entry for each arm.

    ``stiffness_n_per_mm``: tip force for a millimetre. ``stress_mpa_per_n``: peak stress (von Mises where the
    arm is twisted too) for a newton. ``peak_at``: where that is, as a share of the length from the origin.
    """

    stiffness_n_per_mm: Array
    stress_mpa_per_n: Array
    peak_at: Array


def _columns(*values: Array | float) -> tuple[Array, ...]:
    arrays = np.broadcast_arrays(*(np.atleast_1d(np.asarray(value, dtype=np.float64)) for value in values))
    return tuple(array[:, np.newaxis] for array in arrays)


def curved_arm(
    kind: str,
    length: Array | float,
    turn: Array | float,
    thickness: Array | float,
    width: Array | float,
    taper: Array | float,
    modulus_gpa: Array | float,
) -> Bend:
    """An arm along a circular arc, pushed at the tip square to it, in the plane of the arc.

    ``turn`` is the whole angle of the arc in radians (0 for a straight arm), ``thickness`` and ``width`` are
    those at the origin, ``taper`` is tip over origin. A uniform straight arm gives ``3 E I / L^3``.
    """
    length_, turn_, thick, wide, taper_, modulus = _columns(
        length, turn, thickness, width, taper, modulus_gpa
    )

    def lever(share: Array) -> Array:
        # R sin(phi) with R = L / turn; numpy's sinc is smooth through a straight arm.
        return np.asarray(length_ * share * np.sinc(turn_ * share / np.pi))

    def size(share: Array) -> Array:
        return np.asarray(taper_ + (1 - taper_) * share)

    moment = second_moment_mm4(kind, thick * size(_U), wide * size(_U))
    compliance = (lever(_U) ** 2 / moment) @ _W * length_[:, 0] / (1000 * modulus[:, 0])
    grid = size(_GRID)
    stress = (
        np.abs(lever(_GRID))
        * extreme_fibre_mm(kind, thick * grid)
        / second_moment_mm4(kind, thick * grid, wide * grid)
    )
    peak, where = _peak(stress)
    return Bend(1 / compliance, peak, 1 - where)


def bar_arm(
    kind: str,
    length: Array | float,
    rise: Array | float,
    thickness: Array | float,
    width: Array | float,
    taper: Array | float,
    modulus_gpa: Array | float,
    poisson: float,
) -> Bend:
    """A bar arm of two straight legs at a right angle, pushed at the tip square to the plane of both.

    ``rise`` is the leg that ends in the tip; the rest of ``length`` runs level from the base and is bent and
    twisted at once. ``ValueError`` if the rise is longer than the arm.
    """
    length_, rise_, thick, wide, taper_, modulus = _columns(
        length, rise, thickness, width, taper, modulus_gpa
    )
    if (rise_ > length_).any():
        raise ValueError("the rise of a bar arm cannot be longer than the arm")
    shear = modulus / (2 * (1 + poisson))
    compliance = np.zeros(len(length_))
    for start, end in ((np.zeros_like(rise_), rise_), (rise_, length_)):
        distance = start + (end - start) * _U
        size = taper_ + (1 - taper_) * distance / length_
        level = distance > rise_
        bending = np.where(level, distance - rise_, distance)
        twisting = np.where(level, rise_, 0.0)
        bent = bending**2 / (modulus * second_moment_mm4(kind, thick * size, wide * size))
        twisted = twisting**2 / (shear * torsion_constant_mm4(kind, thick * size, wide * size))
        compliance += ((bent + twisted) @ _W) * (end - start)[:, 0] / 1000
    distance = length_ * _GRID
    size = taper_ + (1 - taper_) * _GRID
    level = distance > rise_
    normal = (
        np.where(level, distance - rise_, distance)
        * extreme_fibre_mm(kind, thick * size)
        / second_moment_mm4(kind, thick * size, wide * size)
    )
    shearing = np.where(level, rise_, 0.0) / torsion_modulus_mm3(kind, thick * size, wide * size)
    # The level leg is twisted and bent: von Mises of the two, as if they met in one fibre (a cautious sum).
    peak, where = _peak(np.sqrt(normal**2 + 3 * shearing**2))
    return Bend(1 / compliance, peak, 1 - where)


def _peak(stress: Array) -> tuple[Array, Array]:
    """Greatest value along the grid and where, by a parabola through the three highest neighbours."""
    index = np.clip(stress.argmax(axis=1), 1, stress.shape[1] - 2)
    rows = np.arange(len(stress))
    before, at, after = stress[rows, index - 1], stress[rows, index], stress[rows, index + 1]
    bend = before - 2 * at + after
    shift = np.where(bend < 0, (before - after) / (2 * np.where(bend < 0, bend, 1.0)), 0.0)
    inside = np.abs(shift) <= 1
    shift = np.where(inside, shift, 0.0)
    smooth = at - 0.25 * (before - after) * shift
    ends = np.maximum(stress[:, 0], stress[:, -1])
    at_end = ends >= np.maximum(smooth, at)
    step = _GRID[1]
    where = np.where(at_end, np.where(stress[:, -1] >= stress[:, 0], 1.0, 0.0), _GRID[index] + shift * step)
    return np.maximum(np.maximum(smooth, at), ends), where


def withdrawal_factor(convergence_rad: float, friction: float) -> float:
    """Withdrawing over lateral force, ``(tan a + mu) / (1 - mu tan a)``: a clasp tip is a snap fit.

    ``a`` is the angle of cervical convergence at the tip; ``ValueError`` where the fit would lock itself.
    """
    slope = np.tan(convergence_rad)
    if friction * slope >= 1:
        raise ValueError("friction and convergence lock the arm in its undercut")
    return float((slope + friction) / (1 - friction * slope))
