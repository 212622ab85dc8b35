"""The rules between parts, checked on a finished framework and told in words.

A check reads the parts as they were chosen and never the solver's own record.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from recommender.advice.assembly_parts import Part, Parts, figures
from recommender.advice.assembly_solve import Wanted, locks_path
from recommender.advice.model import Check, OptionResult, Seat
from recommender.domain.dentition import position, side_facing, side_of
from recommender.domain.options import Option
from recommender.facts.axis import terminal_pair
from recommender.mechanics.arch import place_teeth
from recommender.mechanics.levers import Line

if TYPE_CHECKING:
    from recommender.advice.recommend import Working

Outcome = Literal["passed", "passed_with_preparation", "not_checked", "failed"]
_RIGID = (
    "reciprocal_lingual",
    "reciprocal_facial",
    "reciprocal_internal",
    "proximal_plate",
    "minor_connector",
    "rigid",
)
_NO_ARM = ("retentive_internal", "retentive_proximal", "rigid", "on_root_or_implant", "crowned")


@dataclass(frozen=True, slots=True)
class Whole:
    """A framework as the checks see it."""

    retainers: dict[int, Part]
    rests: dict[int, str]
    seats: tuple[Seat, ...]
    connector: Option
    connector_result: OptionResult
    parts: Parts
    wanted: Wanted

    @property
    def retentive(self) -> list[Part]:
        """The parts that hold it in."""
        return [part for part in self.retainers.values() if part.retentive]

    @property
    def alloy(self) -> str | None:
        """The alloy of the frame."""
        return self.parts.alloy

    @property
    def available(self) -> list[Part]:
        """All parts that could have been chosen."""
        return [part for options in self.parts.retainers.values() for part in options]

    @property
    def carrying(self) -> list[int]:
        """Teeth that carry a retainer or a rest."""
        held = {tooth for tooth, part in self.retainers.items() if part.option.id != "none"}
        return sorted(held | {tooth for tooth, rest in self.rests.items() if rest != "none"})


def checks_of(working: "Working", whole: Whole) -> tuple[Check, ...]:
    """Every rule between parts with its outcome, in the order of ``shared/frameworks.yaml``."""
    from recommender.advice.assembly_checks_parts import part_checks

    held = whole.retentive
    found = [
        _reciprocated(whole),
        _one_arm(held),
        _encirclement(held),
        _both_sides(whole),
        _numbers(whole),
        check(
            "no_more_retainers",
            len(held) <= whole.wanted.most_retainers,
            f"{len(held)} of at most {whole.wanted.most_retainers}",
        ),
        _balance(held),
        _spread_arms(whole),
        _alike(whole),
        _held_ends(whole),
        _left_alone(whole),
        _releasing(held),
        _rotational(held),
        _supported(working, whole),
        _rest_count(whole),
        _rests_spread(working, whole),
        _indirect(working, whole),
        _reaches(whole),
        _plate_ends(whole),
        _rooms(whole),
        _partners(whole),
        *part_checks(working, whole),
    ]
    order = list(figures()["rules"])
    return tuple(sorted(found, key=lambda one: order.index(one.id)))


def check(rule: str, outcome: Outcome | bool, words: str = "") -> Check:
    """One check as it stands in the answer; ``words`` follow the rule's sentence."""
    known = figures()["rules"][rule]
    source = known["source"]
    result: Outcome = outcome if isinstance(outcome, str) else "passed" if outcome else "failed"
    detail = f": {words}" if words else ""
    return Check(rule, result, f"{known['text']}{detail}", str(figures().get(source, source)))


def _each(rule: str, parts: Sequence[Part], holds: Callable[[Part], bool], words: str) -> Check:
    bad = [part for part in parts if not holds(part)]
    if bad:
        return check(rule, "failed", ", ".join(f"{p.tooth} {p.option.label} {words}" for p in bad))
    return check(rule, "passed")


def _reciprocated(whole: Whole) -> Check:
    plated = "plate_on_teeth" in whole.connector.parts
    found = _each(
        "reciprocated",
        whole.retentive,
        lambda part: plated or any(word in part.option.parts for word in _RIGID),
        "has nothing rigid against it",
    )
    waiting = [str(part.tooth) for part in whole.retentive if part.result.status == "needs_preparation"]
    if found.outcome == "passed" and waiting:
        return check("reciprocated", "passed_with_preparation", f"after preparation of {', '.join(waiting)}")
    return found


def _one_arm(held: Sequence[Part]) -> Check:
    gripped = [part.grips for part in held]
    twice = sorted({tooth for tooth in gripped if gripped.count(tooth) > 1})
    return check("one_arm_a_tooth", not twice, f"two at {_list(twice)}" if twice else "")


def _encirclement(held: Sequence[Part]) -> Check:
    return _each(
        "encirclement",
        held,
        lambda part: "encircles" in part.option.parts or any(w in part.option.parts for w in _NO_ARM),
        "stops short of it",
    )


