"""Cross-sections of arms and bars: second moments of area and what follows from them.

All lengths in millimetres. A ``half_round`` section has a flat inner face ``width`` wide and stands
``thickness`` high over it (half an ellipse; a true half-round has width twice its thickness); it bends about
the axis parallel with the flat. A ``round`` one has its ``thickness`` for diameter, a ``rectangle`` both.
"""

import math

import numpy as np

from recommender.mechanics.curve import Array

# Half ellipse of half-width b and height h about its own centroid: I = (pi/8 - 8/(9 pi)) b h^3; the centroid
# stands 4/(3 pi) of the height over the flat (Young, Budynas, Roark's Formulas, app. A).
HALF_ROUND_MOMENT = math.pi / 8 - 8 / (9 * math.pi)
HALF_ROUND_FIBRE = 1 - 4 / (3 * math.pi)
HALF_ROUND_ACROSS = math.pi / 8
# Torsion of a solid semicircle of radius r: J = 0.296 r^4, greatest shear 2.86 T / r^3 (Roark, table of
# torsion constants; from memory).
HALF_ROUND_TORSION = 0.296
HALF_ROUND_SHEAR = 2.86

KINDS = ("half_round", "round", "rectangle")


def second_moment_mm4(kind: str, thickness: Array | float, width: Array | float) -> Array:
    """Second moment of area for bending across the thickness; ``ValueError`` for another kind."""
    h, w = np.asarray(thickness, dtype=np.float64), np.asarray(width, dtype=np.float64)
    if kind == "half_round":
        return np.asarray(HALF_ROUND_MOMENT * (w / 2) * h**3)
    if kind == "round":
        return np.asarray(math.pi * h**4 / 64)
    if kind == "rectangle":
        return np.asarray(w * h**3 / 12)
    raise ValueError(f"unknown section {kind!r}; there are {', '.join(KINDS)}")


def second_moment_across_mm4(kind: str, thickness: float, width: float) -> float:
    """Second moment for bending the other way, across the width."""
    if kind == "half_round":
        return HALF_ROUND_ACROSS * (width / 2) ** 3 * thickness
    if kind == "round":
        return math.pi * thickness**4 / 64
    if kind == "rectangle":
        return thickness * width**3 / 12
    raise ValueError(f"unknown section {kind!r}; there are {', '.join(KINDS)}")


def extreme_fibre_mm(kind: str, thickness: Array | float) -> Array:
    """Distance from the neutral axis to the fibre that is stressed most."""
    share = HALF_ROUND_FIBRE if kind == "half_round" else 0.5
    return np.asarray(share * np.asarray(thickness, dtype=np.float64))


def torsion_constant_mm4(kind: str, thickness: Array | float, width: Array | float) -> Array:
    """Torsion constant J; for a half ellipse that of the semicircle, scaled as the second moment is."""
    h, w = np.asarray(thickness, dtype=np.float64), np.asarray(width, dtype=np.float64)
    if kind == "half_round":
        return np.asarray(HALF_ROUND_TORSION * (w / 2) * h**3)
    if kind == "round":
        return np.asarray(math.pi * h**4 / 32)
    if kind == "rectangle":
        long, short = np.maximum(w, h), np.minimum(w, h)
        return np.asarray(long * short**3 * (1 / 3 - 0.21 * short / long * (1 - (short / long) ** 4 / 12)))
    raise ValueError(f"unknown section {kind!r}; there are {', '.join(KINDS)}")


def torsion_modulus_mm3(kind: str, thickness: Array | float, width: Array | float) -> Array:
    """Twisting moment over the greatest shear stress."""
    h, w = np.asarray(thickness, dtype=np.float64), np.asarray(width, dtype=np.float64)
    if kind == "half_round":
        return np.asarray((w / 2) * h**2 / HALF_ROUND_SHEAR)
    if kind == "round":
        return np.asarray(math.pi * h**3 / 16)
    raise ValueError(f"no torsion modulus for section {kind!r}")


def area_mm2(kind: str, thickness: float, width: float) -> float:
    """Area of the section."""
    if kind == "half_round":
        return math.pi * width * thickness / 4
    if kind == "round":
        return math.pi * thickness**2 / 4
    if kind == "rectangle":
        return width * thickness
    raise ValueError(f"unknown section {kind!r}; there are {', '.join(KINDS)}")
