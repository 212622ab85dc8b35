"""Checks of what bears a framework: rests under every base, their spread, the indirect retainer beyond the axis."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from recommender.advice.frameworks.candidates import figures
from recommender.advice.frameworks.whole import Whole, check
from recommender.advice.model import Check, Seat
from recommender.domain.dentition import position, side_of
from recommender.domain.statement import Said, Statement
from recommender.facts.axis import terminal_pair
from recommender.mechanics.arch import place_teeth
from recommender.mechanics.levers import Line

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


def bearing_checks(analysis: "CaseAnalysis", whole: Whole) -> list[Check]:
    """All of them."""
    return [
        _supported(analysis, whole),
        _rest_count(whole),
        _rests_spread(analysis, whole),
        _indirect(analysis, whole),
    ]


def _supported(analysis: "CaseAnalysis", whole: Whole) -> Check:
    """Each base on a rest at every tooth that borders it; a base whose teeth are left open asks for none."""
    lacking = [tooth for tooth in whole.wanted.support if whole.rests.get(tooth, "none") == "none"]
    if not lacking:
        return check("base_supported", "passed")
    reasons = []
    for tooth in lacking:
        options = whole.parts.retainers.get(tooth, ())
        why = "given up for other rules" if any(part.rested for part in options) else _barred(analysis, tooth)
        reasons.append(f"no rest at {tooth} ({why})")
    return check("base_supported", "failed", "; ".join(reasons))


def _barred(analysis: "CaseAnalysis", tooth: int) -> str:
    """Why no rest can stand on a tooth, in the words of the rules that say so."""
    from recommender.advice.model import Decision

    if tooth not in analysis.facts.standing:
        return "only its root is left"
    plain = analysis.examine(Decision("retainer", tooth)).chosen["rest_only"]
    if plain.blocks:
        return _plain(plain.blocks[0].statement).rstrip(".")
    return "no site on it has room for a rest"


def _rest_count(whole: Whole) -> Check:
    count = len([tooth for tooth, rest in whole.rests.items() if rest != "none"])
    least = int(figures()["rests_least"])
    words = f"{count} teeth carry rests"
    if count < least:
        able = len({part.tooth for part in whole.available if part.rested} | {s.tooth for s in whole.seats})
        words += f"; {able} could"
    return check("three_rests", count >= least, words)


def _rests_spread(analysis: "CaseAnalysis", whole: Whole) -> Check:
    """The rests have to enclose an area: fewer than three, or three in a row, make a line."""
    teeth = [tooth for tooth, rest in whole.rests.items() if rest != "none"]
    geometry = place_teeth(analysis.case.arch)
    points = sorted({geometry[tooth].line_middle for tooth in teeth})
    area = _hull_area(points) / 100.0
    return check(
        "rests_spread", area > float(figures()["rests_area_least_cm2"]), f"they span about {area:.1f} cm2"
    )


def _hull_area(points: Sequence[tuple[float, float]]) -> float:
    if len(points) < 3:
        return 0.0
    from shapely import MultiPoint

    return float(MultiPoint(list(points)).convex_hull.area)


def lever_of(analysis: "CaseAnalysis", whole: Whole, seat: Seat) -> float | None:
    """The lever arm (mm, mean arch) of a seat to the axis through this framework's own rearmost rests.

    The rests beside the extensions, or beside a long front space; ``None`` where one of them is missing.
    """
    pair = terminal_pair(analysis.facts.classification, analysis.facts.standing)
    if pair is None:
        return None
    geometry = place_teeth(analysis.case.arch)
    in_front = analysis.facts.classification.number == "IV"
    ends = []
    for end in pair:
        rested = [
            tooth
            for tooth, rest in whole.rests.items()
            if rest != "none"
            and side_of(tooth) == side_of(end)
            and tooth != seat.tooth
            and (position(tooth) >= position(end) if in_front else position(tooth) <= position(end))
        ]
        if not rested:
            return None
        tooth = min(rested, key=lambda t: abs(position(t) - position(end)))
        ends.append(geometry.seat(tooth, whole.rests[tooth]))
    if ends[0] == ends[1]:
        # One tooth alone carries both ends: there is no line to measure from.
        return None
    lever = Line(ends[0], ends[1]).lever_mm(geometry.seat(seat.tooth, seat.rest))
    return -lever if in_front else lever


def _indirect(analysis: "CaseAnalysis", whole: Whole) -> Check:
    if terminal_pair(analysis.facts.classification, analysis.facts.standing) is None:
        return check("indirect", "passed", "not needed: the bases are carried by teeth at both ends")
    levers = [(seat, lever_of(analysis, whole, seat)) for seat in whole.seats]
    beyond = [(seat, lever) for seat, lever in levers if lever is not None and lever > 0]
    if beyond:
        words = ", ".join(f"{seat.tooth} {seat.rest}, lever about {lever:.0f} mm" for seat, lever in beyond)
        return check("indirect", "passed", words)
    if "indirect_retention" in whole.connector.parts:
        return check("indirect", "passed", "the plate gives it")
    if whole.seats:
        return check("indirect", "failed", "the seats do not lie beyond the axis of the rests chosen")
    return check("indirect", "failed", "no tooth beyond the axis can bear one")


def _plain(statement: Statement) -> str:
    """A rule's sentence as it stands."""
    why = statement.arg("why")
    return why.text if isinstance(why, Said) else ""
