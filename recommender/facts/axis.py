"""The provisional fulcrum line of an arch, drawn through its terminal abutments.

The line of a framework depends on rests that are not chosen yet; until they are, the rearmost teeth that could
carry a rest stand in for them. Published: the primary fulcrum line of Class I and II joins the two rests that
stand furthest back, one each side; a long Class IV turns about the two rests nearest the space (mechanics
notes after McCracken's Removable Partial Prosthodontics, 12th ed., 2011, from memory).
"""

from collections.abc import Sequence

from recommender.domain.dentition import ARCH_ORDER, arch_of, position, side_of
from recommender.domain.kennedy import Classification, Space
from recommender.facts.figures import display_figures
from recommender.facts.values import Fact, between, known
from recommender.mechanics.arch import Point, place_teeth
from recommender.mechanics.levers import Line

DENTITION = "missing"


def terminal_pair(classification: Classification, standing: Sequence[int]) -> tuple[int, int] | None:
    """The tooth on the right and on the left through which the provisional line runs, or ``None``.

    Class I and II: the tooth beside each extension, and the rearmost standing tooth of a side without one.
    Class IV with a long space: the two teeth beside it. A bounded arch has no line.
    """
    if classification.number == "IV":
        space = classification.spaces[0]
        if len(space.teeth) < display_figures()["long_front_space_teeth"]:
            return None
        pair = sorted(space.borders, key=side_of, reverse=True)
        return (pair[0], pair[1]) if len(pair) == 2 else None
    if classification.number not in ("I", "II"):
        return None
    ends: dict[str, int] = {}
    for side in ("right", "left"):
        beside = [
            tooth
            for space in classification.spaces
            if space.support == "extension"
            for tooth in space.borders
            if side_of(rear_end(space)) == side
        ]
        standing_here = [tooth for tooth in standing if side_of(tooth) == side]
        if beside:
            ends[side] = beside[0]
        elif standing_here:
            ends[side] = max(standing_here, key=position)
    return (ends["right"], ends["left"]) if len(ends) == 2 and ends["right"] != ends["left"] else None


def rear_end(space: Space) -> int:
    """The end of an extension that no tooth borders: the one furthest from its border along the arch."""
    order = ARCH_ORDER[arch_of(space.teeth[0])]
    border = order.index(space.borders[0]) if space.borders else 0
    return max((space.teeth[0], space.teeth[-1]), key=lambda tooth: abs(order.index(tooth) - border))


def lever_mm(point: Point, pair: tuple[int, int], arch: str, base_in_front: bool) -> float:
    """Perpendicular distance (mm) of a point from the line through a pair of teeth, for the mean arch.

    Positive on the side away from the base: in front of the line, or behind it where the base lies in front.
    """
    geometry = place_teeth(arch)
    right, left = (geometry[tooth].line_middle for tooth in pair)
    in_front = Line(right, left).lever_mm(point)
    return -in_front if base_in_front else in_front


def seat_facts(
    classification: Classification, tooth: int, rest: str, pair: tuple[int, int]
) -> dict[str, Fact]:
    """``lever.arm_mm`` and ``lever.ratio`` of a seat.

    The arm is a band over the published spread of arch sizes. The ratio, retention arm over dislodging arm,
    does not depend on size; its band runs over the teeth of the longest-levered base, any of which may be
    pulled.
    """
    arch = arch_of(tooth)
    geometry = place_teeth(arch)
    in_front = classification.number == "IV"
    distance = lever_mm(geometry.seat(tooth, rest), pair, arch, in_front)
    ends = sorted((distance * geometry.scale.low, distance * geometry.scale.high))
    facts = {"lever.arm_mm": between(*ends, unit="mm", fields=[DENTITION])}
    bases = (
        classification.spaces[:1]
        if in_front
        else [s for s in classification.spaces if s.support == "extension"]
    )
    pulls = [[-lever_mm(geometry[t].line_middle, pair, arch, in_front) for t in base.teeth] for base in bases]
    dislodging = max((base for base in pulls if min(base) > 0), key=max, default=None)
    if dislodging is not None:
        ratios = sorted((distance / min(dislodging), distance / max(dislodging)))
        facts["lever.ratio"] = between(*ratios, unit="ratio", fields=[DENTITION])
    return facts


def ahead_of_fulcrum(tooth: int, classification: Classification, standing: Sequence[int]) -> Fact:
    """Whether a tooth lies on the far side of the provisional line from the base.

    A tooth within half its own width of the line counts as on it, not ahead of it. False where there is no line.
    """
    pair = terminal_pair(classification, standing)
    if pair is None or tooth in pair:
        return known(False, DENTITION)
    arch = arch_of(tooth)
    place = place_teeth(arch)[tooth]
    distance = lever_mm(place.line_middle, pair, arch, classification.number == "IV")
    half_width = place.mesiodistal_mm / 2
    return known(bool(distance > half_width), DENTITION)
