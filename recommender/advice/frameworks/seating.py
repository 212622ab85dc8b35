"""Whether rigid metal meets the tooth from a tip's first touch to its seat, in mm (figures: ``seating``)."""

from collections.abc import Collection
from math import radians, tan

from recommender.advice.frameworks.crown import Arc, Clasp, angle_of, arcs
from recommender.advice.frameworks.tooth_site import ToothSite
from recommender.facts.option import anatomical
from recommender.knowledge.figures.frameworks import FrameworkFigures

_FULL = 360.0


def travel_mm(
    site: ToothSite, zone: str, set_mm: float | None, lowered: bool, figures: FrameworkFigures
) -> float | None:
    """How far a tip in an anatomical zone travels from its first touch; ``None`` where no survey line was recorded."""
    line = _line(site, zone, lowered, figures)
    if line is None:
        return None
    seat = figures.seating
    slope = (set_mm if set_mm is not None else seat.least_set_mm) / tan(radians(seat.flattest_deg))
    return max(0.0, min(_crown(site, figures) * line - seat.above_gum_mm, slope))


def guided_mm(
    clasp: Clasp, site: ToothSite, tip: str, lowered: bool, plane: bool, figures: FrameworkFigures
) -> float | None:
    """How long rigid metal across from a tip guides the tooth; ``None`` where no survey line was recorded there."""
    facial = tip.endswith("facial")
    guide = _line(site, "midlingual" if facial else "midfacial", lowered, figures)
    if guide is None:
        return None
    found = _crown(site, figures) * (1.0 - guide)
    if facial and plane:
        return _FULL
    across = (angle_of(clasp.zone or "mid_facial", figures.crown) + 180.0) % _FULL
    plates: list[Arc] = [arc for arc in arcs(clasp, figures.crown) if arc.part == "plate"]
    if any(plate.reaches(across, figures.crown.opposed_within) for plate in plates):
        found = max(found, figures.seating.plate_mm)
    return found


def touches_late(
    clasp: Clasp,
    site: ToothSite,
    near: str,
    set_mm: float | None,
    work: Collection[tuple[str, str]],
    figures: FrameworkFigures,
) -> bool:
    """Whether a tip passes the bulge before rigid metal has met the tooth. ``work``: (surface, action)."""
    arm = clasp.option.arm
    if clasp.zone is None or arm is None or arm.reach >= 2 or "proximal" in clasp.zone:
        return False
    if "tip_on_neighbour" in clasp.option.parts:
        return False
    tip = anatomical(clasp.zone, near)
    lowered = {surface_of(surface) for surface, action in work if action == "lower_contour_height"}
    crowned = any(action == "crown" for _, action in work)
    on_tip, across = surface_of(tip), "lingual" if tip.endswith("facial") else "facial"
    travel = travel_mm(site, tip, set_mm, crowned or on_tip in lowered, figures)
    plane = site.lingual_plane is True or ("lingual", "guiding_plane") in work
    guided = guided_mm(clasp, site, tip, crowned or across in lowered, plane, figures)
    return travel is not None and guided is not None and guided < travel


def surface_of(zone: str) -> str:
    """``facial`` or ``lingual``, of a zone or surface."""
    return "lingual" if zone.endswith("lingual") else "facial"


def _line(site: ToothSite, zone: str, lowered: bool, figures: FrameworkFigures) -> float | None:
    word = site.lingual_contour if zone.endswith("lingual") else site.contours.get(zone)
    if word is None:
        return None
    known = figures.seating.line
    return min(known[word], known["middle"]) if lowered else known[word]


def _crown(site: ToothSite, figures: FrameworkFigures) -> float:
    height = site.crown_mm.high
    return height if height is not None else figures.seating.crown_mm
