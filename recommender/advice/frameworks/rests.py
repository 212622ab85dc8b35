"""The rests of a chosen framework, the seats against lifting, and what the dentist has to prepare for all of it."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from recommender.advice.frameworks.candidates import Part, figures
from recommender.advice.model import OptionResult, PreparationStep, Seat
from recommender.advice.preparations import permitted
from recommender.domain.dentition import side_facing, side_of

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


def rests_of(
    analysis: "CaseAnalysis", retainers: Mapping[int, Part], seats: tuple[Seat, ...], others: tuple[Seat, ...]
) -> tuple[dict[int, str], tuple[Seat, ...]]:
    """The best usable rest for each retainer that carries one, and the seats that go with them.

    A seat joins a tooth's own rest where it can: the same site, or the other end of the same tooth. Where it
    cannot, the next best seat of that side takes its place, and none if none fits.
    """
    rests: dict[int, str] = {}
    for tooth, part in retainers.items():
        rest = analysis.best_rest(tooth, part.option.id) if part.rested else None
        if rest is not None:
            rests[tooth] = rest
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
        through = side_facing(seat.tooth, part.partner) if part and part.partner else None
        return held if seat.rest == through else None
    return "mesial_distal" if {held, seat.rest} == {"mesial", "distal"} else None


def seat_sites(rest: str, tooth: int, part: Part | None) -> tuple[str, ...]:
    """The places on a tooth that a rest takes: ``mesial``, ``distal``, ``cingulum``, ``incisal``."""
    if rest in ("none", "onlay"):
        return ()
    if rest == "mesial_distal":
        return ("mesial", "distal")
    if rest == "embrasure":
        return (
            (side_facing(tooth, part.partner),)
            if part is not None and part.partner is not None
            else ("mesial", "distal")
        )
    if rest == "long":
        return (part.result.approach,) if part is not None and part.result.approach else ("mesial",)
    return (rest,)


def uprights(
    analysis: "CaseAnalysis", rests: Mapping[int, str], retainers: Mapping[int, Part]
) -> list[tuple[int, str]]:
    """Rests that stand away from every base and need a minor connector of their own."""
    return [
        (tooth, site)
        for tooth, rest in rests.items()
        for site in seat_sites(rest, tooth, retainers.get(tooth))
        if site not in analysis.facts.sides(tooth)
        and not (site in ("cingulum", "incisal") and _plated_tooth(analysis, tooth, retainers.get(tooth)))
    ]


def _plated_tooth(analysis: "CaseAnalysis", tooth: int, part: Part | None) -> bool:
    """A front tooth beside a base: its plate carries the rest, unless the assembly brings an upright."""
    has_upright = part is not None and "minor_connector" in part.option.parts
    return bool(analysis.facts.sides(tooth)) and not has_upright


def preparation_of(
    analysis: "CaseAnalysis",
    retainers: Mapping[int, Part],
    chosen: Iterable[OptionResult],
    rests: Mapping[int, str],
) -> tuple[PreparationStep, ...]:
    """What the dentist has to do before the impression, in the order in which it is done."""
    order = figures()["preparation_order"]
    steps: dict[tuple[int, str, str], PreparationStep] = {}
    for result in chosen:
        for step in (*result.unlocked_by, *result.preparation):
            if step.action != "rest_seat":
                key = (step.tooth, step.surface, step.action)
                before = steps.get(key)
                # What one part asks for as routine and another cannot do without is not routine.
                steps[key] = step if before is None or before.routine else before
    for tooth, rest in rests.items():
        recorded = analysis.facts.tooth(tooth).fact("abutment.rest_seats").value
        for site in seat_sites(rest, tooth, retainers.get(tooth)):
            if isinstance(recorded, frozenset) and site in recorded:
                continue
            leave = permitted(analysis.facts.surveyed.get(tooth), "rest_seat")
            unlocks = (f"rests.{tooth}.{rest}",)
            steps.setdefault(
                (tooth, site, "rest_seat"), PreparationStep(tooth, site, "rest_seat", True, leave, unlocks)
            )
    return tuple(sorted(steps.values(), key=lambda s: (order.index(s.action), s.tooth, s.surface)))
