"""What lies on one tooth: rests, proximal plates, crowns and attachments, and the undercuts of the survey."""

from shapely.geometry import LineString, Polygon
from shapely.geometry import Point as Spot

from recommender.documents.arms import ZONE_TURNS
from recommender.documents.content import size
from recommender.documents.drawn import DrawnPart, largest, pieces
from recommender.documents.frame import Frame, is_back
from recommender.domain.case import Abutment, expected


def rest_parts(frame: Frame, tooth: int, rest: str, toward: str | None) -> list[DrawnPart]:
    """The rests of one tooth. ``toward`` is the side of an embrasure or long rest (mesial or distal)."""
    side = toward or "distal"
    if rest == "none":
        return []
    if rest == "mesial_distal":
        sites = ["mesial", "distal"]
    elif rest == "embrasure":
        sites = [side]
    else:
        sites = [rest]
    return [_rest(frame, tooth, site, side) for site in sites]


def _rest(frame: Frame, tooth: int, site: str, side: str) -> DrawnPart:
    crown = frame.outline(tooth)
    if site in ("mesial", "distal"):
        shape = _spoon(frame, tooth, site, size("rest_length_share"))
    elif site == "long":
        shape = _spoon(frame, tooth, side, size("long_rest_share"))
    elif site == "cingulum":
        shape = _cingulum(frame, tooth)
    elif site == "incisal":
        sign = -1.0 if side == "mesial" else 1.0
        low, high = 0.35 * sign, 0.78 * sign
        corners = [(low, -0.25), (high, -0.25), (high, 0.8), (low, 0.8)]
        shape = Polygon([frame.inside(tooth, along, out) for along, out in corners])
    else:  # onlay
        shape = crown.buffer(-size("onlay_inset"))
    own = shape.intersection(crown.buffer(-0.05)).difference(frame.others(tooth))
    return DrawnPart("rest", (tooth,), site, pieces(largest(own)))


def _spoon(frame: Frame, tooth: int, site: str, share: float) -> Polygon:
    """A spoon from the marginal ridge toward the middle of the crown, widest at the ridge."""
    sign = -1.0 if site == "mesial" else 1.0
    end = sign * (1 - 2 * share)
    wide = size("rest_width_share")
    # On a front tooth the marginal ridge lies to the lingual.
    out = 0.05 if is_back(tooth) else -0.45
    wide = wide if is_back(tooth) else wide * 0.6
    edge, waist = sign * 1.05, sign * (1 - 2 * share * 0.45)
    corners = [
        (edge, out + wide * 0.9), (waist, out + wide), (end, out + wide * 0.45), (end - 0.06 * sign, out),
        (end, out - wide * 0.45), (waist, out - wide), (edge, out - wide * 0.9),
    ]  # fmt: skip
    shape: Polygon = Polygon([frame.inside(tooth, along, o) for along, o in corners])
    return shape.buffer(0.25).buffer(-0.25)


def _cingulum(frame: Frame, tooth: int) -> Polygon:
    """A crescent low on the lingual of a front tooth; a ledge on the lingual of a back one."""
    outer = [frame.inside(tooth, along, out) for along, out in ((-0.62, -0.38), (0.0, -0.92), (0.62, -0.38))]
    line = LineString(_arc(outer))
    return line.buffer(size("cingulum_width") / 2, cap_style="round")


def _arc(three: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """A quadratic curve through the ends, drawn toward the middle point."""
    (ax, ay), (bx, by), (cx, cy) = three
    points = []
    for step in range(9):
        t = step / 8
        u = 1 - t
        points.append((u * u * ax + 2 * u * t * bx + t * t * cx, u * u * ay + 2 * u * t * by + t * t * cy))
    return points


def proximal_plate(frame: Frame, tooth: int, side: str) -> DrawnPart:
    """The plate against a guiding plane, wrapped a little to the lingual."""
    middle = 0.0 if side == "mesial" else 2.0
    lingual = -1.0 if side == "mesial" else 1.0
    points = frame.round(tooth, middle - 0.28 * lingual, middle + 0.62 * lingual, size("plate_width") / 2)
    shape = LineString(points).buffer(size("plate_width") / 2, cap_style="flat")
    clear = largest(shape.difference(frame.standing_crowns.buffer(-0.02)))
    return DrawnPart("proximal_plate", (tooth,), side, pieces(clear), tuple(points))


def crown_part(frame: Frame, tooth: int, kind: str, near: str) -> DrawnPart:
    """A retainer inside the crown or on the root: ``attachment``, ``double_crown`` or ``stud``."""
    crown = frame.outline(tooth)
    if kind == "double_crown":
        ring = crown.buffer(-0.35).difference(crown.buffer(-0.35 - size("crown_wall")))
        return DrawnPart(kind, (tooth,), kind, pieces(ring))
    if kind == "stud":
        return DrawnPart(
            kind, (tooth,), kind, pieces(Spot(frame.place(tooth).centre).buffer(size("stud_radius")))
        )
    sign = -1.0 if near == "mesial" else 1.0
    corners = [(sign * 0.95, 0.3), (sign * 0.45, 0.3), (sign * 0.45, -0.3), (sign * 0.95, -0.3)]
    shape = Polygon([frame.inside(tooth, along, out) for along, out in corners]).intersection(crown)
    return DrawnPart("attachment", (tooth,), kind, pieces(shape))


def undercut_marks(frame: Frame, abutment: Abutment) -> list[tuple[DrawnPart, float]]:
    """A wedge at each zone in which the survey found an undercut, with the depth recorded there (mm).

    Zones that were not measured, and zones measured at nothing, carry no mark.
    """
    found = []
    depths = abutment.undercuts_mm
    for zone, at in ZONE_TURNS.items():
        depth = expected((getattr(depths, zone, None) if depths is not None else None) or 0.0)
        if not depth:
            continue
        points = frame.round(abutment.tooth, at - 0.11, at + 0.11)
        left, right = points[0], points[-1]
        centre = frame.place(abutment.tooth).centre
        edge = frame.round(abutment.tooth, at, at + 0.01)[0]
        span = ((centre[0] - edge[0]) ** 2 + (centre[1] - edge[1]) ** 2) ** 0.5 or 1.0
        share = size("undercut_depth") / span
        inner = (edge[0] + (centre[0] - edge[0]) * share, edge[1] + (centre[1] - edge[1]) * share)
        shape = Polygon([left, right, inner])
        found.append(
            (DrawnPart("undercut", (abutment.tooth,), zone, pieces(shape, 0.01), (edge, inner)), depth)
        )
    return found
