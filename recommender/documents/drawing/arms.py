"""Arms round a crown, seen from the occlusal side.

The crown's outline is its greatest bulge, hence its survey line in this view: the rigid part of an arm lies on the
crown and across the outline, the flexible end outside it. Arms taper to half their width; they never lie over a
tooth that is not theirs.
"""

import numpy as np
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from recommender.documents.drawing.courses import (
    LONGEST,
    START,
    Held,
    course,
    doubles_back,
    end_turn,
    turn,
)
from recommender.documents.drawing.crowns import steps
from recommender.documents.drawing.figures import size
from recommender.documents.drawing.frame import Frame
from recommender.documents.drawing.shapes import (
    EMPTY,
    Curve,
    DrawnPart,
    Path,
    closed,
    eased,
    largest,
    resampled,
    ribbon,
    tuples,
)
from recommender.domain.dentition import neighbour, opposite, side_facing
from recommender.mechanics.figures import figures

_GAP = 0.12
_BODY_PROUD_MM = 0.45


def suprabulge_arm(frame: Frame, held: Held) -> list[DrawnPart]:
    """The retentive arm that comes from the occlusal side, with its flexible end; empty for another assembly."""
    arm = held.option.arm
    if arm is None or arm.origin == "gingival":
        return []
    side, surface = course(held)
    tooth = held.tooth
    if arm.surface == "proximal":
        middle = 0.0 if side == "mesial" else 2.0
        # It springs in from the lingual corner.
        lingual = -1.0 if side == "mesial" else 1.0
        points = _round(frame, tooth, middle + 0.62 * lingual, middle - 0.3 * lingual)
    elif "tip_on_neighbour" in held.option.parts:
        beyond = neighbour(tooth, held.far)
        if beyond is not None and beyond in frame.standing:
            entry = side_facing(beyond, tooth)
            rigid = size("arm_shoulder_off")
            here = frame.crown(tooth).round(turn(side, "facial", START), turn(side, "facial", 0.9), rigid)
            there = _round(frame, beyond, turn(entry, "facial", 0.12), turn(entry, "facial", 0.85))
            return _arm(frame, held, eased(np.vstack((here, there)), 1), (tooth, beyond))
        points = _round(frame, tooth, turn(side, "facial", START), turn(side, "facial", 0.97))
    elif doubles_back(held.option):
        # Laid out flat, the lower limb lies outside the upper one.
        rigid, low = size("arm_shoulder_off"), size("arm_doubled_off")
        there = frame.crown(tooth).round(turn(side, "facial", START), turn(side, "facial", 0.74), rigid)
        first, last = turn(side, "facial", 0.78), turn(side, "facial", 0.26)
        back = frame.crown(tooth).round(first, last, np.linspace(low, low * 0.72, steps(first, last)))
        points = eased(np.vstack((there, back)), 2)
    else:
        reach = min(arm.reach, LONGEST) if arm.reach > 1 else min(arm.reach, 0.9)
        start = turn(side, surface, START)
        points = _round(frame, tooth, start, end_turn(start, turn(side, surface, reach), held.zone))
    return _arm(frame, held, points, (tooth,))


def bracing_arm(frame: Frame, held: Held, bordered: bool, front_seat: bool) -> list[DrawnPart]:
    """The rigid arm that opposes the tip, or braces a tooth that carries a rest only; it bears no tip.

    ``bordered``: the tooth borders a space; ``front_seat``: it is held on its cingulum or incisal edge, where the
    metal of the seat does the bracing.
    """
    found = _bracing(held, bordered, front_seat)
    if found is None:
        return []
    side, surface, reach = found
    points = frame.crown(held.tooth).round(
        turn(side, surface, START), turn(side, surface, reach), size("arm_shoulder_off")
    )
    shape = ribbon(points, size("bracing_width"), size("bracing_width") * 0.85)
    area = _clear(frame, shape, held.tooth)
    return [DrawnPart("bracing_arm", (held.tooth,), held.option.id, area, tuples(points))]


