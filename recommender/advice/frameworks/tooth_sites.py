"""What a framework has to know about each standing tooth, read from the facts of an analysed case."""

from collections.abc import Mapping
from typing import get_args

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.frameworks.tooth_site import ToothSite
from recommender.advice.model import BlockedBy, Decision, OptionResult
from recommender.advice.preparations import permitted
from recommender.domain.vocabulary import ZONES, PreparationAction, RestSeat
from recommender.facts.case_fields import contour_at, rest_room
from recommender.facts.values import Fact

_SIDES = ("mesial", "distal")


def tooth_sites(analysis: CaseAnalysis, replacements: Mapping[int, OptionResult]) -> dict[int, ToothSite]:
    """Every standing or considered tooth. ``replacements`` tells over which spaces there will be a base."""
    facts = analysis.facts
    return {
        tooth: _site(analysis, tooth, replacements)
        for tooth in dict.fromkeys((*facts.standing, *facts.considered))
    }


def _site(analysis: CaseAnalysis, tooth: int, replacements: Mapping[int, OptionResult]) -> ToothSite:
    facts = analysis.facts
    beside = {side: facts.space_beside(tooth, side) for side in facts.sides(tooth)}
    restored = [
        space
        for space in facts.spaces
        if any(t in replacements and replacements[t].option != "leave_open" for t in space.teeth)
    ]
    based = frozenset(side for side, space in beside.items() if space in restored)
    scope = facts.tooth(tooth)
    touching = {side: other for side in _SIDES if (other := facts.touching(tooth, side)) is not None}
    seats = scope.fact("abutment.rest_seats").value
    contour = scope.fact("abutment.contour_height_lingual").value
    planes = scope.fact("abutment.guiding_planes").value
    surveyed = facts.surveyed.get(tooth)
    bears, barred = _bearing(analysis, tooth)
    return ToothSite(
        tooth=tooth,
        stands=tooth in facts.standing,
        sides=facts.sides(tooth),
        based=based,
        touching=touching,
        undercuts={zone: scope.fact(f"abutment.undercuts_mm.{zone}") for zone in ZONES},
        embrasures={side: scope.fact(f"abutment.embrasure_clearance_mm.{side}") for side in _SIDES},
        rooms={site: rest_room(tooth, surveyed, site) for site in get_args(RestSeat)},
        seats=seats if isinstance(seats, frozenset) else None,
        leave={action: permitted(surveyed, action) for action in get_args(PreparationAction)},
        lingual_contour=str(contour) if contour is not None else None,
        lingual_plane="lingual" in planes if isinstance(planes, frozenset) else None,
        bears=bears,
        barred=barred,
        contours={
            zone: _word(contour_at(tooth, surveyed, zone)) for zone in ZONES if zone.endswith("facial")
        },
        crown_mm=scope.fact("abutment.crown_height_mm"),
        extension_sides=frozenset(
            s for s, space in beside.items() if space is not None and space.support == "extension"
        ),
        covered=tooth in facts.standing or any(tooth in space.teeth for space in restored),
    )


def _word(fact: Fact) -> str | None:
    return str(fact.value) if fact.value is not None else None


def _bearing(analysis: CaseAnalysis, tooth: int) -> tuple[bool | None, tuple[BlockedBy, ...]]:
    """Whether a tooth may carry anything (``None``: mobility or disease was not recorded), and what bars a
    plain rest.
    """
    surveyed = analysis.facts.surveyed.get(tooth)
    if tooth not in analysis.facts.considered:
        return None, ()
    chosen = analysis.examine(Decision("retainer", tooth)).chosen
    barred = chosen["rest_only"].blocks if "rest_only" in chosen else ()
    if surveyed is not None and all(
        judged.status == "excluded" for name, judged in chosen.items() if name != "none"
    ):
        return False, barred
    if surveyed is None or surveyed.mobility is None or surveyed.disease is None:
        return None, barred
    return True, barred
