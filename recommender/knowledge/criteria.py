"""``criteria.yaml``, packaged or of a draft: criteria, base weights and what shifts them."""

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from recommender.domain.errors import Problem, did_you_mean
from recommender.domain.measures import Record
from recommender.domain.validation import At, Issue, as_problems, read_model
from recommender.knowledge.conditions import ConditionError, parse
from recommender.knowledge.model import NO_SOURCE, Criteria, CriterionShift
from recommender.knowledge.registry import Registry, visible_scopes

Sentence = Annotated[str, Field(pattern=r"\S", max_length=5000, description="a sentence")]
Weight = Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]


class CriterionEntry(Record):
    id: Annotated[str, Field(min_length=1, max_length=80)]
    label: Annotated[str, Field(pattern=r"\S", max_length=200, description="a label in words")]
    definition: str = ""


class ShiftEntry(Record):
    criterion: str
    when: str
    add: Annotated[float, Field(ge=-100, le=100, allow_inf_nan=False)]
    why: Sentence
    source: Sentence = NO_SOURCE
    found: Literal["page", "memory", "common_practice"] | None = None


class CriteriaFile(Record):
    """The file as it is written; what its parts say of each other is checked by ``read_criteria``."""

    format: Literal[1]
    criteria: Annotated[list[CriterionEntry], Field(min_length=1)]
    base: dict[str, dict[str, Weight]]
    shifts: list[ShiftEntry] | None = None


def read_criteria(
    value: Any, at: At, registry: Registry, decisions: frozenset[str], problems: list[Problem]
) -> Criteria | None:
    """The criteria, or ``None``; everything wrong is added to ``problems``.

    ``decisions`` are those that need weights.
    """
    file = read_model(CriteriaFile, value, at, problems)
    if file is None:
        return None
    issues = list(_issues(file, registry, decisions))
    problems.extend(as_problems(issues, value, at))
    if issues:
        return None
    labels = {entry.id: entry.label for entry in file.criteria}
    shifts = tuple(
        CriterionShift(shift.criterion, parse(shift.when), shift.add, shift.why, shift.source)
        for shift in file.shifts or ()
    )
    return Criteria(labels, file.base, shifts, {entry.id: entry.definition for entry in file.criteria})


def _issues(file: CriteriaFile, registry: Registry, decisions: frozenset[str]) -> Iterator[Issue]:
    labels: dict[str, str] = {}
    for index, entry in enumerate(file.criteria):
        if entry.id in labels:
            yield Issue(("criteria", index, "id"), "an id used once")
        labels[entry.id] = entry.label
    lacking = sorted(decisions - set(file.base))
    if lacking:
        found = "no weights for " + ", ".join(lacking)
        yield Issue(("base",), " | ".join(sorted(decisions)), found=found)
    for decision, weights in file.base.items():
        if decision not in decisions:
            yield Issue(("base", decision), " | ".join(sorted(decisions)), found=decision, key=True)
        yield from (
            Issue(("base", decision, name), " | ".join(labels), did_you_mean(name, tuple(labels)), name, True)
            for name in weights
            if name not in labels
        )
        if not any(weight > 0 for weight in weights.values()):
            allowed = "at least one criterion that counts"
            yield Issue(("base", decision), allowed, found="no weight above 0")
    for index, shift in enumerate(file.shifts or ()):
        yield from _shift_issues(index, shift, labels, registry)


def _shift_issues(
    index: int, shift: ShiftEntry, labels: Mapping[str, str], registry: Registry
) -> Iterator[Issue]:
    path = ("shifts", index)
    if shift.criterion not in labels:
        close = did_you_mean(shift.criterion, tuple(labels))
        yield Issue((*path, "criterion"), " | ".join(labels), close)
    try:
        when = parse(shift.when)
    except ConditionError as error:
        yield Issue((*path, "when"), "a condition as in shared/rules/README.md", found=str(error))
        return
    for complaint in registry.complaints(when, visible_scopes("case", "case")):
        allowed = " | ".join(complaint.allowed) or "facts of the case"
        yield Issue((*path, "when"), allowed, found=complaint.message)
