"""The undo history of a case as it is kept with its working copy: each step as what differs from the next one.

A case has some twenty parts and a change touches one or two of them, so that fifty steps are a few kilobytes.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from recommender.domain.case import Case

MOST_KEPT = 50
Step = tuple[Case, dict[str, Any]]


def packed(case: Case, choices: Mapping[str, Any], steps: Sequence[Step]) -> list[dict[str, Any]]:
    """The last steps, the latest first: parts of the case that were otherwise (``None``: not recorded), and choices."""
    found: list[dict[str, Any]] = []
    now, made = case, dict(choices)
    for before, chosen in reversed(steps[-MOST_KEPT:]):
        names = [name for name in Case.model_fields if getattr(before, name) != getattr(now, name)]
        parts = before.model_dump(mode="json", exclude_none=True, include=set(names))
        step: dict[str, Any] = {"was": {name: parts.get(name) for name in names}}
        if chosen != made:
            step["choices"] = chosen
        found.append(step)
        now, made = before, dict(chosen)
    return found


def unpacked(case: Case, choices: Mapping[str, Any], kept: Sequence[Mapping[str, Any]]) -> list[Step]:
    """The steps again, the oldest first; what cannot be read ends the history there."""
    steps: list[Step] = []
    data, made = case.model_dump(mode="json", exclude_none=True), dict(choices)
    for step in kept:
        try:
            changed = {**data, **step["was"]}
            data = {name: value for name, value in changed.items() if value is not None}
            made = dict(step.get("choices", made))
            steps.append((Case.model_validate(data), made))
        except (ValidationError, KeyError, TypeError, ValueError):
            break
    return steps[::-1]
