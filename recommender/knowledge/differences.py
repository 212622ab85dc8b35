"""How two sets of rules, weights and figures differ: what a draft changes."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from recommender.knowledge.figures.files import FILES, Figures
from recommender.knowledge.model import Knowledge


@dataclass(frozen=True, slots=True)
class Differences:
    """How two rule sets differ: ids of rules, weights as (decision, criterion, before, after), shifts, and figures as
    (file, path, before, after)."""

    added: tuple[str, ...]
    removed: tuple[str, ...]
    changed: tuple[str, ...]
    weights: tuple[tuple[str, str, float, float], ...]
    shifts: bool
    figures: tuple[tuple[str, str, object, object], ...] = ()

    @property
    def none(self) -> bool:
        """Whether the two judge alike."""
        return not (self.added or self.removed or self.changed or self.weights or self.shifts or self.figures)


def differences(before: Knowledge, after: Knowledge) -> Differences:
    """What the second changes about the first; where a rule stands in its file makes no difference."""
    old, new = ({rule.id: _bare(rule) for rule in known.rules} for known in (before, after))
    weights = []
    for decision in sorted({*before.criteria.base, *after.criteria.base}):
        here, there = before.criteria.base.get(decision, {}), after.criteria.base.get(decision, {})
        for name in sorted({*here, *there}):
            if here.get(name, 0.0) != there.get(name, 0.0):
                weights.append((decision, name, float(here.get(name, 0.0)), float(there.get(name, 0.0))))
    return Differences(
        tuple(sorted(set(new) - set(old))),
        tuple(sorted(set(old) - set(new))),
        tuple(sorted(name for name in set(old) & set(new) if old[name] != new[name])),
        tuple(weights),
        _shifts(before) != _shifts(after),
        tuple(_figure_changes(before.figures, after.figures)),
    )


def _figure_changes(before: Figures, after: Figures) -> Iterator[tuple[str, str, object, object]]:
    if before is after:
        return
    for part, (name, _) in FILES.items():
        old, new = (dict(_leaves(getattr(each, part).model_dump(), "")) for each in (before, after))
        for path in sorted({*old, *new}):
            if old.get(path) != new.get(path):
                yield name, path, old.get(path), new.get(path)


def _leaves(value: Any, path: str) -> Iterator[tuple[str, Any]]:
    """The plain values of a file by path; a list of plain values is one."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _leaves(inner, f"{path}.{key}" if path else str(key))
    elif isinstance(value, list) and any(isinstance(item, (dict, list)) for item in value):
        for index, inner in enumerate(value):
            yield from _leaves(inner, f"{path}[#{index + 1}]")
    else:
        yield path, value


def _bare(rule: Any) -> Any:
    # a condition is compared by its text: the same text is the same condition
    return replace(rule, place="", when=None), rule.when.text


def _shifts(known: Knowledge) -> list[tuple[str, str, float]]:
    return [(shift.criterion, shift.when.text, shift.add) for shift in known.criteria.shifts]
