"""The alloy of the frame, and the scope in which rules on whole frameworks are read."""

from collections.abc import Mapping

from recommender.advice.analysis import CaseAnalysis
from recommender.domain.statement import Statement
from recommender.facts.values import Scope, known


def frame_alloy(analysis: CaseAnalysis) -> tuple[str | None, dict[str, Statement]]:
    """The alloy of the frame: the prescribed one, else the first that no rule blocks; and what blocks the others."""
    prescription = analysis.case.prescription
    figures = analysis.engine.knowledge.figures.frameworks
    order = list(figures.frame_alloys)
    if prescription and prescription.alloy in [*order, *figures.frame_alloys_on_prescription]:
        order.insert(0, prescription.alloy)
    blocks: dict[str, Statement] = {}
    for alloy in order:
        held = alloy_blocks(analysis, alloy)
        if not held:
            return alloy, blocks
        blocks[alloy] = held[0]
    return None, blocks


def alloy_blocks(analysis: CaseAnalysis, alloy: str) -> tuple[Statement, ...]:
    """Why a frame should not be made of this alloy in this case; empty where nothing recorded speaks against it."""
    scope = framework_scope(analysis.facts.case_scope, {"framework.alloy": alloy})
    return tuple(
        rule.statement
        for rule in analysis.engine.rule_set("framework").rules
        if rule.effect == "blocks" and "framework.alloy" in rule.when.facts and rule.when.evaluate(scope)
    )


def framework_scope(case: Scope, values: Mapping[str, bool | int | float | str]) -> Scope:
    """The scope of rules on a whole framework: the case, and facts of the framework in hand."""
    return case.extended({name: known(value, "design") for name, value in values.items()})
