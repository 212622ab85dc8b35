"""Which seats for indirect retainers a framework takes, and how they join the rests of its retainers."""

from collections.abc import Mapping

from recommender.advice.frameworks.building import seat_sites
from recommender.advice.frameworks.parts import SIDES, Part
from recommender.advice.model import Seat
from recommender.domain.dentition import position, side_facing, side_of


def chosen_seats(number: str, seats: tuple[Seat, ...]) -> tuple[Seat, ...]:
    """The best seat on each side for Class I and IV, the best one for Class II.

    For Class II the seat lies on the side away from the extension, where the lever is longest. An incisor, whose slope
    is no positive seat, is spared where the other side offers a better tooth.
    """
    if not seats:
        return ()
    if number == "II":
        return (seats[0],)
    best: dict[str, Seat] = {}
    for seat in seats:
        best.setdefault(side_of(seat.tooth), seat)
    firm = any(position(seat.tooth) > 2 for seat in best.values())
    return tuple(
        best[side] for side in SIDES if side in best and not (firm and position(best[side].tooth) <= 2)
    )


def rests_of(
    retainers: Mapping[int, Part], seats: tuple[Seat, ...], others: tuple[Seat, ...]
) -> tuple[dict[int, str], tuple[Seat, ...]]:
    """The rest of each retainer that carries one, and the seats that go with them.

    A seat joins a tooth's own rest where it can: the same site, or the other end of the same tooth. Where it
    cannot, the next best seat of that side takes its place, and none if none fits.
    """
    rests = {tooth: part.build.rest for tooth, part in retainers.items() if part.build.rest is not None}
    settled: list[Seat] = []
    for wanted in seats:
        candidates = [wanted, *(s for s in others if side_of(s.tooth) == side_of(wanted.tooth))]
        for seat in candidates:
            joined = _joined(seat, rests.get(seat.tooth), retainers.get(seat.tooth))
            if joined is not None and seat not in settled:
                rests[seat.tooth] = joined
                settled.append(seat)
                break
    return dict(sorted(rests.items())), tuple(settled)


def _joined(seat: Seat, held: str | None, part: Part | None) -> str | None:
    if held is None or held in (seat.rest, "mesial_distal"):
        return seat.rest if held is None else held
    if held == "embrasure":
        return held if part is not None and seat.rest == toward_partner(part) else None
    return "mesial_distal" if {held, seat.rest} == {"mesial", "distal"} else None


def toward_partner(part: Part) -> str | None:
    """The side of an embrasure clasp's tooth that faces its other half."""
    return side_facing(part.tooth, part.partner) if part.partner is not None else None


def sites_of(rest: str, part: Part | None) -> tuple[str, ...]:
    """The places on a tooth that its rest takes, given what it carries."""
    if part is None:
        return seat_sites(rest, None, None)
    return seat_sites(rest, part.result.approach, toward_partner(part))
