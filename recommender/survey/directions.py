"""Directions on the surveyor: axes round a path of placement, and the two tilts of the case format.

The level frame: x to the right of a viewer who looks down on the teeth, y to the front of the mouth, z out of the
cast. The patient's right is at negative x in the upper arch and at positive x in the lower one.
"""

import math

import numpy as np

from recommender.survey.arrays import Floats, unit


def right_sign(arch: str) -> float:
    """-1 where the patient's right lies at negative x (maxilla), else 1."""
    return -1.0 if arch == "maxilla" else 1.0


def path_direction(tilt_ap_deg: float, tilt_lateral_deg: float, arch: str) -> Floats:
    """The surveyor's vertical in the level frame (unit vector), for a cast with its front and its patient's right
    down by the two tilts (degrees, as ``records`` of the case format)."""
    front, right = math.tan(math.radians(tilt_ap_deg)), math.tan(math.radians(tilt_lateral_deg))
    return unit(np.array([-right_sign(arch) * right, -front, 1.0]))


def tilts(up: Floats, arch: str) -> tuple[float, float]:
    """The inverse of ``path_direction``: anteroposterior and lateral tilt in degrees."""
    front = math.degrees(math.atan2(-up[1], up[2]))
    right = math.degrees(math.atan2(-right_sign(arch) * up[0], up[2]))
    return front, right


def level_axes(up: Floats) -> Floats:
    """Rows: an axis near x, an axis near y and ``up``, each at right angles to the others, right-handed."""
    up = unit(np.asarray(up, dtype=np.float64))
    first = np.array([1.0, 0.0, 0.0]) - up * up[0]
    if np.linalg.norm(first) < 1e-6:
        first = np.array([0.0, 1.0, 0.0]) - up * up[1]
    first = unit(first)
    return np.stack([first, np.cross(up, first), up])


def cone(most_deg: float, step_deg: float) -> list[tuple[float, float]]:
    """Pairs of tilts on a grid within ``most_deg`` of level, level first among equals."""
    count = int(most_deg / step_deg)
    grid = [
        (i * step_deg, j * step_deg)
        for i in range(-count, count + 1)
        for j in range(-count, count + 1)
        if math.hypot(i, j) * step_deg <= most_deg + 1e-9
    ]
    return sorted(grid, key=lambda pair: (math.hypot(*pair), pair))
