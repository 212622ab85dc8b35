"""Where no framework can be made: the reasons, and the nearest ways out."""

from collections.abc import Iterable, Mapping

from recommender.advice.frameworks.parts import Stock
from recommender.advice.model import BlockedBy, Decision, DecisionResult, NoFramework, OptionResult
from recommender.domain.statement import Choice, Several, Statement, say, several
from recommender.domain.statement import tooth as at


def no_framework(
    stock: Stock, results: Mapping[Decision, DecisionResult], *, unsolved: bool = False
) -> NoFramework | None:
    """Why nothing can be made, or ``None`` where something can.

    No tooth can carry a part, every frame alloy is barred, or every connector is excluded. ``unsolved`` is for
    parts of which no set stands together.
    """
    reasons: list[Statement] = []
    ways: list[Statement] = []
    carrying = any(part.option.id != "none" for part in stock.available)
    if not carrying:
        reasons += [say("infeasible.no_carrier"), *_tooth_reasons(results)]
        ways += [*_nearest(results), say("infeasible.refer_teeth")]
    if stock.alloy is None:
        reasons += [say("infeasible.no_alloy"), *stock.alloy_blocks.values()]
        ways.append(say("infeasible.confirm_allergy"))
    if not stock.connectors:
        ranked = results[Decision("connector")].ranked
        reasons += [say("infeasible.no_connector"), *(_barred("connector", option) for option in ranked)]
        ways.append(say("infeasible.refer_reasons"))
    if unsolved and not reasons:
        reasons.append(say("infeasible.none_together"))
        ways += [*_nearest(results), say("infeasible.refer_reasons")]
    if not reasons:
        return None
    return NoFramework(tuple(dict.fromkeys(reasons)), tuple(dict.fromkeys(ways)))


def _blocks(blocks: Iterable[BlockedBy]) -> Several | None:
    return several((block.statement for block in blocks), "space")


def _barred(kind: str, option: OptionResult) -> Statement:
    return say("infeasible.barred", option=Choice(kind, option.option), reasons=_blocks(option.blocked_by))


def _tooth_reasons(results: Mapping[Decision, DecisionResult]) -> list[Statement]:
    """What bars each tooth, told once: the blocks that all its assemblies share, else those of the plainest."""
    found = []
    for decision, result in results.items():
        if decision.kind == "retainer":
            barred = [option for option in result.ranked if option.option != "none"]
            shared = set.intersection(*({block.id for block in option.blocked_by} for option in barred))
            plain = result.option("rest_only")
            held = [block for block in plain.blocked_by if not shared or block.id in shared]
            if held:
                found.append(say("infeasible.tooth", tooth=at(decision.tooth), reasons=_blocks(held)))
    return found


def _nearest(results: Mapping[Decision, DecisionResult]) -> list[Statement]:
    """The part with the fewest blocks standing in its way, and the leave that would remove them if any would."""
    options = [
        (decision.tooth, option)
        for decision, result in results.items()
        if decision.kind == "retainer"
        for option in result.ranked
        if option.option != "none" and option.blocked_by
    ]
    if not options:
        return []
    tooth, option = min(options, key=lambda item: (len(item[1].blocked_by), -item[1].score, item[0]))
    part = Choice("retainer", option.option)
    ways = [say("infeasible.nearest", tooth=at(tooth), option=part, reasons=_blocks(option.blocked_by))]
    steps = [step for block in option.blocked_by if block.kind != "safety" for step in block.unlocked_by]
    if steps and all(block.unlocked_by for block in option.blocked_by):
        work = several((step.work for step in steps), "comma")
        ways.append(say("infeasible.ask_leave", work=work, tooth=at(tooth), option=part))
    return ways
