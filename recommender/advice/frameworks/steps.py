"""What framework rules say of a framework that was put together: cautions, and steps for the bench."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from recommender.advice.frameworks.candidates import figures, framework_scope
from recommender.advice.frameworks.rules.bearing import lever_of
from recommender.advice.frameworks.rules.holding import balance_of
from recommender.advice.frameworks.whole import Whole
from recommender.advice.model import OptionResult
from recommender.domain.dentition import side_of
from recommender.domain.statement import Statement

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis
    from recommender.knowledge.model import Rule


def cautions_of(
    analysis: "CaseAnalysis", whole: Whole, chosen: Iterable[OptionResult], preparations: int
) -> tuple[Statement, ...]:
    """Cautions of the parts, and the faults that framework rules find and no check tells already."""
    said = dict.fromkeys(caution for result in chosen for caution in result.cautions)
    told = {rule for rules in figures()["told_by"].values() for rule in rules}
    for rule in _fired(analysis, whole, preparations):
        if rule.effect in ("caution", "discourages", "blocks") and rule.id not in told:
            said[rule.statement] = None
    return tuple(said)


def steps_of(analysis: "CaseAnalysis", whole: Whole, preparations: int) -> tuple[Statement, ...]:
    """Bench steps that follow from the framework as a whole."""
    return tuple(
        dict.fromkeys(rule.statement for rule in _fired(analysis, whole, preparations) if rule.effect == "step")
    )


def _fired(analysis: "CaseAnalysis", whole: Whole, preparations: int) -> list["Rule"]:
    held = whole.retentive
    values: dict[str, bool | int | float | str] = {
        "framework.rest_count": len([rest for rest in whole.rests.values() if rest != "none"]),
        "framework.retainer_count": len(held),
        "framework.retained_sides": len({side_of(part.tooth) for part in held}),
        "framework.indirect_count": len(whole.seats),
        "framework.preparation_count": preparations,
        "framework.connector": whole.connector.id,
        "framework.cross_arch": "one_sided" not in whole.connector.parts,
    }
    if whole.alloy:
        values["framework.alloy"] = whole.alloy
    balance = balance_of(held)
    if balance is not None:
        values["framework.force_balance"] = balance
    levers = [lever for seat in whole.seats if (lever := lever_of(analysis, whole, seat)) is not None]
    if levers:
        values["framework.indirect_lever_mm"] = max(levers)
    scope = framework_scope(analysis, values)
    return [rule for rule in analysis.engine.rule_set("framework").rules if rule.when.evaluate(scope)]
