"""Where each crown stands, seen from above: its frame, its outline as four points, and the lines through its
contacts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from recommender.domain.dentition import neighbour, quadrant
from recommender.survey.arrays import Bools, Floats, unit
from recommender.survey.settings import settings

Line = tuple[Floats, Floats]  # a point of the contact and the direction through the embrasures, (2,) each
OUTLINE = ("mesial", "facial", "distal", "lingual")


@dataclass(frozen=True)
class ToothFrame:
    """A crown in the level frame: ``centre`` (3,), unit vectors ``mesial`` and ``facial`` (2,), half-widths
    mesiodistal and faciolingual (mm), and the contact line on the mesial and on the distal side where a neighbour
    touches."""

    tooth: int
    centre: Floats
    mesial: Floats
    facial: Floats
    half: tuple[float, float]
    lines: tuple[Line | None, Line | None] = (None, None)

    def outline(self) -> dict[str, Floats]:
        """The four points of the outline, (3,) each, at the height of the centre."""
        along = np.append(self.mesial * self.half[0], 0.0)
        across = np.append(self.facial * self.half[1], 0.0)
        return {
            "mesial": self.centre + along, "facial": self.centre + across,
            "distal": self.centre - along, "lingual": self.centre - across,
        }  # fmt: skip

    def local(self, points: Floats) -> Floats:
        """Points (n, 3) as distances to mesial, to facial, and height in the level frame."""
        away = points[:, :2] - self.centre[:2]
        return np.column_stack([away @ self.mesial, away @ self.facial, points[:, 2]])

    def world(self, local: Floats) -> Floats:
        """The inverse of ``local``."""
        flat = self.centre[:2] + local[:, :1] * self.mesial + local[:, 1:2] * self.facial
        return np.column_stack([flat, local[:, 2]])

    def direction(self, up: Floats) -> Floats:
        """A direction of the level frame as (mesial, facial, up)."""
        return np.array([up[:2] @ self.mesial, up[:2] @ self.facial, up[2]])

    def beyond_contacts(self, flat: Floats, gap: float) -> Bools:
        """Which places (n, 2) lie beyond a contact line, or within ``gap`` mm of it on this side."""
        beyond = np.zeros(len(flat), bool)
        for sign, line in zip((1.0, -1.0), self.lines, strict=True):
            if line is not None:
                point, along = line
                normal = np.array([along[1], -along[0]])
                normal = normal * np.sign(normal @ self.mesial) * sign
                beyond |= (flat - point) @ normal > -gap
        return beyond


def from_outline(tooth: int, points: Mapping[str, Floats]) -> ToothFrame:
    """A frame from the four points of an outline, in the level frame."""
    mesial_end, distal_end = points["mesial"][:2], points["distal"][:2]
    mesial = unit(mesial_end - distal_end)
    across = points["facial"][:2] - points["lingual"][:2]
    facial = unit(across - mesial * float(across @ mesial))
    facial_reach = float(points["facial"][:2] @ facial)
    lingual_reach = float(points["lingual"][:2] @ facial)
    flat = (
        mesial * float((mesial_end + distal_end) @ mesial) / 2 + facial * (facial_reach + lingual_reach) / 2
    )
    half = (float(np.linalg.norm(mesial_end - distal_end)) / 2, (facial_reach - lingual_reach) / 2)
    height = float(np.mean([points[name][2] for name in OUTLINE]))
    return ToothFrame(tooth, np.append(flat, height), mesial, facial, half)


def with_contacts(frames: Sequence[ToothFrame]) -> list[ToothFrame]:
    """The frames with the contact lines between neighbours whose ends lie close together."""
    closed = settings()["teeth"]["contact_mm"]
    by_tooth = {frame.tooth: frame for frame in frames}
    joined = []
    for frame in frames:
        lines: list[Line | None] = []
        for side, sign in (("mesial", 1.0), ("distal", -1.0)):
            other = by_tooth.get(neighbour(frame.tooth, side) or 0)
            lines.append(_contact(frame, other, side, sign, closed) if other else None)
        joined.append(replace(frame, lines=(lines[0], lines[1])))
    return joined


def _contact(frame: ToothFrame, other: ToothFrame, side: str, sign: float, closed: float) -> Line | None:
    # a mesial side meets the neighbour's distal one, except across the midline
    other_sign = 1.0 if side == "distal" or quadrant(other.tooth) != quadrant(frame.tooth) else -1.0
    own_end = frame.centre[:2] + sign * frame.half[0] * frame.mesial
    other_end = other.centre[:2] + other_sign * other.half[0] * other.mesial
    away = own_end - other_end
    # only the distance along the row counts: crowded teeth touch beside their ends
    row = unit(other.centre[:2] - frame.centre[:2])
    if abs(float(away @ row)) > closed:
        return None
    return (own_end + other_end) / 2, unit(frame.facial + other.facial)
