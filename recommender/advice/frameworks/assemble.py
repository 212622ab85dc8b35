"""Whole frameworks from the ranked parts: the best few, checked as a whole. One way through, which climbs nowhere:

stock (``candidates``) → choice (``solve``) → rests and preparation → design → what cannot be made
(``buildable``) → checks, departures, cautions → framework.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import fsum

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.frameworks.buildable import metal_faults, mouth_of
from recommender.advice.frameworks.candidates import stock_of
from recommender.advice.frameworks.compare import gives_up, weigh
from recommender.advice.frameworks.departures import departures_of
from recommender.advice.frameworks.design import design_of
from recommender.advice.frameworks.drawn_in import why_drawn_in
from recommender.advice.frameworks.infeasible import no_framework
from recommender.advice.frameworks.metal import Metal
from recommender.advice.frameworks.parts import Choice, Part, Stock
from recommender.advice.frameworks.preparation import preparation_of
from recommender.advice.frameworks.rules.base import BetweenParts
from recommender.advice.frameworks.rules.book import book, checks_of
from recommender.advice.frameworks.seats import rests_of
from recommender.advice.frameworks.solve import connector_worth, varied, worth
from recommender.advice.frameworks.steps import cautions_of, steps_of
from recommender.advice.frameworks.whole import Whole
from recommender.advice.model import Decision, DecisionResult, Framework, NoFramework, Seat
from recommender.domain.options import Catalogue


def assemble_or_say_why(
    analysis: CaseAnalysis, results: Mapping[Decision, DecisionResult], seats: tuple[Seat, ...], count: int
) -> tuple[tuple[Framework, ...], NoFramework | None]:
    """The best ``count`` frameworks that really differ, best first; where there is none, the reasons and ways out."""
    base = analysis.engine.knowledge
    return from_stock(stock_of(analysis, results, seats), results, base.catalogue, count)


def from_stock(
    stock: Stock, results: Mapping[Decision, DecisionResult], catalogue: Catalogue, count: int
) -> tuple[tuple[Framework, ...], NoFramework | None]:
    """As ``assemble_or_say_why``, from plain values alone."""
    nothing = no_framework(stock, results)
    if nothing is not None:
        return (), nothing
    rules = book(stock.figures)
    chosen = [selection.choice for selection in varied(stock, rules, count)]
    if not chosen:
        return (), no_framework(stock, results, unsolved=True)
    built = [finished(choice, catalogue, rules, runner_up=place > 0) for place, choice in enumerate(chosen)]
    weighed = [weigh(choice) for choice in chosen]
    return tuple(
        framework
        if not place
        else replace(framework, gives_up=gives_up(built[0], framework, weighed[0], weighed[place]))
        for place, framework in enumerate(built)
    ), None


def finished(
    choice: Choice, catalogue: Catalogue, rules: Sequence[BetweenParts], *, runner_up: bool = False
) -> Framework:
    """A choice of parts as a whole framework."""
    stock, retainers = choice.stock, choice.retainers
    rests, seats = rests_of(retainers, stock.seats, stock.other_seats)
    preparation = preparation_of(choice, rests)
    design = design_of(choice, rests, seats, preparation)
    metal = Metal(design, mouth_of(stock.arch, stock.standing, stock.spaces), catalogue, stock.figures.crown)
    whole = Whole(choice, rests, seats, preparation, design, metal_faults(metal, stock.teeth, stock.figures))
    chosen = [part.result for part in retainers.values() if part.option.id != "none"]
    chosen += [choice.connector_result, *stock.replacements.values()]
    terms = _terms(choice, rules)
    return Framework(
        score=fsum(terms.values()),
        connector=choice.connector.id,
        retainers={tooth: part.option.id for tooth, part in retainers.items()},
        replacements={tooth: result.option for tooth, result in sorted(stock.replacements.items())},
        rests=rests,
        indirect_retainers=seats,
        preparation=preparation,
        checks=checks_of(whole, rules),
        design=design,
        provisional=any(r.provisional for r in chosen) or any(seat.provisional for seat in seats),
        metal_on_show=_on_show(retainers),
        cautions=cautions_of(whole, chosen),
        terms=terms,
        steps=steps_of(whole),
        departures=departures_of(choice, rests, rules, runner_up=runner_up),
        drawn_in=why_drawn_in(choice),
    )


def _terms(choice: Choice, rules: Sequence[BetweenParts]) -> dict[str, float]:
    """The framework's score as lines: the weighted mean of each kind of part, less the wants that are not met."""
    stock, result = choice.stock, choice.connector_result
    terms = {"connector": connector_worth(stock, result.score, result.status == "needs_preparation")}
    for part in choice.retainers.values():
        terms[f"{'further tooth' if part.further else 'retainer'} {part.tooth}"] = worth(stock, part)
    for tooth, set_there in stock.replacements.items():
        terms[f"replacement {tooth}"] = (
            stock.figures.weights.replacement * set_there.score / len(stock.replacements)
        )
    for rule in rules:
        count = len(rule.breaches(choice)) if rule.entry.kind == "want" else 0
        if count:
            terms[f"not met: {rule.id}"] = -rule.price(stock) * count
    return terms


def _on_show(retainers: Mapping[int, Part]) -> float | None:
    """Metal on show: the shares of the arms that a smile shows, added over the arms.

    ``None`` where one of the arms has no computed share: not known is not nothing. Assemblies without an arm
    show none.
    """
    shares = [part.shown for part in retainers.values() if part.retentive and part.option.arm is not None]
    known = [share for share in shares if share is not None]
    return fsum(known) if known and len(known) == len(shares) else None
