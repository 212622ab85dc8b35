"""Criteria of a draft: the same shape as ``shared/criteria.yaml``, every fault told with its place.

The packaged file is trusted to have its shape (``load.read_criteria``); a draft is written by a person.
"""

from collections.abc import Mapping
from typing import Any, TypeGuard

from recommender.domain.errors import Problem, did_you_mean, shown
from recommender.knowledge.conditions import Condition, ConditionError, parse
from recommender.knowledge.load import RuleDocument
from recommender.knowledge.model import NO_SOURCE, Criteria, CriterionShift
from recommender.knowledge.registry import Registry, visible_scopes

MOST_WEIGHT = 1000.0
MOST_SHIFT = 100.0


class CriteriaReader:
    """Reads one criteria document; ``problems`` grows with everything that is wrong."""

    def __init__(
        self, document: RuleDocument, registry: Registry, decisions: frozenset[str], problems: list[Problem]
    ) -> None:
        self.document = document
        self.registry = registry
        self.decisions = decisions
        self.problems = problems
        self.labels: dict[str, str] = {}

    def bad(self, path: tuple[str | int, ...], found: str, allowed: str, hint: str = "") -> None:
        field = ".".join(f"#{step + 1}" if isinstance(step, int) else str(step) for step in path)
        self.problems.append(Problem(self.document.at(path), field, found, allowed, hint))

    def read(self) -> Criteria | None:
        """The criteria, or ``None`` where anything is wrong."""
        before = len(self.problems)
        value = self.document.value
        if not isinstance(value, dict):
            self.bad((), shown(value), "format: 1, criteria, base and shifts")
            return None
        if value.get("format") != 1:
            self.bad(("format",), shown(value.get("format")), "1")
        for key in value:
            if key not in ("format", "criteria", "base", "shifts"):
                self.bad((key,), key, "format | criteria | base | shifts")
        definitions = self._criteria(value.get("criteria"))
        base = self._base(value.get("base"))
        shifts = self._shifts(value.get("shifts", []))
        if len(self.problems) > before:
            return None
        return Criteria(self.labels, base, tuple(shifts), definitions)

    def _criteria(self, listed: Any) -> dict[str, str]:
        definitions: dict[str, str] = {}
        if not isinstance(listed, list) or not listed:
            self.bad(("criteria",), shown(listed), "a list of criteria, each with id, label and definition")
            return definitions
        for index, entry in enumerate(listed):
            path: tuple[str | int, ...] = ("criteria", index)
            if not isinstance(entry, dict) or not isinstance(entry.get("id"), str):
                self.bad(path, shown(entry), "a criterion: id, label and definition")
                continue
            name, label = entry["id"], entry.get("label")
            if name in self.labels:
                self.bad((*path, "id"), name, "an id used once")
            if not isinstance(label, str) or not label.strip():
                self.bad((*path, "label"), shown(label), "a label in words")
            self.labels[name] = str(label)
            definitions[name] = str(entry.get("definition") or "")
        return definitions

    def _base(self, listed: Any) -> Mapping[str, Mapping[str, float]]:
        found: dict[str, dict[str, float]] = {}
        if not isinstance(listed, dict):
            self.bad(("base",), shown(listed), "the weights of each decision")
            return found
        lacking = sorted(self.decisions - set(listed))
        if lacking:
            self.bad(("base",), "no weights for " + ", ".join(lacking), " | ".join(sorted(self.decisions)))
        for decision, weights in listed.items():
            path = ("base", decision)
            if decision not in self.decisions:
                self.bad(path, str(decision), " | ".join(sorted(self.decisions)))
            if not isinstance(weights, dict):
                self.bad(path, shown(weights), "criterion: weight, for each that counts here")
                continue
            found[decision] = {name: self._weight((*path, name), name, weights[name]) for name in weights}
            if not any(weight > 0 for weight in found[decision].values()):
                self.bad(path, "no weight above 0", "at least one criterion that counts")
        return found

    def _weight(self, path: tuple[str | int, ...], name: Any, weight: Any) -> float:
        if name not in self.labels:
            self.bad(path, shown(name), " | ".join(self.labels), did_you_mean(name, list(self.labels)))
        if not _number(weight) or not 0 <= weight <= MOST_WEIGHT:
            self.bad(path, shown(weight), f"a number from 0 to {MOST_WEIGHT:g}")
            return 0.0
        return float(weight)

    def _shifts(self, listed: Any) -> list[CriterionShift]:
        found: list[CriterionShift] = []
        if not isinstance(listed, list):
            self.bad(("shifts",), shown(listed), "a list of shifts")
            return found
        for index, entry in enumerate(listed):
            path: tuple[str | int, ...] = ("shifts", index)
            if not isinstance(entry, dict):
                self.bad(path, shown(entry), "a shift: criterion, when, add, why, source")
                continue
            name, add, why = entry.get("criterion"), entry.get("add"), entry.get("why")
            if name not in self.labels:
                self.bad(
                    (*path, "criterion"), shown(name), " | ".join(self.labels),
                    did_you_mean(name, list(self.labels)),
                )  # fmt: skip
            if not _number(add) or not -MOST_SHIFT <= add <= MOST_SHIFT:
                self.bad((*path, "add"), shown(add), f"a number from {-MOST_SHIFT:g} to {MOST_SHIFT:g}")
                add = 0.0
            if not isinstance(why, str) or not why.strip():
                self.bad((*path, "why"), shown(why), "a sentence")
            source = entry.get("source", NO_SOURCE)
            if not isinstance(source, str) or not source.strip():
                self.bad((*path, "source"), shown(source), f'a full citation, or "{NO_SOURCE}"')
            when = self._when((*path, "when"), entry.get("when"))
            if when is not None:
                found.append(CriterionShift(str(name), when, float(add), str(why), str(source)))
        return found

    def _when(self, path: tuple[str | int, ...], text: Any) -> Condition | None:
        if not isinstance(text, str):
            self.bad(path, shown(text), "a condition as text")
            return None
        try:
            when = parse(text)
        except ConditionError as error:
            self.bad(path, str(error), "a condition as in shared/rules/README.md")
            return None
        for complaint in self.registry.complaints(when, visible_scopes("case", "case")):
            self.bad(path, complaint.message, " | ".join(complaint.allowed) or "facts of the case")
        return when


def _number(value: Any) -> TypeGuard[float]:
    return isinstance(value, (int, float)) and not isinstance(value, bool)
