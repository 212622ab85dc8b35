"""Checks of what holds a framework in: arms, their number and balance, what lets go, what is rotated in."""

from collections.abc import Sequence

from recommender.advice.frameworks.candidates import Part, figures
from recommender.advice.frameworks.solve import locks_path
from recommender.advice.frameworks.whole import Whole, check, each, listed
from recommender.advice.model import Check
from recommender.domain.dentition import side_of

_RIGID = (
    "reciprocal_lingual",
    "reciprocal_facial",
    "reciprocal_internal",
    "proximal_plate",
    "minor_connector",
    "rigid",
)
_NO_ARM = ("retentive_internal", "retentive_proximal", "rigid", "on_root_or_implant", "crowned")


def holding_checks(whole: Whole) -> list[Check]:
    """All of them."""
    held = whole.retentive
    most = whole.wanted.most_retainers
    return [
        _reciprocated(whole),
        _one_arm(held),
        _encirclement(held),
        _both_sides(whole),
        _numbers(whole),
        check("no_more_retainers", len(held) <= most, f"{len(held)} of at most {most}"),
        _balance(held),
        _spread_arms(whole),
        _alike(whole),
        _held_ends(whole),
        _left_alone(whole),
        _releasing(held),
        _rotational(held),
    ]


def _reciprocated(whole: Whole) -> Check:
    plated = "plate_on_teeth" in whole.connector.parts
    found = each(
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
    return check("one_arm_a_tooth", not twice, f"two at {listed(twice)}" if twice else "")


def _encirclement(held: Sequence[Part]) -> Check:
    return each(
        "encirclement",
        held,
        lambda part: "encircles" in part.option.parts or any(w in part.option.parts for w in _NO_ARM),
        "stops short of it",
    )


def _releasing(held: Sequence[Part]) -> Check:
    return each(
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
        return check("balance", "not_checked", f"no force is known at {listed(unknown)}" if unknown else "")
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
    words = f"{listed(needless)} carries a rest" + (" to make up the number" if few else "")
    return check("left_alone", not needless, words if needless else "")


def _rotational(held: Sequence[Part]) -> Check:
    rigid = [part for part in held if part.rotated_end]
    if not rigid:
        return check("rotational_path", "passed", "none is rotated in")
    loose = [p.tooth for p in rigid if not any(locks_path(p, other) for other in held)]
    ends = {part.rotated_end for part in rigid}
    if loose or len(ends) > 1:
        words = f"nothing locks {listed(loose)}" if loose else "they stand at both ends"
        return check("rotational_path", "failed", words)
    return check("rotational_path", "passed", f"{listed(p.tooth for p in rigid)} seat first")