def _bracing(held: Held, bordered: bool, front_seat: bool) -> tuple[str, str, float] | None:
    """Side, surface and reach of the bracing arm."""
    parts, arm = held.option.parts, held.option.arm
    if "retentive_internal" in parts or "nothing" in held.option.families:
        return None
    if "reciprocal_facial" in parts:
        if arm is not None and arm.reach > 1:
            return None  # a ring braces with the first half of its own arm
        side, surface, reach = held.near, "facial", float(figures("survey_line")["short_arm_reach"])
        if "second_rest" in parts:
            reach = 0.85
        if arm is not None and arm.reach <= 1 and course(held)[1] == "facial":
            # The design engages the facial, so the other arm braces the lingual, from the other end.
            side, surface, reach = opposite(course(held)[0]), "lingual", 0.85
        elif arm is not None and "second_rest" in parts:
            side = opposite(course(held)[0])
        return side, surface, reach
    if "reciprocal_lingual" not in parts:
        return None
    retentive = any(word.startswith("retentive") for word in parts)
    if not retentive and (not bordered or front_seat):
        return None
    if arm is not None and arm.surface == "lingual":
        return None  # a back-action arm braces with its lingual part
    side, reach = held.far if arm is not None and arm.origin == "far" else held.near, 0.85
    if arm is not None and arm.origin != "gingival" and arm.surface == "facial":
        side = course(held)[0]
    if arm is not None and arm.surface == "proximal":
        side, reach = held.far, 0.4
    return side, "lingual", reach


def embrasure_body(frame: Frame, held: Held) -> list[DrawnPart]:
    """The body of an embrasure clasp: over both marginal ridges, from the lingual embrasure to the facial one."""
    if "partner" not in held.option.parts or held.partner is None or held.partner not in frame.standing:
        return []
    station = frame.station(held.tooth, held.near)
    contact = getattr(frame.place(held.tooth), held.near)
    points = [frame.lingual_point(station, 1.0), contact, frame.facial_point(station, 0.2)]
    wide = size("embrasure_body_width")
    shape = ribbon(points, lambda share: wide * (1 - 0.35 * np.sin(np.pi * share)))
    # Its ends keep to the line of the two crowns, where arms and minor connector take over.
    pair = closed(unary_union([frame.outline(held.tooth), frame.outline(held.partner)]), 3.0)
    area = shape.intersection(pair.buffer(_BODY_PROUD_MM)).difference(
        frame.near(shape, held.tooth, held.partner)
    )
    return [DrawnPart("embrasure_body", (held.tooth, held.partner), held.near, largest(area), tuples(points))]


def _round(frame: Frame, tooth: int, first: float, last: float) -> Curve:
    """The course of a tapering arm: on the crown at its origin, outside its bulge at the end."""
    share = np.linspace(0.0, 1.0, steps(first, last))
    flexible = size("flexible_share")
    # It crosses the survey line where its flexible end begins.
    fall = np.clip((share - (1 - 1.6 * flexible)) / (1.2 * flexible), 0.0, 1.0)
    ease = fall * fall * (3 - 2 * fall)
    rigid, low = size("arm_shoulder_off"), size("arm_off")
    return frame.crown(tooth).round(first, last, rigid + (low - rigid) * ease)


def _arm(frame: Frame, held: Held, points: Path, teeth: tuple[int, ...]) -> list[DrawnPart]:
    arm = held.option.arm
    wire = arm is not None and arm.section == "round"
    origin, tip = (size("wire_width"), size("wire_width")) if wire else (size("arm_origin"), size("arm_tip"))
    line = resampled(points)
    share = size("flexible_share")
    cut = int(len(line) * (1 - share))
    whole = _clear(frame, ribbon(line, origin, tip), *teeth)
    width = origin + (tip - origin) * (1 - share)
    end = ribbon(line[cut:], width, tip).intersection(whole)
    lines = _turns(line[:cut], origin, whole) if wire else ()
    return [
        DrawnPart("retentive_arm", teeth, held.option.id, whole, tuples(line), lines),
        DrawnPart("tip", (teeth[-1],), held.option.id, largest(end), tuples(line[-1:])),
    ]


def _turns(line: Curve, width: float, shape: BaseGeometry) -> tuple[Curve, ...]:
    """Slanting strokes across a wire."""
    from shapely.geometry import MultiLineString

    from recommender.documents.drawing.shapes import normals

    spots = resampled(line, size("wire_turn"))
    if len(spots) < 2:
        return ()
    side = normals(spots) * width / 2
    lean = np.column_stack((side[:, 1], -side[:, 0])) * 0.6
    cut = MultiLineString(
        [np.array([p + s + d, p - s - d]) for p, s, d in zip(spots, side, lean, strict=True)]
    )
    found = cut.intersection(shape)
    return tuple(np.array(piece.coords) for piece in getattr(found, "geoms", ()) if piece.length > 0.2)


def _clear(frame: Frame, shape: BaseGeometry, *teeth: int) -> BaseGeometry:
    """A shape without what lies over teeth that are not its own."""
    reach = shape.buffer(_GAP)
    crowns = [
        frame.outline(t) for t in frame.standing if t not in teeth and frame.outline(t).intersects(reach)
    ]
    if not crowns:
        return largest(shape)
    cleared = largest(shape.difference(unary_union(crowns).buffer(_GAP, quad_segs=4)))
    return cleared if not cleared.is_empty else EMPTY
