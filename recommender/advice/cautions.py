"""Warnings that cannot be switched off, and questions that go back to the dentist."""

import re
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from recommender.domain.fields import asked_in_vain
from recommender.domain.statement import Statement, Word, say, several, teeth
from recommender.facts.values import Scope
from recommender.knowledge.model import Rule

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis

_TOOTH = re.compile(r"abutments\[(\d+)\]")


def _scopes(analysis: "CaseAnalysis", rule: Rule) -> list[tuple[int, Scope]]:
    """Where a rule speaks: the case (0), or each tooth or space in turn."""
    facts = analysis.facts
    if rule.decision in ("case", "connector", "framework"):
        return [(0, facts.case_scope)]
    if rule.decision == "replacement":
        return [(tooth, facts.space(tooth)) for space in facts.spaces for tooth in space.teeth]
    return [(tooth, facts.toward(tooth, facts.approaches(tooth)[0])) for tooth in facts.considered]


def _spoken(analysis: "CaseAnalysis", effect: str) -> tuple[Statement, ...]:
    said: dict[Statement, None] = {}
    for rule in analysis.engine.knowledge.rules:
        # A rule that names options speaks when its option is looked at, not of the case as a whole.
        if rule.effect != effect or rule.stage == "framework" or rule.options:
            continue
        for where, scope in _scopes(analysis, rule):
            if not rule.when.evaluate(scope):
                continue
            in_vain = _asked_in_vain(analysis, rule, scope)
            if in_vain and effect == "question" and not any(map(_dangerous(analysis), in_vain)):
                continue  # nobody can answer it
            what = said_of((where,) if where else _teeth_of(rule, scope), rule)
            named = _allergens(analysis, rule) if effect == "caution" else []
            if named:
                what = say(
                    "said_of_allergy", rule=rule.id, source=rule.source, what=rule.statement,
                    allergens=several((Word("allergen", one) for one in named), "and"),
                )  # fmt: skip
            said[say("asked_in_vain", rule=rule.id, source=rule.source, what=what) if in_vain else what] = (
                None
            )
    return tuple(said)


def _asked_in_vain(analysis: "CaseAnalysis", rule: Rule, scope: Scope) -> list[str]:
    """The fields for want of which a rule speaks, where all of them were asked and cannot be had; else none."""
    wanted = [path for fact in rule.when.reasons(scope).values() for path in fact.gaps]
    return wanted if all(asked_in_vain(analysis.case, path) for path in wanted) else []


def _allergens(analysis: "CaseAnalysis", rule: Rule) -> list[str]:
    """The recorded allergens of which a rule speaks."""
    patient = analysis.case.patient
    asked = re.findall(r"[\w.]+", str(rule.when))
    return [one for one in (patient and patient.allergy) or () if "patient.allergy" in asked and one in asked]


def _dangerous(analysis: "CaseAnalysis") -> Callable[[str], bool]:
    return analysis.engine.knowledge.registry.is_dangerous


def said_of(numbers: Sequence[int], rule: Rule) -> Statement:
    """What a rule says of some teeth; of the whole where none is named."""
    if not numbers:
        return rule.statement
    return say("said_of_teeth", rule=rule.id, source=rule.source, teeth=teeth(numbers), what=rule.statement)


def _teeth_of(rule: Rule, scope: Scope) -> tuple[int, ...]:
    """The teeth that a rule over several teeth speaks of; none where it speaks of the whole."""
    paths = (path for fact in rule.when.reasons(scope).values() for path in fact.fields)
    return tuple(sorted({int(found[1]) for path in paths if (found := _TOOTH.match(path))}))


def cautions_of(analysis: "CaseAnalysis") -> tuple[Statement, ...]:
    """Every caution whose condition holds, in file order."""
    return _spoken(analysis, "caution")


def questions_of(analysis: "CaseAnalysis") -> tuple[Statement, ...]:
    """Every question that the case raises, and those of the classification."""
    asked = tuple(question.statement for question in analysis.facts.classification.questions)
    return asked + _spoken(analysis, "question")
