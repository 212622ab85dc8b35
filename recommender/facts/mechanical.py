"""From a case to the numbers of the mechanics, and back to facts with their origin.

A fact worked out here is a band. What the case does not record widens it and is named in ``gaps``; published
means stand in for crowns, arches and arm sections, which no case records, and their spread is in the band.
This is the door; arms, what shows of them and what moves them, rooms and connectors have files of their own.
"""

from collections.abc import Mapping
from dataclasses import replace

from recommender.domain.case import Case
from recommender.domain.dentition import in_arch_order
from recommender.domain.measures import expected
from recommender.domain.options import Arm, Option
from recommender.facts.arm_travel import tip_travel_fact
from recommender.facts.arm_visible import arm_path, left_twin, shows_fact, visible_fact
from recommender.facts.connector_room import connector_facts
from recommender.facts.replacement_room import space_facts
from recommender.facts.values import Fact, between, not_recorded
from recommender.mechanics.arch import ArchGeometry, place_teeth
from recommender.mechanics.bands import Band
from recommender.mechanics.clasp import retentive_arm, section_family
from recommender.mechanics.figures import figures, remembered
from recommender.mechanics.teeth import tooth_size

__all__ = [
    "arm_facts",
    "arm_loads",
    "case_geometry",
    "connector_facts",
    "shows_fact",
    "space_facts",
    "tip_travel_fact",
]


def case_geometry(case: Case) -> ArchGeometry:
    """The arch of a case, its spaces as wide as they were recorded (an interval: at its value)."""
    widths = {
        tuple(in_arch_order(case.arch, span.teeth)): expected(span.width_mm)
        for span in case.spans or ()
        if span.width_mm is not None
    }
    return place_teeth(case.arch, widths)


def arm_facts(
    option: Option,
    tooth: int,
    case: Case,
    side: str,
    support: str,
    engaged: Fact,
    alloy: str | None = None,
) -> dict[str, Fact]:
    """``arm.*`` of a retainer assembly on ``tooth``, whose near side is ``side`` (``mesial`` or ``distal``).

    ``support`` tells how the space there is carried (``tooth extension none``), ``engaged`` is the undercut
    at the zone that the tip engages. ``alloy`` is that of the framework: an arm cast in one with it is worked
    out in that alloy, a wire or polymer arm stays what it is. Empty for an assembly without an arm.
    """
    if option.arm is None:
        return {}
    return {
        **arm_loads(option, tooth, engaged, alloy),
        "arm.visible_share": visible_fact(option, tooth, case, side),
        "arm.tip_travel_mm": tip_travel_fact(option, tooth, case, side, support),
    }


@remembered(1 << 14)
def arm_loads(option: Option, tooth: int, engaged: Fact, alloy: str | None = None) -> Mapping[str, Fact]:
    """``arm.force_n`` and ``arm.stress_ratio`` of an assembly that has an arm, over what is known of its undercut."""
    built = option.arm
    assert built is not None
    if alloy is not None and section_family(built.origin, built.section, built.alloy) in ("cast", "bar"):
        built = replace(built, alloy=alloy)
    force, stress = _per_mm(built, arm_path(option), "strut" in option.parts, left_twin(tooth))
    return {
        "arm.force_n": _scaled(force, engaged, "N"),
        "arm.stress_ratio": _scaled(stress, engaged, "ratio"),
    }


@remembered(1024)
def _per_mm(arm: Arm, path: str, strut: bool, tooth: int) -> tuple[Band, Band]:
    """Force (N) and stress (share of proof stress) of an arm for each millimetre of undercut."""
    reach = arm.reach * (float(figures("arms")["strut_share"]) if strut else 1.0)
    model = retentive_arm(
        arm.origin, arm.surface, reach, arm.section, arm.alloy, arm.level, tooth_size(tooth), path
    )
    return model.withdrawal_force_n(1.0), model.stress_ratio(1.0)


def _scaled(per_mm: Band, engaged: Fact, unit: str) -> Fact:
    """A quantity that grows with the undercut, over what is known of the undercut."""
    if engaged.low is None and engaged.high is None:
        return not_recorded(*engaged.gaps, unit=unit)
    low = None if engaged.low is None else per_mm.low * engaged.low
    high = None if engaged.high is None else per_mm.high * engaged.high
    return between(low, high, unit=unit, fields=engaged.fields, gaps=engaged.gaps)
