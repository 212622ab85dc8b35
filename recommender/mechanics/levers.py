"""Fulcrum lines, levers, and what a sinking base does to a clasp tip.

Points are ``(x, y)`` in millimetres as in ``arch.py``: x to the patient's left, y forward. Levers are signed:
positive in front of the line, negative behind it. Published rules: the line of Class I and II joins the two
rests that stand furthest back, one each side; that of a long Class IV the two rests nearest the space
(McCracken's Removable Partial Prosthodontics, 12th ed., from memory).
"""

from dataclasses import dataclass
from math import hypot

from recommender.mechanics.arch import Point
from recommender.mechanics.bands import Band, exact


@dataclass(frozen=True, slots=True)
class Line:
    """A line across the arch through two different points, ``right`` and ``left`` of the patient."""

    right: Point
    left: Point

    def __post_init__(self) -> None:
        if self.right == self.left:
            raise ValueError("a fulcrum line needs two different points")

    def lever_mm(self, point: Point) -> float:
        """Signed perpendicular distance of a point: positive in front of the line, negative behind.

        For a line that runs straight fore and aft, "in front" is to the patient's right.
        """
        (right_x, right_y), (left_x, left_y) = self.right, self.left
        dx, dy = left_x - right_x, left_y - right_y
        if dx < 0:
            dx, dy = -dx, -dy
        return (dx * (point[1] - right_y) - dy * (point[0] - right_x)) / hypot(dx, dy)


@dataclass(frozen=True, slots=True)
class Seat:
    """A possible indirect retainer: ``lever_mm`` on the side away from the base is positive.

    ``ratio``: its lever over that of the load, retention arm over dislodging arm; ``None`` where the load
    lies on the line.
    """

    name: str
    lever_mm: Band
    ratio: Band | None


def tip_travel_mm(tip: Point, line: Line, load: Point, sink_mm: Band | float) -> Band:
    """How far a clasp tip rises (positive, into its undercut) as the base sinks by ``sink_mm`` at the load.

    Rigid base, turning about the line by a small angle: the tip moves against the load in the ratio of their
    levers. A tip behind the line sinks with the base and lets go; ``ValueError`` for a load on the line.
    """
    load_arm = line.lever_mm(load)
    if load_arm == 0:
        raise ValueError("a load on the fulcrum line turns nothing")
    sink = sink_mm if isinstance(sink_mm, Band) else exact(sink_mm)
    return sink * (-line.lever_mm(tip) / load_arm)