def _releasing(held: Sequence[Part]) -> Check:
    return _each(
        "releasing", held, lambda part: not part.beside_extension or part.releasing, "does not let go"
    )


def _both_sides(whole: Whole) -> Check:
    sides = {side_of(part.tooth) for part in whole.retentive}
    possible = {side_of(part.tooth) for part in whole.available if part.retentive}
    lacking = [side for side in ("right", "left") if side not in sides]
    if not lacking:
        return check("both_sides", "passed")
    reasons = [
        f"nothing holds on the {side}: "
        + ("other rules forbid it" if side in possible else "no tooth there can carry a retainer")
        for side in lacking
    ]
    return check("both_sides", "failed", "; ".join(reasons))


def _numbers(whole: Whole) -> Check:
    held, least = len(whole.retentive), whole.wanted.least_retainers
    words = f"{held} of {least}"
    if held >= least:
        return check("enough_retainers", "passed", words)
    teeth = len({part.tooth for part in whole.available if part.retentive})
    return check("enough_retainers", "failed", f"{words}; {teeth} teeth could hold")


def balance_of(held: Sequence[Part]) -> float | None:
    """The weaker side's retention over the stronger's; ``None`` where a retainer has no computed force."""
    if not held or any(part.force_n is None for part in held):
        return None
    pull = [sum(p.force_n or 0.0 for p in held if side_of(p.tooth) == side) for side in ("right", "left")]
    return min(pull) / max(pull) if max(pull) else None


def _balance(held: Sequence[Part]) -> Check:
    share = balance_of(held)
    if share is None:
        unknown = [part.tooth for part in held if part.force_n is None]
        return check("balance", "not_checked", f"no force is known at {_list(unknown)}" if unknown else "")
    return check(
        "balance",
        share >= float(figures()["force_balance_least"]),
        f"the weaker side holds about {share:.0%} of the other",
    )


def _spread_arms(whole: Whole) -> Check:
    close = [
        f"{first} and {second}"
        for first, second in map(sorted, whole.parts.touching)
        if (one := whole.retainers.get(first)) is not None
        and (two := whole.retainers.get(second)) is not None
        and one.retentive
        and two.retentive
        and one.partner != second
    ]
    return check("spread", not close, f"{', '.join(sorted(close))} both hold" if close else "")


def _alike(whole: Whole) -> Check:
    unlike = []
    for pair in whole.parts.matching:
        first, second = (whole.retainers.get(tooth) for tooth in pair)
        if first and second and not (first.further or second.further) and first.kind != second.kind:
            unlike.append(f"{first.tooth} {first.option.label}, {second.tooth} {second.option.label}")
    return check("alike", not unlike, "; ".join(unlike))


def _held_ends(whole: Whole) -> Check:
    loose = [t for t in whole.wanted.ends if t not in {part.tooth for part in whole.retentive}]
    able = {part.tooth for part in whole.available if part.retentive}
    words = [f"{t} does not{'' if t in able else ' and can not'}" for t in loose]
    return check("held_beside_extension", not loose, ", ".join(words))


def _left_alone(whole: Whole) -> Check:
    needless = [
        part.tooth
        for part in whole.retainers.values()
        if part.rested
        and not part.retentive
        and part.tooth not in whole.wanted.support
        and part.tooth not in {seat.tooth for seat in whole.seats}
    ]
    few = len(whole.rests) <= int(figures()["rests_least"])
    words = f"{_list(needless)} carries a rest" + (" to make up the number" if few else "")
    return check("left_alone", not needless, words if needless else "")


def _rotational(held: Sequence[Part]) -> Check:
    rigid = [part for part in held if part.rotated_end]
    if not rigid:
        return check("rotational_path", "passed", "none is rotated in")
    loose = [p.tooth for p in rigid if not any(locks_path(p, other) for other in held)]
    ends = {part.rotated_end for part in rigid}
    if loose or len(ends) > 1:
        words = f"nothing locks {_list(loose)}" if loose else "they stand at both ends"
        return check("rotational_path", "failed", words)
    return check("rotational_path", "passed", f"{_list(p.tooth for p in rigid)} seat first")


def _supported(working: "Working", whole: Whole) -> Check:
    """Each base on a rest at every tooth that borders it; a base whose teeth are left open asks for none."""
    lacking = [tooth for tooth in whole.wanted.support if whole.rests.get(tooth, "none") == "none"]
    if not lacking:
        return check("base_supported", "passed")
    reasons = []
    for tooth in lacking:
        options = whole.parts.retainers.get(tooth, ())
        why = "given up for other rules" if any(part.rested for part in options) else _barred(working, tooth)
        reasons.append(f"no rest at {tooth} ({why})")
    return check("base_supported", "failed", "; ".join(reasons))


