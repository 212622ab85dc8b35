"""What a sinking extension base does to the tip of an arm."""

from recommender.domain.case import Case
from recommender.domain.dentition import (
    ARCH_ORDER,
    arch_of,
    mirror,
    neighbour,
    opposite,
    position,
    runs,
    side_of,
)
from recommender.domain.options import Option
from recommender.facts.values import Fact, between, known, not_recorded
from recommender.mechanics.arch import ArchGeometry, Point, place_teeth
from recommender.mechanics.bands import Band
from recommender.mechanics.figures import figure_band, figures, remembered
from recommender.mechanics.levers import Line, tip_travel_mm

DENTITION = "missing"
_STILL = known(0.0, DENTITION, unit="mm")


def tip_travel_fact(
    option: Option, tooth: int, case: Case, side: str, support: str, rest: str | None = None
) -> Fact:
    """``arm.tip_travel_mm``: rise of the tip into its undercut as an extension base sinks.

    Nothing moves where the space is carried by teeth. ``rest`` is where the rest sits (``near far both
    cingulum`` …); left out, it is the first that the assembly is built on. The line runs to the rearmost
    standing tooth of the other side; not recorded where that side is empty.
    """
    if support != "extension" or option.tip is None:
        return _STILL
    site = rest or (option.rests[0] if option.rests else "near")
    gone = frozenset(case.missing) | frozenset(case.absent or ()) | frozenset(case.planned_extractions or ())
    travel = _travel(tooth, side, option.tip.zones[0], site, "tip_on_neighbour" in option.parts, gone)
    if travel is None:
        return not_recorded(unit="mm")
    return between(travel.low, travel.high, unit="mm", fields=[DENTITION])


@remembered(4096)
def _travel(tooth: int, side: str, zone: str, rest: str, on_next: bool, gone: frozenset[int]) -> Band | None:
    if side_of(tooth) == "right":
        # Worked out on the left, so that mirrored cases agree to the last digit.
        return _travel(mirror(tooth), side, zone, rest, on_next, frozenset(mirror(t) for t in gone))
    arch = arch_of(tooth)
    geometry = place_teeth(arch)
    base = next(
        (run for run in runs(arch, gone) if neighbour(tooth, side) in run),
        None,
    )
    standing = [t for t in ARCH_ORDER[arch] if t not in gone and side_of(t) != side_of(tooth)]
    if base is None or not standing:
        return None
    other = max(standing, key=position)
    extended = any(
        position(t) > position(other) and side_of(t) == side_of(other) for t in gone if position(t) < 8
    )
    here = geometry.seat(tooth, _station(rest, side))
    there = geometry.seat(other, _station(rest, side) if extended else "middle")
    load = _load_point(geometry, base)
    carrier = tooth
    if on_next:
        carrier = neighbour(tooth, opposite(side)) or tooth
    tip = geometry.seat(carrier, _station(zone.split("_")[0], side))
    line = Line(there, here)
    if line.lever_mm(load) == 0:
        return None
    return tip_travel_mm(tip, line, load, figure_band(figures("support")["base_sink_mm"]))


def _station(where: str, side: str) -> str:
    """``mesial``, ``distal`` or ``middle`` of a tooth whose near side is ``side``."""
    if where in ("near", "both", "long", "embrasure"):
        return side
    return opposite(side) if where == "far" else "middle"


def _load_point(geometry: ArchGeometry, base: tuple[int, ...]) -> Point:
    """Middle of the first molar if the base carries it, else of the tooth in the middle of the base."""
    molars = [tooth for tooth in base if position(tooth) == 6]
    return geometry[molars[0] if molars else base[len(base) // 2]].line_middle
