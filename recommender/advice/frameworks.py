"""Whole frameworks from the ranked parts: the best few, checked as a whole."""

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from recommender.advice.assembly_checks import Whole, checks_of
from recommender.advice.assembly_compare import gives_up
from recommender.advice.assembly_design import design_of
from recommender.advice.assembly_parts import (
    USABLE,
    Part,
    Parts,
    figures,
    framework_scope,
    gather,
    price_of_waiting,
)
from recommender.advice.assembly_solve import Selection, Wanted, best
from recommender.advice.model import Decision, DecisionResult, Framework, OptionResult, PreparationStep, Seat
from recommender.domain.dentition import side_facing, side_of

if TYPE_CHECKING:
    from recommender.advice.recommend import Working


def assemble(
    working: "Working", results: Mapping[Decision, DecisionResult], seats: tuple[Seat, ...], count: int
) -> tuple[Framework, ...]:
    """The best ``count`` whole frameworks that really differ, best first; empty if a place has no usable part."""
    parts = gather(working, results, seats)
    wanted = wanted_of(working, parts)
    built = [_built(working, parts, wanted, selection) for selection in best(parts, wanted, count)]
    return tuple(
        framework if not index else replace(framework, gives_up=gives_up(built[0], framework))
        for index, framework in enumerate(built)
    )


def wanted_of(working: "Working", parts: Parts) -> Wanted:
    """How many retainers the class wants, which teeth have to carry a rest, and the recorded embrasure rooms."""
    facts = working.facts
    figure = figures()["retainers_wanted"][facts.classification.number]
    more = figure["each_modification"] * facts.classification.modifications
    least, most = figure["least"], figure["most"] + more
    if facts.classification.number == "III" and facts.case_layer["derived.spaces_both_sides"].value:
        least = int(figures()["bounded_both_sides_least"])
    support = tuple(dict.fromkeys(tooth for space in facts.spaces for tooth in space.borders))
    rooms: dict[frozenset[int], float] = {}
    for tooth in parts.retainers:
        for side in ("mesial", "distal"):
            beside = facts.touching(tooth, side)
            room = facts.tooth(tooth).fact(f"abutment.embrasure_clearance_mm.{side}").value
            if beside is not None and isinstance(room, (int, float)):
                pair = frozenset((tooth, beside))
                rooms[pair] = min(float(room), rooms.get(pair, float(room)))
    return Wanted(least, most, support, rooms)


def _built(working: "Working", parts: Parts, wanted: Wanted, selection: Selection) -> Framework:
    retainers = dict(sorted(selection.retainers.items()))
    rests = _rests(working, retainers, parts.seats)
    whole = Whole(
        retainers, rests, parts.seats, selection.connector, parts.alloy, wanted.least_retainers,
        wanted.most_retainers, wanted.support, wanted.rooms,
    )  # fmt: skip
    available = [part for options in parts.retainers.values() for part in options]
    chosen = [part.result for part in retainers.values()]
    chosen += [selection.connector_result, *parts.replacements.values()]
    preparation = _preparation(working, retainers, chosen, rests)
    terms = _terms(retainers, selection, parts)
    score = sum(terms.values())
    return Framework(
        score=score,
        connector=selection.connector.id,
        retainers={tooth: part.option.id for tooth, part in retainers.items()},
        replacements={tooth: result.option for tooth, result in sorted(parts.replacements.items())},
        rests=rests,
        indirect_retainers=parts.seats,
        preparation=preparation,
        checks=checks_of(working, whole, available),
        design=design_of(working, whole, parts, preparation),
        provisional=any(result.provisional for result in chosen),
        metal_on_show=_on_show(retainers),
        cautions=_cautions(working, whole, chosen),
        terms=terms,
    )


def _terms(retainers: Mapping[int, Part], selection: Selection, parts: Parts) -> dict[str, float]:
    """The framework's score as lines: the weighted mean of each kind of part. They add up to the score."""
    weights = figures()["weights"]
    considered = [part for part in retainers.values() if not part.further]
    terms = {
        "connector": float(weights["connector"])
        * (selection.connector_result.score - price_of_waiting(selection.connector_result))
    }
    for part in considered:
        terms[f"retainer {part.tooth}"] = float(weights["retainer"]) * part.value / len(considered)
    for part in retainers.values():
        if part.further:
            price = figures()["further_tooth"]
            terms[f"further tooth {part.tooth}"] = -float(price["cost"]) - float(price["shortfall"]) * (
                100.0 - part.value
            )
    for tooth, result in parts.replacements.items():
        terms[f"replacement {tooth}"] = float(weights["replacement"]) * result.score / len(parts.replacements)
    return terms


