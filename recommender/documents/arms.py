"""Arms round a crown: where each assembly's retentive and bracing metal runs, seen from the occlusal side."""

from dataclasses import dataclass
from itertools import pairwise

from shapely.ops import unary_union

from recommender.documents.content import size
from recommender.documents.drawn import DrawnPart, largest, pieces
from recommender.documents.frame import Frame, ribbon
from recommender.domain.dentition import neighbour, opposite
from recommender.domain.options import Option
from recommender.mechanics.arch import Point
from recommender.mechanics.figures import figures

_START = 0.1  # an arm leaves the rest a little off the contact, as a share of the surface
_LONGEST = 1.86


@dataclass(frozen=True, slots=True)
class Held:
    """A retainer as the drawing needs it: its tooth, its assembly, and the side (near) from which it comes."""

    tooth: int
    option: Option
    near: str
    zone: str | None = None
    partner: int | None = None

    @property
    def far(self) -> str:
        return opposite(self.near)


def turn(side: str, surface: str, share: float) -> float:
    """The turn round a crown at a share of a surface, from the ``mesial`` or ``distal`` side on (may pass 1)."""
    if side == "mesial":
        return 2 * share if surface == "facial" else 4 - 2 * share
    return 2 - 2 * share if surface == "facial" else 2 + 2 * share


ZONE_TURNS = {
    "mesiofacial": 0.45, "midfacial": 1.0, "distofacial": 1.55,
    "distolingual": 2.45, "midlingual": 3.0, "mesiolingual": 3.55, "mesial": 0.0, "distal": 2.0,
}  # fmt: skip


# Where a tip comes to lie, a little nearer to the line angle than the mark of its zone.
TIP_TURNS = ZONE_TURNS | {"mesiofacial": 0.3, "distofacial": 1.7, "distolingual": 2.3, "mesiolingual": 3.7}


def course(held: Held) -> tuple[str, str]:
    """The side from which a suprabulge arm starts and the surface along which it sets out.

    The catalogue's course holds unless the design engages a zone that lies the other way.
    """
    arm = held.option.arm
    if arm is None:
        raise ValueError(f"{held.option.id} has no arm")
    side = held.near if arm.origin == "near" else held.far
    surface = arm.surface
    zone = held.zone or ""
    on = zone.removeprefix("mesio").removeprefix("disto").removeprefix("mid")
    if on not in ("facial", "lingual") or surface == "proximal" or "tip_on_neighbour" in held.option.parts:
        return side, surface
    if arm.reach <= 1:
        surface = on
        if zone.startswith("mesio"):
            side = "distal"
        elif zone.startswith("disto"):
            side = "mesial"
    elif "strut" in held.option.parts:
        # A ring ends on the surface opposite to that on which it starts.
        surface = "lingual" if on == "facial" else "facial"
    return side, surface


def _end(start: float, nominal: float, zone: str | None) -> float:
    """The turn at which an arm ends: at its zone, reached in the arm's own direction, else where the form ends."""
    at = TIP_TURNS.get(zone or "")
    if at is None:
        return nominal
    ahead = 1.0 if nominal > start else -1.0
    reached = [at + 4 * k for k in (-2, -1, 0, 1, 2) if (at + 4 * k - start) * ahead > 0.3]
    return min(reached, key=lambda end: abs(end - nominal))


def suprabulge_arm(frame: Frame, held: Held) -> list[DrawnPart]:
    """The retentive arm that comes from the occlusal side, with its tip; empty for another assembly."""
    arm = held.option.arm
    if arm is None or arm.origin == "gingival":
        return []
    side, surface = course(held)
    off = size("arm_off")
    tooth = held.tooth
    if arm.surface == "proximal":
        middle = 0.0 if side == "mesial" else 2.0
        # It springs in from the lingual corner.
        lingual = -1.0 if side == "mesial" else 1.0
        points = frame.round(tooth, middle + 0.62 * lingual, middle - 0.3 * lingual, off)
    elif "tip_on_neighbour" in held.option.parts:
        beyond = neighbour(tooth, held.far)
        points = frame.round(tooth, turn(side, "facial", _START), turn(side, "facial", 0.97), off)
        if beyond is not None and beyond in frame.standing:
            entry = _facing(frame, beyond, tooth)
            points += frame.round(beyond, turn(entry, "facial", 0.06), turn(entry, "facial", 0.85), off)
            return _arm(frame, held, points, (tooth, beyond))
    elif _doubles_back(held.option):
        out = size("arm_doubled_off")
        there = frame.round(tooth, turn(side, "facial", _START), turn(side, "facial", 0.72), out)
        back = frame.round(tooth, turn(side, "facial", 0.72), turn(side, "facial", 0.3), off)
        points = there + back
    else:
        nominal = turn(side, surface, min(arm.reach, _LONGEST) if arm.reach > 1 else min(arm.reach, 0.9))
        start = turn(side, surface, _START)
        points = frame.round(tooth, start, _end(start, nominal, held.zone), off)
    return _arm(frame, held, points, (tooth,))


