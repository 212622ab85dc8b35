"""Warnings that cannot be switched off, and questions that go back to the dentist."""

import re
from typing import TYPE_CHECKING

from recommender.facts.values import Scope
from recommender.knowledge.model import Rule

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis

_TOOTH = re.compile(r"abutments\[(\d+)\]")


def _scopes(analysis: "CaseAnalysis", rule: Rule) -> list[tuple[str, Scope]]:
    """Where a rule speaks: the case, or each tooth or space in turn, with words for where that is."""
    facts = analysis.facts
    if rule.decision in ("case", "connector", "framework"):
        return [("", facts.case_scope)]
    if rule.decision == "replacement":
        return [(f"{tooth}: ", facts.space(tooth)) for space in facts.spaces for tooth in space.teeth]
    return [(f"{tooth}: ", facts.toward(tooth, facts.approaches(tooth)[0])) for tooth in facts.considered]


def _spoken(analysis: "CaseAnalysis", effect: str) -> tuple[str, ...]:
    said: dict[str, None] = {}
    for rule in analysis.engine.knowledge.rules:
        # A rule that names options speaks when its option is looked at, not of the case as a whole.
        if rule.effect != effect or rule.stage == "framework" or rule.options:
            continue
        for where, scope in _scopes(analysis, rule):
            if rule.when.evaluate(scope):
                said[f"{where or _teeth_of(rule, scope)}{rule.why}"] = None
    return tuple(said)


def _teeth_of(rule: Rule, scope: Scope) -> str:
    """The teeth that a rule over several teeth speaks of, as ``14, 25: ``; empty where it speaks of the whole."""
    paths = (path for fact in rule.when.reasons(scope).values() for path in fact.fields)
    teeth = dict.fromkeys(found[1] for path in paths if (found := _TOOTH.match(path)))
    return f"{', '.join(sorted(teeth))}: " if teeth else ""


def cautions_of(analysis: "CaseAnalysis") -> tuple[str, ...]:
    """Every caution whose condition holds, in file order."""
    return _spoken(analysis, "caution")


def questions_of(analysis: "CaseAnalysis") -> tuple[str, ...]:
    """Every question that the case raises, and those of the classification."""
    asked = tuple(question.text for question in analysis.facts.classification.questions)
    return asked + _spoken(analysis, "question")