def _rests(working: "Working", retainers: Mapping[int, Part], seats: tuple[Seat, ...]) -> dict[int, str]:
    """The best usable rest for each retainer that carries one, and the seats of the indirect retainers."""
    rests: dict[int, str] = {}
    for tooth, part in retainers.items():
        if not part.rested:
            continue
        best_rest = working.best_rest(tooth, part.option.id)
        if best_rest is not None:
            rests[tooth] = best_rest
    for seat in seats:
        held = rests.get(seat.tooth)
        if held is None or held == seat.rest:
            rests[seat.tooth] = seat.rest
        elif {held, seat.rest} == {"mesial", "distal"}:
            rests[seat.tooth] = "mesial_distal"
    return dict(sorted(rests.items()))


def _preparation(
    working: "Working", retainers: Mapping[int, Part], chosen: list[OptionResult], rests: Mapping[int, str]
) -> tuple[PreparationStep, ...]:
    """What the dentist has to do before the impression, in the order in which it is done."""
    order = figures()["preparation_order"]
    steps: dict[tuple[int, str, str], PreparationStep] = {}
    for result in chosen:
        for step in (*result.unlocked_by, *result.preparation):
            if step.action != "rest_seat":
                steps.setdefault((step.tooth, step.surface, step.action), step)
    for tooth, rest in rests.items():
        recorded = working.facts.tooth(tooth).fact("abutment.rest_seats").value
        sites = {"mesial_distal": ("mesial", "distal"), "embrasure": _embrasure_seat(retainers, tooth)}.get(
            rest, (rest,)
        )
        for site in sites:
            if site in ("none", "onlay", "long") or (isinstance(recorded, frozenset) and site in recorded):
                continue
            steps.setdefault(
                (tooth, site, "rest_seat"),
                PreparationStep(tooth, site, "rest_seat", True, None, (f"rests.{tooth}.{rest}",)),
            )
    return tuple(sorted(steps.values(), key=lambda s: (order.index(s.action), s.tooth, s.surface)))


def _embrasure_seat(retainers: Mapping[int, Part], tooth: int) -> tuple[str, ...]:
    part = retainers.get(tooth)
    if part is None or part.partner is None:
        return ("mesial", "distal")
    return (side_facing(tooth, part.partner),)


def _on_show(retainers: Mapping[int, Part]) -> float | None:
    """Metal on show: the shares of the arms that a smile shows, added over the arms; ``None`` if none is known."""
    shares = [part.result.facts.get("arm.visible_share") for part in retainers.values() if part.retentive]
    middles = [
        float(share) if isinstance(share, (int, float)) else (float(share[0]) + float(share[1])) / 2
        for share in shares
        if isinstance(share, (int, float)) or (isinstance(share, list) and None not in share)
    ]
    return sum(middles) if middles else None


def _cautions(working: "Working", whole: Whole, chosen: list[OptionResult]) -> tuple[str, ...]:
    """Cautions of the parts, and those of the framework rules on what was put together."""
    held = whole.retentive
    said = dict.fromkeys(text for result in chosen for text in result.cautions)
    values: dict[str, bool | int | float | str] = {
        "framework.rest_count": len([rest for rest in whole.rests.values() if rest != "none"]),
        "framework.retainer_count": len(held),
        "framework.retained_sides": len({side_of(part.tooth) for part in held}),
        "framework.indirect_count": len(whole.seats),
        "framework.connector": whole.connector.id,
        "framework.cross_arch": "one_sided" not in whole.connector.parts,
    }
    if whole.alloy:
        values["framework.alloy"] = whole.alloy
    scope = framework_scope(working, values)
    for rule in working.engine.rule_set("framework").rules:
        if rule.effect in ("caution", "discourages") and rule.when.evaluate(scope):
            said[rule.why] = None
    return tuple(said)