def bracing_arm(frame: Frame, held: Held, bordered: bool, front_seat: bool) -> list[DrawnPart]:
    """The rigid arm that opposes the tip, or braces a tooth that carries a rest only; it bears no tip.

    ``bordered``: the tooth borders a space; ``front_seat``: it is held on its cingulum or incisal edge, where the
    metal of the seat does the bracing.
    """
    parts = held.option.parts
    arm = held.option.arm
    if "retentive_internal" in parts or "nothing" in held.option.families:
        return []
    if "reciprocal_facial" in parts:
        if arm is not None and arm.reach > 1:
            # A ring braces with the first half of its own arm.
            return []
        side, surface, reach = held.near, "facial", float(figures("survey_line")["short_arm_reach"])
        if "second_rest" in parts:
            reach = 0.85
        if arm is not None and arm.reach <= 1 and course(held)[1] == "facial":
            # The design engages the facial, so the other arm braces the lingual, from the other end.
            side, surface, reach = opposite(course(held)[0]), "lingual", 0.85
        elif arm is not None and "second_rest" in parts:
            side = opposite(course(held)[0])
    elif "reciprocal_lingual" in parts:
        retentive = any(word.startswith("retentive") for word in parts)
        if not retentive and (not bordered or front_seat):
            return []
        if arm is not None and arm.surface == "lingual":
            return []  # a back-action arm braces with its lingual part
        side = held.far if arm is not None and arm.origin == "far" else held.near
        surface, reach = "lingual", 0.85
        if arm is not None and arm.origin != "gingival" and arm.surface == "facial":
            side = course(held)[0]
        if arm is not None and arm.surface == "proximal":
            side, reach = held.far, 0.4
    else:
        return []
    points = frame.round(held.tooth, turn(side, surface, _START), turn(side, surface, reach), size("arm_off"))
    shape = ribbon(points, size("bracing_width"), size("bracing_width") * 0.8)
    clear = shape.difference(frame.others(held.tooth))
    return [DrawnPart("bracing_arm", (held.tooth,), held.option.id, pieces(largest(clear)), tuple(points))]


def bar_arm(frame: Frame, held: Held, base_station: float | None) -> list[DrawnPart]:
    """A bar from the base along the gum to its tip. ``base_station`` is where it leaves the base, if known."""
    arm = held.option.arm
    if arm is None or arm.origin != "gingival":
        return []
    tooth = held.tooth
    at = ZONE_TURNS.get(held.zone or "")
    if at is None or at > 2:
        default = {"i_bar": "midfacial"}.get(held.option.id, f"{held.near[:-2]}ofacial")
        at = ZONE_TURNS[default]
    if held.option.id == "i_bar":
        at = min(max(at, 0.6), 1.4)  # an I-bar touches at or beside the middle of the facial
    contact, middle = frame.station(tooth, held.near), frame.station(tooth)
    direction = 1.0 if contact > middle else -1.0
    start = base_station if base_station is not None else contact + direction * 0.45
    # Along the facial a tooth's turn 0..2 runs over its station from mesial to distal.
    mesial, distal = frame.station(tooth, "mesial"), frame.station(tooth, "distal")
    tip_station = mesial + (distal - mesial) * at / 2
    out = size("bar_off")
    points: list[Point] = [frame.facial_point(start, -0.8), frame.facial_point(start, out * 0.6)]
    run = start + (tip_station - start) * 0.12
    count = 8
    points += [frame.facial_point(run + (tip_station - run) * k / count, out) for k in range(count)]
    touch = frame.round(tooth, at, at + 0.01, 0.0)[0]
    just_off = frame.round(tooth, at, at + 0.01, out * 0.55)[0]
    points = _eased([*points, just_off, touch])
    shape = ribbon(points, size("bar_width"), size("bar_tip_width"))
    shapes = [shape]
    if held.option.id == "t_bar":
        cross = frame.round(tooth, at - 0.34, at + 0.34, size("arm_off"))
        shapes.append(ribbon(cross, size("bar_tip_width"), size("bar_tip_width")))
    whole = shapes[0] if len(shapes) == 1 else shapes[0].union(shapes[1])
    clear = largest(whole.difference(frame.others(tooth)))
    return [DrawnPart("bar", (tooth,), held.option.id, pieces(clear), tuple(points)), _tip(tooth, touch)]


def _eased(points: list[Point]) -> list[Point]:
    """A line with its corners cut twice (Chaikin), its ends kept."""
    for _ in range(3):
        cut = [points[0]]
        for (ax, ay), (bx, by) in pairwise(points):
            cut += [
                (0.75 * ax + 0.25 * bx, 0.75 * ay + 0.25 * by),
                (0.25 * ax + 0.75 * bx, 0.25 * ay + 0.75 * by),
            ]
        points = [*cut, points[-1]]
    return points


def _doubles_back(option: Option) -> bool:
    arm = option.arm
    return (
        arm is not None
        and option.tip is not None
        and arm.reach > 1
        and option.tip.zones[0] == f"{arm.origin}_{arm.surface}"
        and "strut" not in option.parts
    )


def _arm(frame: Frame, held: Held, points: list[Point], teeth: tuple[int, ...]) -> list[DrawnPart]:
    arm = held.option.arm
    wire = arm is not None and arm.section == "round"
    origin, tip = (size("wire_width"), size("wire_width")) if wire else (size("arm_origin"), size("arm_tip"))
    detail = held.option.id
    shape = ribbon(points, origin, tip).difference(frame.others(*teeth))
    own = unary_union([frame.outline(tooth) for tooth in teeth]).buffer(-0.3)
    clear = largest(shape.difference(own))
    return [
        DrawnPart("retentive_arm", teeth, detail, pieces(clear), tuple(points)),
        _tip(teeth[-1], points[-1]),
    ]


def _tip(tooth: int, at: Point) -> DrawnPart:
    from shapely.geometry import Point as Spot

    return DrawnPart("tip", (tooth,), "", pieces(Spot(at).buffer(size("tip_radius"), quad_segs=6)), (at,))


def _facing(frame: Frame, tooth: int, other: int) -> str:
    from recommender.domain.dentition import side_facing

    return side_facing(tooth, other)
