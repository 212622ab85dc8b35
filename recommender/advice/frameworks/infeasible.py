"""Where no framework can be made: the reasons, and the nearest ways out."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

from recommender.advice.frameworks.candidates import Parts, figures
from recommender.advice.model import Decision, DecisionResult, NoFramework, OptionResult

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


def no_framework(
    analysis: "CaseAnalysis",
    results: Mapping[Decision, DecisionResult],
    parts: Parts,
    *,
    unsolved: bool = False,
) -> NoFramework | None:
    """Why nothing can be made, or ``None`` where something can.

    No tooth can carry a part, every frame alloy is barred, or every connector is excluded. ``unsolved`` is for
    parts of which no set stands together.
    """
    words = figures()["no_framework"]
    reasons: list[str] = []
    ways: list[str] = []
    carrying = any(part.option.id != "none" for options in parts.retainers.values() for part in options)
    if not carrying:
        reasons += [words["no_carrier"], *_tooth_reasons(analysis, results)]
        ways += [*_nearest(analysis, results), words["ways_out"]["no_carrier"]]
    if parts.alloy is None:
        reasons += [words["no_alloy"], *parts.alloy_blocks.values()]
        ways.append(words["ways_out"]["no_alloy"])
    if not parts.connectors:
        ranked = results[Decision("connector")].ranked
        reasons += [words["no_connector"], *(f"{o.option.replace('_', ' ')}: {_blocks(o)}" for o in ranked)]
        ways.append(words["ways_out"]["no_connector"])
    if unsolved and not reasons:
        reasons.append(words["none_standing_apart"])
        ways += [*_nearest(analysis, results), words["ways_out"]["no_connector"]]
    if not reasons:
        return None
    return NoFramework(tuple(dict.fromkeys(reasons)), tuple(dict.fromkeys(ways)))


def _blocks(option: OptionResult) -> str:
    return " ".join(block.text for block in option.blocked_by)


def _tooth_reasons(analysis: "CaseAnalysis", results: Mapping[Decision, DecisionResult]) -> list[str]:
    """What bars each tooth, told once: the blocks that all its assemblies share, else those of the plainest."""
    found = []
    for decision, result in results.items():
        if decision.kind == "retainer":
            barred = [option for option in result.ranked if option.option != "none"]
            shared = set.intersection(*({block.id for block in option.blocked_by} for option in barred))
            plain = result.option("rest_only")
            texts = [b.text for b in plain.blocked_by if not shared or b.id in shared]
            found.append(f"{decision.tooth}: {' '.join(texts)}")
    return found


def _nearest(analysis: "CaseAnalysis", results: Mapping[Decision, DecisionResult]) -> list[str]:
    """The part with the fewest blocks standing in its way, and the leave that would remove them if any would."""
    words = figures()["no_framework"]["ways_out"]
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
    label = analysis.engine.knowledge.catalogue.options["retainer"][option.option].label
    part = f"{tooth} {label}"
    ways = [words["block"].format(part=part, reasons=_blocks(option))]
    steps = [step for block in option.blocked_by if block.kind != "safety" for step in block.unlocked_by]
    if steps and all(block.unlocked_by for block in option.blocked_by):
        work = ", ".join(f"{step.action.replace('_', ' ')} {step.surface}" for step in steps)
        ways.append(words["permission"].format(preparation=work, part=part))
    return ways
