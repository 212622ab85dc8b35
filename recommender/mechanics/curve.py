"""The arch line: the beta function of the human dental arch, measured along its length.

``y(x) = 3.0314 D (1/2 + x/W)^0.8 (1/2 - x/W)^0.8`` (Braun et al. 1998, Angle Orthod 68:29-36), x across from
the midline, y forward of the molar line, W the molar width, D the depth, all in millimetres. Means and
standard deviations of W and D at the first molars: Mina et al. 2017, Odontology 105:229-236, taken at the
facial-axis points. Behind the molar line, where the curve ends with a vertical tangent, the row is
continued straight back (common practice, no source).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from recommender.mechanics.bands import Band
from recommender.mechanics.figures import remembered
from recommender.mechanics.tables import band

Array = NDArray[np.float64]

PEAK_FACTOR = 3.0314
EXPONENT = 0.8
_SIZES = {"maxilla": ("ARCH-006", "ARCH-008"), "mandible": ("ARCH-007", "ARCH-009")}
_STEPS = 8000


def beta_function(across_mm: Array | float, width_mm: float, depth_mm: float) -> Array:
    """Height of the arch line in front of the molar line (mm) at a distance across from the midline (mm)."""
    share = np.asarray(across_mm, dtype=np.float64) / width_mm
    inside = np.clip((0.5 + share) * (0.5 - share), 0.0, None)
    return np.asarray(PEAK_FACTOR * depth_mm * inside**EXPONENT, dtype=np.float64)


def molar_width_mm(arch: str) -> Band:
    """First-molar width W of the arch: mean and one standard deviation."""
    return band("arch_form", _SIZES[arch][0])


def molar_depth_mm(arch: str) -> Band:
    """Depth D of the arch at the first molars: mean and one standard deviation."""
    return band("arch_form", _SIZES[arch][1])


@dataclass(frozen=True, slots=True)
class HalfCurve:
    """Half of the arch line, from the midline back, tabulated by arc length.

    ``arc``, ``across``, ``forward`` (mm) and ``fall`` (radians from straight across, 0 at the midline to
    pi/2 at the molar line) have the same length; ``half_arc_mm`` is the whole half arc.
    """

    arc: Array
    across: Array
    forward: Array
    fall: Array
    half_arc_mm: float

    def at(self, distance_mm: Array) -> tuple[Array, Array]:
        """Across and forward (mm, across never negative) at distances along the line from the midline."""
        beyond = np.clip(distance_mm - self.half_arc_mm, 0.0, None)
        across = np.interp(distance_mm, self.arc, self.across)
        return across, np.interp(distance_mm, self.arc, self.forward) - beyond

    def fall_at(self, distance_mm: Array) -> Array:
        """How far the line has turned back at distances along it (radians, 0 to pi/2)."""
        return np.interp(distance_mm, self.arc, self.fall)


@remembered()
def half_curve(width_mm: float, depth_mm: float) -> HalfCurve:
    """The half arch line of a given molar width and depth, tabulated finely enough for 1e-5 mm."""
    # Equal steps of an angle crowd the points where the curve turns down into the molar line.
    angle = np.linspace(0.0, np.pi / 2, _STEPS + 1)
    across = 0.5 * width_mm * np.sin(angle)
    across[-1] = 0.5 * width_mm
    forward = beta_function(across, width_mm, depth_mm)
    arc = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(across), np.diff(forward)))))
    half = 0.5 * width_mm
    inner = across[:-1]
    slope = forward[:-1] * EXPONENT * (1 / (half + inner) - 1 / (half - inner))
    fall = np.append(np.arctan(-slope), np.pi / 2)
    for column in (arc, across, forward, fall):
        column.setflags(write=False)
    return HalfCurve(arc, across, forward, fall, float(arc[-1]))
