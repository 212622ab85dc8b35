"""Whole frameworks from the ranked parts: the best few, checked as a whole."""

from collections.abc import Mapping
from dataclasses import replace
from math import fsum
from typing import TYPE_CHECKING

from recommender.advice.frameworks.candidates import Part, Parts, figures, gather, price_of_waiting
from recommender.advice.frameworks.compare import gives_up, weigh
from recommender.advice.frameworks.design import design_of
from recommender.advice.frameworks.infeasible import no_framework
from recommender.advice.frameworks.rests import preparation_of, rests_of
from recommender.advice.frameworks.rules.checks import checks_of
from recommender.advice.frameworks.solve import Selection, Wanted, best
from recommender.advice.frameworks.steps import cautions_of, steps_of
from recommender.advice.frameworks.whole import Whole
from recommender.advice.model import Decision, DecisionResult, Framework, NoFramework, Seat

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


def assemble(
    analysis: "CaseAnalysis", results: Mapping[Decision, DecisionResult], seats: tuple[Seat, ...], count: int
) -> tuple[Framework, ...]:
    """The best ``count`` whole frameworks that really differ, best first; empty where nothing can be made.

    ``assemble_or_say_why`` gives the reasons as well.
    """
    return assemble_or_say_why(analysis, results, seats, count)[0]


def assemble_or_say_why(
    analysis: "CaseAnalysis", results: Mapping[Decision, DecisionResult], seats: tuple[Seat, ...], count: int
) -> tuple[tuple[Framework, ...], NoFramework | None]:
    """The best frameworks; where there is none, the reasons and the nearest ways out instead."""
    parts = gather(analysis, results, seats)
    wanted = wanted_of(analysis, parts)
    nothing = no_framework(analysis, results, parts)
    if nothing is not None:
        return (), nothing
    parts, chosen = settle(analysis, parts, wanted, count)
    if not chosen:
        return (), no_framework(analysis, results, parts, unsolved=True)
    built = [_built(analysis, parts, wanted, selection) for selection in chosen]
    weighed = [weigh(parts, selection) for selection in chosen]
    return tuple(
        framework
        if not index
        else replace(framework, gives_up=gives_up(built[0], framework, weighed[0], weighed[index]))
        for index, framework in enumerate(built)
    ), None


def settle(analysis: "CaseAnalysis", parts: Parts, wanted: Wanted, count: int) -> tuple[Parts, list[Selection]]:
    """The best selections in which every assembly that stands on a rest finds one.

    Rests are ranked only for assemblies that come into question: one that finds no usable rest is struck out
    and the choice made again, until none is left.
    """
    while True:
        chosen = best(parts, wanted, count)
        unseated = {
            (tooth, part.option.id)
            for selection in chosen
            for tooth, part in selection.retainers.items()
            # Attachments and double crowns may bear on their own parts.
            if part.rested
            and "none" not in part.option.rests
            and analysis.best_rest(tooth, part.option.id) is None
        }
        if not unseated:
            return parts, chosen
        left = {
            tooth: kept
            for tooth, options in parts.retainers.items()
            if (kept := tuple(p for p in options if (tooth, p.option.id) not in unseated))
            or not options[0].further
        }
        parts = replace(parts, retainers=left)


def wanted_of(analysis: "CaseAnalysis", parts: Parts) -> Wanted:
    """How many retainers the class wants, which teeth have to carry a rest, and the recorded embrasure rooms."""
    facts = analysis.facts
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
    ends = [tooth for space in facts.spaces if space.support == "extension" for tooth in space.borders]
    return Wanted(least, most, support, rooms, tuple(dict.fromkeys(ends)))


def _built(analysis: "CaseAnalysis", parts: Parts, wanted: Wanted, selection: Selection) -> Framework:
    retainers = dict(sorted(selection.retainers.items()))
    rests, seats = rests_of(analysis, retainers, parts.seats, parts.other_seats)
    whole = Whole(
        retainers, rests, seats, selection.connector, selection.connector_result, parts, wanted
    )  # fmt: skip
    chosen = [part.result for part in retainers.values() if part.option.id != "none"]
    chosen += [selection.connector_result, *parts.replacements.values()]
    preparation = preparation_of(analysis, retainers, chosen, rests)
    terms = _terms(retainers, selection, parts)
    unsure = any(result.provisional for result in chosen) or any(seat.provisional for seat in seats)
    return Framework(
        score=fsum(terms.values()),
        connector=selection.connector.id,
        retainers={tooth: part.option.id for tooth, part in retainers.items()},
        replacements={tooth: result.option for tooth, result in sorted(parts.replacements.items())},
        rests=rests,
        indirect_retainers=seats,
        preparation=preparation,
        checks=checks_of(analysis, whole),
        design=design_of(analysis, whole, parts, preparation),
        provisional=unsure,
        metal_on_show=_on_show(retainers),
        cautions=cautions_of(analysis, whole, chosen, len(preparation)),
        terms=terms,
        steps=steps_of(analysis, whole, len(preparation)),
    )


def _terms(retainers: Mapping[int, Part], selection: Selection, parts: Parts) -> dict[str, float]:
    """The framework's score as lines: the weighted mean of each kind of part, less the wants that are not met."""
    weights, wants = figures()["weights"], figures()["wants"]
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
    for rule, count in sorted(selection.unmet.items()):
        if rule in wants:
            terms[f"not met: {rule}"] = -float(wants[rule]) * count
    return terms


def _on_show(retainers: Mapping[int, Part]) -> float | None:
    """Metal on show: the shares of the arms that a smile shows, added over the arms.

    ``None`` where one of the arms has no computed share: not known is not nothing. Assemblies without an arm
    show none.
    """
    shares = [
        part.result.facts.get("arm.visible_share")
        for part in retainers.values()
        if part.retentive and part.option.arm is not None
    ]
    middles = [
        float(share) if isinstance(share, (int, float)) else (float(share[0]) + float(share[1])) / 2
        for share in shares
        if isinstance(share, (int, float)) or (isinstance(share, list) and None not in share)
    ]
    return fsum(middles) if middles and len(middles) == len(shares) else None
