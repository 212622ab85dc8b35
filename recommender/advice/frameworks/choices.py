"""A whole framework around choices that a designer has made: the rest is filled in as well as it can be.

Blocks stand: an excluded option cannot be chosen. An option that accepted practice advises against can, and the
framework then carries the reason among its cautions.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.frameworks.assemble import finished
from recommender.advice.frameworks.candidates import gather
from recommender.advice.frameworks.rules.book import book
from recommender.advice.frameworks.rules.choosing import Accepted
from recommender.advice.frameworks.solve import best
from recommender.advice.indirect_retainers import indirect_seats
from recommender.advice.model import USABLE, Check, Decision, DecisionResult, Framework, OptionResult
from recommender.domain.statement import Choice, Name, Statement, Word, say, several

AGAINST_ADVICE = "frameworks.chosen_against_advice"


class ChoiceError(ValueError):
    """A choice that cannot be made; ``statement`` says why."""

    def __init__(self, statement: Statement) -> None:
        self.statement = statement
        super().__init__(statement.code)


def framework_around(analysis: CaseAnalysis, choices: Mapping[Decision, str]) -> Framework:
    """The best framework that keeps every choice.

    Raises ``ChoiceError`` for an option that the decision does not know, that is excluded or that cannot be made, and
    where no framework can hold all the choices together.
    """
    results = {decision: analysis.decide(decision) for decision in analysis.decisions()}
    leading = dict(results)
    against: list[Statement] = []
    rests: dict[int, str] = {}
    for decision, identifier in choices.items():
        if decision not in results:
            raise ChoiceError(say("choice.no_decision", decision=decision))
        if decision.kind == "rest":
            held = choices.get(Decision("retainer", decision.tooth))
            ranked = analysis.rest_for(decision.tooth, held) if held else results[decision]
            rests[decision.tooth] = _option(ranked, identifier).option
            continue
        option = _option(results[decision], identifier)
        if option.status == "advised_against":
            against += [
                say(
                    AGAINST_ADVICE,
                    rule=block.id,
                    source=block.source,
                    decision=decision,
                    option=Choice(decision.kind, identifier),
                    why=block.statement,
                )
                for block in option.blocked_by
            ]
        results[decision] = replace(results[decision], ranked=(_made_usable(option),))
    seats = indirect_seats(analysis.engine, analysis.facts)
    stock = gather(analysis, results, seats, rests, leading)
    for decision, identifier in choices.items():
        why = stock.unbuilt.get((decision.tooth, identifier))
        if decision.kind == "retainer" and why is not None and not stock.retainers.get(decision.tooth):
            said = say(f"departs.unbuilt_{why.reason}", at=Word("surface", why.at) if why.at else None)
            option_ = Choice("retainer", identifier)
            raise ChoiceError(say("choice.excluded", option=option_, decision=decision, why=said))
    rules = book(stock.figures)
    found = best(stock, rules, 1)
    if not found:
        raise ChoiceError(say("choice.not_together"))
    built = finished(found[0].choice, analysis.engine.knowledge.catalogue, rules)
    return replace(
        built,
        checks=_checks(built.checks, against),
        cautions=tuple(dict.fromkeys((*against, *built.cautions))),
    )


def _checks(checks: Sequence[Check], against: Sequence[Statement]) -> tuple[Check, ...]:
    """What was chosen against advice is built in as if nothing spoke against it, for a designer may have a reason; the
    rule against it is not kept all the same."""
    if not against:
        return tuple(checks)
    what = say("check", rule=Accepted.id, what=say(f"between_parts.{Accepted.id}"), detail=several(against))
    return tuple(
        replace(check, outcome="failed", statement=what) if check.id == Accepted.id else check
        for check in checks
    )


def _option(result: DecisionResult, identifier: str) -> OptionResult:
    """The option; ``ChoiceError`` where it is unknown or excluded."""
    try:
        option = result.option(identifier)
    except KeyError:
        raise ChoiceError(
            say("choice.no_option", option=Name(identifier), decision=result.decision)
        ) from None
    if option.status == "excluded":
        why = several(block.statement for block in option.blocked_by)
        option_ = Choice(result.decision.kind, identifier)
        raise ChoiceError(say("choice.excluded", option=option_, decision=result.decision, why=why))
    return option


def _made_usable(option: OptionResult) -> OptionResult:
    """An option that may be built in: one that is advised against counts as what it is without that advice."""
    if option.status in USABLE:
        return option
    return replace(option, status="needs_preparation" if option.unlocked_by else "open")
