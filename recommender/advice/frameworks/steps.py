"""What rules on whole frameworks say of one that was put together: cautions, and steps for the bench."""

from collections.abc import Iterable

from recommender.advice.frameworks.alloy import framework_scope
from recommender.advice.frameworks.rules.bearing import lever_of
from recommender.advice.frameworks.whole import Whole
from recommender.advice.model import OptionResult
from recommender.domain.dentition import side_of
from recommender.domain.statement import Statement, say, teeth
from recommender.knowledge.model import Rule


def cautions_of(whole: Whole, chosen: Iterable[OptionResult]) -> tuple[Statement, ...]:
    """Cautions of the parts, and those of the framework as a whole."""
    said = dict.fromkeys(caution for result in chosen for caution in result.cautions)
    said |= dict.fromkeys(rule.statement for rule in _fired(whole) if rule.effect in ("caution", "blocks"))
    changed = [step.tooth for step in whole.preparation]
    if changed and not whole.stock.prepared_cast:
        said[say("waits_for_survey", teeth=teeth(sorted(changed)))] = None
    return tuple(said)


def steps_of(whole: Whole) -> tuple[Statement, ...]:
    """Bench steps that follow from the framework as a whole."""
    return tuple(dict.fromkeys(rule.statement for rule in _fired(whole) if rule.effect == "step"))


def _fired(whole: Whole) -> list[Rule]:
    held, stock = whole.choice.held, whole.stock
    values: dict[str, bool | int | float | str] = {
        "framework.rest_count": len([rest for rest in whole.rests.values() if rest != "none"]),
        "framework.retainer_count": len(held),
        "framework.retained_sides": len({side_of(part.tooth) for part in held}),
        "framework.indirect_count": len(whole.seats),
        "framework.preparation_count": len(whole.preparation),
        "framework.connector": whole.choice.connector.id,
        "framework.cross_arch": "one_sided" not in whole.choice.connector.parts,
    }
    if stock.alloy:
        values["framework.alloy"] = stock.alloy
    levers = [lever for seat in whole.seats if (lever := lever_of(stock, whole.rests, seat)) is not None]
    if levers:
        values["framework.indirect_lever_mm"] = max(levers)
    scope = framework_scope(stock.scope, values)
    return [rule for rule in stock.rules if rule.when.evaluate(scope)]
