"""Bar arms: from the base along the sulcus, over the gum margin at a right angle, to the tip on the tooth."""

import math

import numpy as np
from shapely.geometry.base import BaseGeometry

from recommender.documents.drawing.courses import ZONE_TURNS, Held
from recommender.documents.drawing.figures import size
from recommender.documents.drawing.frame import Frame
from recommender.documents.drawing.shapes import Curve, DrawnPart, largest, resampled, ribbon, rounded, tuples

_TOUCH_MM = 0.15


def bar_arm(frame: Frame, held: Held, leaves_at: float | None, bases: BaseGeometry) -> list[DrawnPart]:
    """A bar with its flexible end. ``leaves_at`` is the station at which it leaves the base, if one lies there; it is
    seen from the border of the ``bases`` on."""
    arm = held.option.arm
    if arm is None or arm.origin != "gingival":
        return []
    tooth = held.tooth
    crown = frame.crown(tooth)
    turn = _tip_turn(held)
    contact, middle = frame.station(tooth, held.near), frame.station(tooth)
    start = leaves_at if leaves_at is not None else contact + math.copysign(0.45, contact - middle)
    line = _course(frame, tooth, start, turn, leaves_at is not None)
    wide, end = size("bar_width"), size("bar_tip_width")
    shapes = [ribbon(line, wide, end)]
    length = float(np.hypot(*np.diff(line, axis=0).T).sum())
    cut = int(len(line) * (1 - min(0.5, size("bar_tip_length") / length)))
    tip = ribbon(line[cut:], end * 1.1, end)
    if held.option.id == "t_bar":
        # The head of the T lies along the tooth; the far half reaches into the undercut.
        across = crown.round(turn - 0.34, turn + 0.34, end / 2 - 0.05)
        shapes.append(ribbon(across, end))
        tip = ribbon(across, end)
    whole = shapes[0].union(shapes[-1])
    area = largest(
        whole.difference(bases)
        .difference(frame.near(whole, tooth))
        .difference(crown.outline.buffer(-_TOUCH_MM * 2))
    )
    touch = crown.at(turn, _TOUCH_MM)
    return [
        DrawnPart("bar", (tooth,), held.option.id, area, tuples(line)),
        DrawnPart("tip", (tooth,), held.option.id, largest(tip.intersection(area)), tuples([touch])),
    ]


def _tip_turn(held: Held) -> float:
    """Where on the facial the tip touches."""
    turn = ZONE_TURNS.get(held.zone or "")
    if turn is None or turn > 2:
        default = {"i_bar": "midfacial"}.get(held.option.id, f"{held.near[:-2]}ofacial")
        turn = ZONE_TURNS[default]
    if held.option.id == "i_bar":
        turn = min(max(turn, 0.6), 1.4)  # an I-bar touches at or beside the middle of the facial
    return turn


def _course(frame: Frame, tooth: int, start: float, turn: float, from_base: bool) -> Curve:
    """Out of the base (or of the sulcus, where no base lies), along the sulcus at its distance from the margins, and
    straight in to the tooth."""
    margin = size("bar_margin")
    crown = frame.crown(tooth)
    touch, out = np.array(crown.at(turn, _TOUCH_MM)), crown.outward(turn)
    mesial, distal = frame.station(tooth, "mesial"), frame.station(tooth, "distal")
    goal = mesial + (distal - mesial) * turn / 2
    foot = touch + out * margin
    base = frame.facial([start], -size("base_facial") - 0.3 if from_base else margin)[0]
    # Leaving the base, the bar swings out into the sulcus; both bends have the published radius.
    radius = size("bar_turn_radius")
    swing = start + (goal - start) * 0.1
    run = resampled(frame.facial(np.linspace(swing, goal, 24), margin), 2.2 * radius)[:-1]
    run = run[np.hypot(*(run - foot).T) > radius]
    corners = np.vstack((base[None, :], run, foot[None, :], touch[None, :]))
    return resampled(rounded(corners, radius), 0.3)
