"""The rules between parts, checked on a finished framework and told in words.

A check reads the parts as they were chosen and never the solver's own record, save to say why a rule gave way.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from recommender.advice.assembly_parts import Part, figures
from recommender.advice.model import Check, Seat
from recommender.domain.dentition import position, side_of
from recommender.domain.options import Option
from recommender.facts.axis import terminal_pair
from recommender.mechanics.arch import place_teeth

if TYPE_CHECKING:
    from recommender.advice.recommend import Working

Outcome = Literal["passed", "passed_with_preparation", "not_checked", "failed"]


@dataclass(frozen=True, slots=True)
class Whole:
    """A framework as the checks see it."""

    retainers: dict[int, Part]
    rests: dict[int, str]
    seats: tuple[Seat, ...]
    connector: Option
    alloy: str | None
    least_retainers: int
    most_retainers: int
    support: tuple[int, ...]
    rooms: dict[frozenset[int], float]

    @property
    def retentive(self) -> list[Part]:
        """The parts that hold it in."""
        return [part for part in self.retainers.values() if part.retentive]


def checks_of(working: "Working", whole: Whole, available: Sequence[Part]) -> tuple[Check, ...]:
    """Every rule between parts with its outcome; ``available`` are all parts that could have been chosen."""
    held = whole.retentive
    found = [
        _check("reciprocated", _each(held, _reciprocated(whole)), _opened(held)),
        _check("one_arm_a_tooth", "passed", "each tooth carries one assembly"),
        _check(
            "encirclement",
            _each(held, _encircled),
            _named([p for p in held if not _encircled(p)], "short of it"),
        ),
        _both_sides(whole, available),
        _numbers(whole, available),
        _check(
            "no_more_retainers",
            "passed" if len(held) <= whole.most_retainers else "failed",
            f"{len(held)} of at most {whole.most_retainers}",
        ),
        _balance(whole),
        _check(
            "releasing",
            _each(held, _fits_extension),
            _named([p for p in held if not _fits_extension(p)], "stiff"),
        ),
        _supported(whole),
        _rest_count(whole),
        _spread(working, whole),
        _indirect(working, whole),
        _reaches(whole),
        _plate_ends(whole),
        _rooms(whole),
        _partners(whole),
        _check(
            "one_alloy",
            "failed" if whole.alloy is None else "passed" if _allergy_known(working) else "not_checked",
            f"frame of {whole.alloy}" if whole.alloy else "every frame alloy is barred",
        ),
    ]
    return tuple(found)


def _check(rule: str, outcome: Outcome | bool, words: str) -> Check:
    known = figures()["rules"][rule]
    source = known["source"]
    result: Outcome = outcome if isinstance(outcome, str) else "passed" if outcome else "failed"
    detail = f": {words}" if words else ""
    return Check(rule, result, f"{known['text']}{detail}", str(figures().get(source, source)))


def _each(parts: Sequence[Part], holds: object) -> Outcome:
    good = all(holds(part) for part in parts)  # type: ignore[operator]
    if not good:
        return "failed"
    return (
        "passed_with_preparation" if any(p.result.status == "needs_preparation" for p in parts) else "passed"
    )


def _opened(parts: Sequence[Part]) -> str:
    waiting = [str(part.tooth) for part in parts if part.result.status == "needs_preparation"]
    return f"after preparation of {', '.join(waiting)}" if waiting else ""


def _named(parts: Sequence[Part], words: str) -> str:
    return ", ".join(f"{part.tooth} {part.option.label} {words}" for part in parts)


def _reciprocated(whole: Whole) -> object:
    plated = "plate_on_teeth" in whole.connector.parts

    def holds(part: Part) -> bool:
        words = part.option.parts
        rigid = (
            "reciprocal_lingual",
            "reciprocal_facial",
            "reciprocal_internal",
            "proximal_plate",
            "minor_connector",
            "rigid",
        )
        return plated or any(word in words for word in rigid)

    return holds


def _encircled(part: Part) -> bool:
    exempt = ("retentive_internal", "retentive_proximal", "rigid", "on_root_or_implant", "crowned")
    return "encircles" in part.option.parts or any(word in part.option.parts for word in exempt)


def _fits_extension(part: Part) -> bool:
    return not part.beside_extension or part.releasing


def _both_sides(whole: Whole, available: Sequence[Part]) -> Check:
    sides = {side_of(part.tooth) for part in whole.retentive}
    possible = {side_of(part.tooth) for part in available if part.retentive}
    if len(sides) == 2:
        return _check("both_sides", "passed", "")
    lacking = ", ".join(sorted({"right", "left"} - sides))
    why = (
        "no tooth there can hold"
        if not ({"right", "left"} - sides) & possible
        else "given up for other rules"
    )
    return _check("both_sides", "failed", f"nothing holds on the {lacking}: {why}")


def _numbers(whole: Whole, available: Sequence[Part]) -> Check:
    held = len(whole.retentive)
    words = f"{held} of {whole.least_retainers}"
    if held >= whole.least_retainers:
        return _check("enough_retainers", "passed", words)
    teeth = len({part.tooth for part in available if part.retentive})
    return _check("enough_retainers", "failed", f"{words}; {teeth} teeth could hold")


def _balance(whole: Whole) -> Check:
    held = whole.retentive
    if not held or any(part.force_n is None for part in held):
        return _check("balance", "not_checked", "the undercut of a retainer was not recorded")
    pull = {s: sum(p.force_n or 0.0 for p in held if side_of(p.tooth) == s) for s in ("right", "left")}
    strong = max(pull.values())
    share = min(pull.values()) / strong if strong else 1.0
    return _check(
        "balance",
        share >= float(figures()["force_balance_least"]),
        f"the weaker side holds about {share:.0%} of the other",
    )


def _supported(whole: Whole) -> Check:
    lacking = [str(tooth) for tooth in whole.support if whole.rests.get(tooth, "none") == "none"]
    return _check("base_supported", not lacking, f"no rest at {', '.join(lacking)}" if lacking else "")


def _rest_count(whole: Whole) -> Check:
    rests = [tooth for tooth, rest in whole.rests.items() if rest != "none"]
    return _check(
        "three_rests", len(rests) >= int(figures()["rests_least"]), f"{len(rests)} teeth carry rests"
    )


def _spread(working: "Working", whole: Whole) -> Check:
    """The rests have to enclose an area: fewer than three, or three in a row, make a line."""
    teeth = [tooth for tooth, rest in whole.rests.items() if rest != "none"]
    geometry = place_teeth(working.case.arch)
    points = sorted({geometry[tooth].line_middle for tooth in teeth})
    area = _hull_area(points) / 100.0
    return _check("rests_spread", area > 1.0, f"they span about {area:.0f} cm2")


def _hull_area(points: Sequence[tuple[float, float]]) -> float:
    if len(points) < 3:
        return 0.0
    from shapely import MultiPoint

    return float(MultiPoint(list(points)).convex_hull.area)


def _indirect(working: "Working", whole: Whole) -> Check:
    if terminal_pair(working.facts.classification, working.facts.standing) is None:
        return _check("indirect", "passed", "not needed: the bases are carried by teeth at both ends")
    if whole.seats:
        words = ", ".join(
            f"{seat.tooth} {seat.rest}, lever about {seat.lever_mm:.0f} mm" for seat in whole.seats
        )
        return _check("indirect", "passed", words)
    if "indirect_retention" in whole.connector.parts:
        return _check("indirect", "passed", "the plate gives it")
    return _check("indirect", "failed", "no tooth beyond the axis can bear one")


def _reaches(whole: Whole) -> Check:
    if "one_sided" not in whole.connector.parts:
        return _check("connector_reaches", "passed", "")
    sides = {side_of(t) for t, part in whole.retainers.items() if part.option.id != "none"}
    return _check("connector_reaches", len(sides) <= 1, "it stays on one side")


def _plate_ends(whole: Whole) -> Check:
    if "needs_rests_at_ends" not in whole.connector.parts:
        return _check("plate_ends", "passed", "no plate on the teeth")
    sides = {side_of(t) for t, rest in whole.rests.items() if rest != "none" and position(t) <= 5}
    return _check("plate_ends", len(sides) == 2, "" if len(sides) == 2 else "an end has no rest")


def _rooms(whole: Whole) -> Check:
    least = float(figures()["shared_embrasure_room_mm"])
    tight: list[str] = []
    unknown: list[str] = []
    for part in whole.retainers.values():
        for _ in part.crosses:
            if part.partner is None:
                continue
            room = whole.rooms.get(frozenset((part.tooth, part.partner)))
            if room is None:
                unknown.append(f"{part.tooth}/{part.partner}")
            elif room < least and part.result.status != "needs_preparation":
                tight.append(f"{part.tooth}/{part.partner}")
    if tight:
        return _check("embrasure_room", "failed", f"too little at {', '.join(sorted(set(tight)))}")
    if unknown:
        return _check(
            "embrasure_room", "not_checked", f"room not recorded at {', '.join(sorted(set(unknown)))}"
        )
    return _check("embrasure_room", "passed", "")


def _partners(whole: Whole) -> Check:
    lone = [
        str(part.tooth)
        for part in whole.retainers.values()
        if part.partner is not None
        and (part.partner not in whole.retainers or whole.retainers[part.partner].partner != part.tooth)
    ]
    return _check("embrasure_partner", not lone, f"{', '.join(lone)} stands alone" if lone else "")


def _allergy_known(working: "Working") -> bool:
    return working.case.patient is not None and working.case.patient.allergy is not None
