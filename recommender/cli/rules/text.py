"""How rules are shown by the ``rules`` verb: as tables for people, as documents for programs."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from recommender.cli import output

if TYPE_CHECKING:
    from recommender.knowledge.model import Rule
    from recommender.knowledge.queries import RuleLine
    from recommender.knowledge.registry import FactSpec


def table_of(title: str, *columns: str, whole: bool = True) -> Any:
    """A table for people; the first column is never broken over lines where ``whole``."""
    from rich.table import Table

    table = Table(title=title, title_justify="left", header_style="bold", show_lines=False)
    for index, column in enumerate(columns):
        table.add_column(column, overflow="fold", no_wrap=whole and index == 0)
    return table


def points_of(points: float) -> str:
    return f"{points:+g}" if points else ""


def few(names: tuple[str, ...]) -> str:
    return ", ".join(names[:4]) + (
        (" " + output.told("rulebook.more", names=len(names) - 4)) if len(names) > 4 else ""
    )


def effect_of(rule: "Rule | RuleLine") -> str:
    kind = f" ({rule.block.replace('_', ' ')})" if rule.block else ""
    return (
        output.told("rulebook.effect_disputed", effect=rule.effect + kind)
        if rule.disputed
        else rule.effect + kind
    )


def rule_document(rule: "Rule") -> dict[str, Any]:
    return {
        "format": 1,
        "id": rule.id,
        "stage": rule.stage,
        "decision": rule.decision,
        "options": list(rule.options),
        "families": list(rule.families),
        "when": rule.when.text,
        "facts": sorted(rule.when.facts),
        "effect": rule.effect,
        "block": rule.block,
        "unlocked_by": [{"action": each.action, "surface": each.surface} for each in rule.unlocked_by],
        "preparation": None
        if rule.preparation is None
        else {"action": rule.preparation.action, "surface": rule.preparation.surface},
        "criterion": rule.criterion or None,
        "points": rule.points,
        "why": rule.why,
        "source": rule.source,
        "found": rule.found,
        "disputed": rule.disputed,
        "place": rule.place,
    }


def print_lines(title: str, lines: Iterable["RuleLine"]) -> None:
    table = table_of(title, "rule", "effect", "why")
    for line in lines:
        points = f"{points_of(line.points)} {line.criterion}".strip()
        reasons = [line.why, f"When: {line.condition}", f"Source: {line.source}"]
        if line.disputed:
            reasons.insert(1, f"Disputed: {line.disputed}")
        table.add_row(line.id, f"{effect_of(line)}\n{points}", "\n".join(reasons))
        table.add_section()
    output.console().print(table)


def line_document(option: str, line: "RuleLine") -> dict[str, Any]:
    from dataclasses import asdict

    return {"format": 1, "option": option, **asdict(line)}


def possible(spec: "FactSpec") -> str:
    """What a fact can be, in words."""
    return " | ".join(spec.values) or {"bool": "true | false"}.get(
        spec.type, f"{spec.type} {spec.unit}".strip()
    )