def _barred(working: "Working", tooth: int) -> str:
    """Why no rest can stand on a tooth, in the words of the rules that say so."""
    from recommender.advice.model import Decision

    if tooth not in working.facts.standing:
        return "only its root is left"
    plain = working.examine(Decision("retainer", tooth)).chosen["rest_only"]
    if plain.blocks:
        return plain.blocks[0].text.rstrip(".")
    return "no site on it has room for a rest"


def _rest_count(whole: Whole) -> Check:
    count = len([tooth for tooth, rest in whole.rests.items() if rest != "none"])
    least = int(figures()["rests_least"])
    words = f"{count} teeth carry rests"
    if count < least:
        able = len({part.tooth for part in whole.available if part.rested} | {s.tooth for s in whole.seats})
        words += f"; {able} could"
    return check("three_rests", count >= least, words)


def _rests_spread(working: "Working", whole: Whole) -> Check:
    """The rests have to enclose an area: fewer than three, or three in a row, make a line."""
    teeth = [tooth for tooth, rest in whole.rests.items() if rest != "none"]
    geometry = place_teeth(working.case.arch)
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


def lever_of(working: "Working", whole: Whole, seat: Seat) -> float | None:
    """The lever arm (mm, mean arch) of a seat to the axis through this framework's own rearmost rests.

    The rests beside the extensions, or beside a long front space; ``None`` where one of them is missing.
    """
    pair = terminal_pair(working.facts.classification, working.facts.standing)
    if pair is None:
        return None
    geometry = place_teeth(working.case.arch)
    in_front = working.facts.classification.number == "IV"
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


def _indirect(working: "Working", whole: Whole) -> Check:
    if terminal_pair(working.facts.classification, working.facts.standing) is None:
        return check("indirect", "passed", "not needed: the bases are carried by teeth at both ends")
    levers = [(seat, lever_of(working, whole, seat)) for seat in whole.seats]
    beyond = [(seat, lever) for seat, lever in levers if lever is not None and lever > 0]
    if beyond:
        words = ", ".join(f"{seat.tooth} {seat.rest}, lever about {lever:.0f} mm" for seat, lever in beyond)
        return check("indirect", "passed", words)
    if "indirect_retention" in whole.connector.parts:
        return check("indirect", "passed", "the plate gives it")
    if whole.seats:
        return check("indirect", "failed", "the seats do not lie beyond the axis of the rests chosen")
    return check("indirect", "failed", "no tooth beyond the axis can bear one")


def _reaches(whole: Whole) -> Check:
    if "one_sided" not in whole.connector.parts:
        return check("connector_reaches", "passed")
    sides = {side_of(tooth) for tooth in whole.carrying}
    return check("connector_reaches", len(sides) <= 1, "it stays on one side")


def _plate_ends(whole: Whole) -> Check:
    if "needs_rests_at_ends" not in whole.connector.parts:
        return check("plate_ends", "passed", "no plate on the teeth")
    sides = {side_of(t) for t, rest in whole.rests.items() if rest != "none" and position(t) <= 5}
    lacking = [side for side in ("right", "left") if side not in sides]
    return check("plate_ends", not lacking, f"no rest on the {' and the '.join(lacking)}" if lacking else "")


def _rooms(whole: Whole) -> Check:
    """Every embrasure into which the metal of both teeth passes, or a shared embrasure clasp."""
    least = float(figures()["shared_embrasure_room_mm"])
    tight: list[str] = []
    unknown: list[str] = []
    made: list[str] = []
    for first, second in sorted(sorted(pair) for pair in whole.parts.touching):
        one, two = whole.retainers.get(first), whole.retainers.get(second)
        if one is None or two is None:
            continue
        if side_facing(first, second) not in one.crosses or side_facing(second, first) not in two.crosses:
            continue
        room = whole.wanted.rooms.get(frozenset((first, second)))
        if room is None:
            unknown.append(f"{first}/{second}")
        elif room < least:
            waits = one.result.status == two.result.status == "needs_preparation" and one.partner == second
            (made if waits else tight).append(f"{first}/{second}")
    if tight:
        return check("embrasure_room", "failed", f"too little at {', '.join(tight)}")
    if unknown:
        return check("embrasure_room", "not_checked", f"room not recorded at {', '.join(unknown)}")
    if made:
        return check("embrasure_room", "passed_with_preparation", f"made at {', '.join(made)}")
    return check("embrasure_room", "passed")


def _partners(whole: Whole) -> Check:
    lone = [
        part.tooth
        for part in whole.retainers.values()
        if part.partner is not None
        and (part.partner not in whole.retainers or whole.retainers[part.partner].partner != part.tooth)
    ]
    return check("embrasure_partner", not lone, f"{_list(lone)} stands alone" if lone else "")


def _list(teeth: object) -> str:
    return ", ".join(str(tooth) for tooth in teeth)  # type: ignore[attr-defined]
