"""Checks of where parts meet: the connector's reach, the ends of a plate, embrasures that two parts share."""

from recommender.advice.frameworks.candidates import figures
from recommender.advice.frameworks.whole import Whole, check, listed
from recommender.advice.model import Check
from recommender.domain.dentition import position, side_facing, side_of


def meeting_checks(whole: Whole) -> list[Check]:
    """All of them."""
    return [_reaches(whole), _plate_ends(whole), _rooms(whole), _partners(whole)]


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
    return check("embrasure_partner", not lone, f"{listed(lone)} stands alone" if lone else "")
