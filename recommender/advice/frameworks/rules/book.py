"""All rules between parts: the entries of ``shared/frameworks.yaml`` with the classes that read them."""

from collections.abc import Sequence

from recommender.advice.frameworks.rules.base import BetweenParts
from recommender.advice.frameworks.rules.bearing import BEARING
from recommender.advice.frameworks.rules.choosing import CHOOSING
from recommender.advice.frameworks.rules.evenness import EVENNESS
from recommender.advice.frameworks.rules.holding import HOLDING
from recommender.advice.frameworks.rules.meeting import MEETING
from recommender.advice.frameworks.rules.metal import METAL
from recommender.advice.frameworks.whole import Whole
from recommender.advice.model import Check
from recommender.domain.errors import CaseError, Problem
from recommender.domain.statement import say, several
from recommender.knowledge.figures.frameworks import FrameworkFigures

RULES: tuple[type[BetweenParts], ...] = (*METAL, *HOLDING, *EVENNESS, *BEARING, *MEETING, *CHOOSING)


def book(figures: FrameworkFigures, rules: Sequence[type[BetweenParts]] = RULES) -> tuple[BetweenParts, ...]:
    """Every rule with its entry, in the order of the file.

    ``CaseError`` for an entry that no class reads, a class without an entry, and a figure that is lacking or
    that nothing reads.
    """
    classes = {rule.id: rule for rule in rules}
    problems = [
        _problem(name, "an entry that nothing reads", " | ".join(classes))
        for name in figures.rules
        if name not in classes
    ]
    problems += [
        _problem(name, "no entry", "an entry for every rule") for name in classes if name not in figures.rules
    ]
    for name, entry in figures.rules.items():
        reads = classes[name].reads if name in classes else ()
        problems += [
            _problem(f"{name}.figures", figure, " | ".join(reads))
            for figure in entry.figures
            if figure not in reads
        ]
        problems += [
            _problem(f"{name}.figures", "not given", figure)
            for figure in reads
            if figure not in entry.figures
        ]
    if problems:
        raise CaseError(problems, "frameworks.yaml")
    return tuple(classes[name](entry) for name, entry in figures.rules.items())


def _problem(field: str, found: str, allowed: str) -> Problem:
    return Problem("shared/frameworks.yaml", f"rules.{field}", found, allowed)


def checks_of(whole: Whole, rules: Sequence[BetweenParts]) -> tuple[Check, ...]:
    """Every rule with what it finds on a finished framework."""
    found = []
    for rule in rules:
        told = rule.tell(whole)
        said = say("check", rule=rule.id, what=say(f"between_parts.{rule.id}"), detail=several(told.said))
        found.append(Check(rule.id, told.outcome, said, rule.entry.source))
    return tuple(found)
