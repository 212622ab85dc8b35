"""What lies on one tooth: rests, proximal plates, crowns and attachments, and the undercuts of the survey."""

import numpy as np
from shapely.geometry import LineString, Polygon
from shapely.geometry import Point as Spot
from shapely.geometry.base import BaseGeometry

from recommender.documents.drawing.courses import ZONE_TURNS
from recommender.documents.drawing.figures import size
from recommender.documents.drawing.frame import Frame, is_back
from recommender.documents.drawing.shapes import DrawnPart, curve, largest, tuples
from recommender.domain.findings import Abutment
from recommender.domain.measures import expected


def rest_parts(
    frame: Frame, tooth: int, rest: str, toward: str | None, joins: tuple[str, ...] = ()
) -> list[DrawnPart]:
    """The rests of one tooth. ``toward`` is the side of an embrasure or long rest (mesial or distal); ``joins`` are the
    sides on which a rest on the lingual of a front tooth runs out to the base that carries it."""
    side = toward or "distal"
    if rest == "none":
        return []
    if rest == "mesial_distal":
        sites = ["mesial", "distal"]
    elif rest == "embrasure":
        sites = [side]
    else:
        sites = [rest]
    return [_rest(frame, tooth, site, side, joins) for site in sites]


def _rest(frame: Frame, tooth: int, site: str, side: str, joins: tuple[str, ...]) -> DrawnPart:
    crown = frame.outline(tooth)
    if site in ("mesial", "distal"):
        shape = _spoon(frame, tooth, site, size("rest_length_share"))
    elif site == "long":
        shape = _spoon(frame, tooth, side, size("long_rest_share"))
    elif site == "cingulum":
        line = curve(
            frame.crown(tooth).spots(
                np.array([(-0.56, -0.3), (-0.34, -0.52), (0.0, -0.62), (0.34, -0.52), (0.56, -0.3)])
            ),
            4,
        )
        shape = LineString(line).buffer(size("cingulum_width") / 2, quad_segs=6)
    elif site == "incisal":
        sign = -1.0 if side == "mesial" else 1.0
        half = size("incisal_width") / frame.place(tooth).mesiodistal_mm
        low, high = (0.55 - half) * sign, (0.55 + half) * sign
        corners = np.array([(low, -0.3), (high, -0.3), (high, 0.8), (low, 0.8)])
        shape = Polygon(frame.crown(tooth).spots(corners)).buffer(-0.3).buffer(0.3)
    else:  # onlay
        shape = crown.buffer(-size("onlay_inset"))
    for joined in joins if site in ("cingulum", "incisal") else ():
        sign = -1.0 if joined == "mesial" else 1.0
        way = np.array([(0.5 * sign, -0.36), (0.8 * sign, -0.27), (1.06 * sign, -0.12)])
        shape = shape.union(LineString(frame.crown(tooth).spots(way)).buffer(size("cingulum_width") / 3))
    own = shape.intersection(crown.buffer(-0.05))
    own = own.difference(frame.near(own, tooth))
    return DrawnPart("rest", (tooth,), site, largest(own))


def _spoon(frame: Frame, tooth: int, site: str, share: float) -> Polygon:
    """A spoon from the marginal ridge toward the middle of the crown, widest at the ridge."""
    sign = -1.0 if site == "mesial" else 1.0
    end = 1 - 2 * share
    wide = size("rest_width_share")
    # On a front tooth the marginal ridge lies to the lingual.
    out = 0.02 if is_back(tooth) else -0.45
    wide = wide if is_back(tooth) else wide * 0.6
    half = [(1.06, 0.95), (0.9, 1.0), (1 - share * 0.8, 0.92), (end + 0.12, 0.6), (end, 0.0)]
    side = np.array([(sign * a, out + wide * w) for a, w in half])
    other = np.array([(sign * a, out - wide * w) for a, w in reversed(half[:-1])])
    return Polygon(curve(frame.crown(tooth).spots(np.vstack((side, other))), 4))


def proximal_plate(frame: Frame, tooth: int, side: str) -> DrawnPart:
    """The plate against a guiding plane, wrapped a little to the lingual."""
    middle = 0.0 if side == "mesial" else 2.0
    lingual = -1.0 if side == "mesial" else 1.0
    wide = size("plate_width")
    points = frame.crown(tooth).round(middle - 0.32 * lingual, middle + 0.62 * lingual, wide / 2)
    shape = LineString(points).buffer(wide / 2, cap_style="flat", quad_segs=4)
    shape = shape.difference(frame.outline(tooth).buffer(-0.02))
    area = largest(shape.difference(frame.near(shape, tooth)))
    return DrawnPart("proximal_plate", (tooth,), side, area, tuples(points))


def crown_part(frame: Frame, tooth: int, kind: str, near: str) -> DrawnPart:
    """A retainer inside the crown or on the root: ``attachment``, ``double_crown`` or ``stud``."""
    crown = frame.outline(tooth)
    if kind == "double_crown":
        area = crown.buffer(-0.35).difference(crown.buffer(-0.35 - size("crown_wall")))
    elif kind == "stud":
        area = Spot(frame.place(tooth).centre).buffer(size("stud_radius"))
    else:
        sign = -1.0 if near == "mesial" else 1.0
        corners = np.array([(0.98, 0.2), (0.8, 0.2), (0.8, 0.36), (0.42, 0.36), (0.42, -0.36), (0.8, -0.36),
                            (0.8, -0.2), (0.98, -0.2)]) * (sign, 1.0)  # fmt: skip
        area = Polygon(frame.crown(tooth).spots(corners)).intersection(crown)
    return DrawnPart(kind, (tooth,), kind, largest(area))


def undercut_marks(frame: Frame, abutment: Abutment, metal: BaseGeometry) -> list[tuple[DrawnPart, float]]:
    """A wedge at each zone in which the survey found an undercut, with the depth recorded there (mm).

    Zones that were not measured, and zones measured at nothing, carry no mark. Where ``metal`` lies on the edge of the
    crown, the wedge stands further in.
    """
    found = []
    depths = abutment.undercuts_mm
    for zone, at in ZONE_TURNS.items():
        depth = expected((getattr(depths, zone, None) if depths is not None else None) or 0.0)
        if not depth:
            continue
        part = _wedge(frame, abutment.tooth, zone, at, 0.0)
        if part.area.intersects(metal):
            part = _wedge(frame, abutment.tooth, zone, at, -size("undercut_inset"))
        found.append((part, depth))
    return found


def _wedge(frame: Frame, tooth: int, zone: str, at: float, off: float) -> DrawnPart:
    crown = frame.crown(tooth)
    outer, inner = crown.at(at, off), crown.at(at, off - size("undercut_depth"))
    (x, y), out = outer, crown.outward(at)
    half = size("undercut_depth") * 0.5
    corners = [(x - out[1] * half, y + out[0] * half), (x + out[1] * half, y - out[0] * half), inner]
    area = Polygon(corners).intersection(crown.outline)
    return DrawnPart("undercut", (tooth,), zone, largest(area), (outer, inner))
