"""A whole framework around choices that a designer has made: the rest is filled in as well as it can be.

Blocks stand: an excluded option cannot be chosen. An option that accepted practice advises against can, and the
framework then carries the reason among its cautions.
"""

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, cast

from recommender.advice.frameworks.assemble import _built, wanted_of
from recommender.advice.frameworks.candidates import USABLE, gather
from recommender.advice.frameworks.solve import best
from recommender.advice.indirect_retainers import indirect_seats
from recommender.advice.model import Decision, DecisionResult, Framework, OptionResult
from recommender.domain.statement import Choice, Name, Statement, say, several

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


class ChoiceError(ValueError):
    """A choice that cannot be made; ``statement`` says why."""

    def __init__(self, statement: Statement) -> None:
        self.statement = statement
        super().__init__(statement.code)


class _Chosen:
    """A case analysis in which the rests of some teeth are settled; everything else is the analysis's own."""

    def __init__(self, analysis: "CaseAnalysis", rests: Mapping[int, str]) -> None:
        self._analysis = analysis
        self._rests = rests

    def __getattr__(self, name: str) -> object:
        return getattr(self._analysis, name)

    def best_rest(self, tooth: int, assembly: str) -> str | None:
        """As ``CaseAnalysis.best_rest``; the chosen rest where there is one. Raises ``ChoiceError``."""
        if tooth not in self._rests:
            return self._analysis.best_rest(tooth, assembly)
        return _option(self._analysis.rest_for(tooth, assembly), self._rests[tooth]).option


def framework_around(analysis: "CaseAnalysis", choices: Mapping[Decision, str]) -> Framework:
    """The best framework that keeps every choice.

    Raises ``ChoiceError`` for an option that the decision does not know or that is excluded, and where no
    framework can hold all the choices together.
    """
    results = {decision: analysis.decide(decision) for decision in analysis.decisions()}
    against: list[Statement] = []
    for decision, identifier in choices.items():
        if decision not in results:
            raise ChoiceError(say("choice.no_decision", decision=decision))
        if decision.kind == "rest":
            continue  # judged for the assembly that the framework carries there
        option = _option(results[decision], identifier)
        if option.status == "advised_against":
            against += [
                say(
                    "frameworks.chosen_against_advice",
                    rule=block.id,
                    source=block.source,
                    decision=decision,
                    option=Choice(decision.kind, identifier),
                    why=block.statement,
                )
                for block in option.blocked_by
            ]
        results[decision] = replace(results[decision], ranked=(_made_usable(option),))
    rests = {decision.tooth: option for decision, option in choices.items() if decision.kind == "rest"}
    held = cast("CaseAnalysis", _Chosen(analysis, rests))
    seats = indirect_seats(analysis.engine, analysis.facts)
    parts = gather(held, results, seats)
    wanted = wanted_of(held, parts)
    found = best(parts, wanted, 1)
    if not found:
        raise ChoiceError(say("choice.not_together"))
    built = _built(held, parts, wanted, found[0])
    return replace(built, cautions=tuple(dict.fromkeys((*against, *built.cautions))))


def _option(result: DecisionResult, identifier: str) -> OptionResult:
    """The option; ``ChoiceError`` where it is unknown or excluded."""
    try:
        option = result.option(identifier)
    except KeyError:
        raise ChoiceError(say("choice.no_option", option=Name(identifier), decision=result.decision)) from None
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
