"""Choices, preparations and comparisons in the words of the trade, teeth in the reader's numbering."""

import re
from collections.abc import Iterable, Mapping

from recommender.advice.model import Decision, Framework, PreparationStep
from recommender.domain.case import Case
from recommender.domain.catalogue import load
from recommender.domain.labels import gap_label, word_label
from recommender.domain.numbering import display


def label(kind: str, option: str) -> str:
    """What the catalogue calls an option."""
    found = load().options.get(kind, {}).get(option)
    return found.label if found is not None else option.replace("_", " ")


def item_title(decision: Decision, numbering: str) -> str:
    """``Retainer on 14``, ``Connector``."""
    if not decision.tooth:
        return decision.kind.capitalize()
    where = "for" if decision.kind == "replacement" else "on"
    name = "replacement tooth" if decision.kind == "replacement" else decision.kind
    return f"{name.capitalize()} {where} {display(decision.tooth, numbering)}"


def step_words(step: PreparationStep, numbering: str) -> str:
    """``44, distal: prepare a guiding plane``."""
    surface = step.surface.replace("_", " ")
    tooth = display(step.tooth, numbering)
    return (
        f"{tooth}, {surface}: {word_label('preparation_action', step.action)}"
        if surface
        else (f"{tooth}: {word_label('preparation_action', step.action)}")
    )


def fields_words(case: Case, paths: Iterable[str], numbering: str) -> list[str]:
    """Unrecorded fields in words; several fields of one tooth or space share a line."""
    grouped: dict[str, list[str]] = {}
    for path in paths:
        words = gap_label(case, path, numbering)
        head, comma, rest = words.partition(", ")
        if comma and head.startswith(("tooth ", "space ")):
            grouped.setdefault(head, []).append(rest)
        else:
            grouped.setdefault("", []).append(words)
    lines = [
        f"{head.capitalize()}: {'; '.join(dict.fromkeys(found))}" for head, found in grouped.items() if head
    ]
    return [*(word.capitalize() for word in dict.fromkeys(grouped.get("", []))), *lines]


_AFTER = r"(?P<lead>\b(?:at|on|tooth|teeth|beside|of|for|and|between) )"
_TEETH = re.compile(
    _AFTER
    + r"(?P<teeth>[1-4][1-8](?:(?:, | and |-)[1-4][1-8])*)(?![\d.]|\s*(?:mm|N\b|%|months|years|degrees|cm|points|to))"
)
_TOOTH = re.compile(r"[1-4][1-8]")


def renumbered(words: str, numbering: str) -> str:
    """A sentence with its tooth numbers (ISO in the rules and checks) as the reader counts teeth.

    Only numbers that stand where a tooth is named are touched, never a measurement or part of a case's id.
    """
    if numbering == "iso":
        return words

    def teeth(found: re.Match[str]) -> str:
        return found["lead"] + _TOOTH.sub(lambda tooth: display(int(tooth[0]), numbering), found["teeth"])

    return _TEETH.sub(teeth, words)


def differences(first: Framework, other: Framework, numbering: str) -> list[str]:
    """How another framework differs from the first, part by part."""
    found = []
    if other.connector != first.connector:
        found.append(
            f"{label('connector', other.connector)} instead of {label('connector', first.connector)}"
        )
    for kind, here, there in (
        ("retainer", first.retainers, other.retainers),
        ("replacement", first.replacements, other.replacements),
    ):
        found += _changed(kind, here, there, numbering)
    # A letter argues in words; the points stand in the recommendation for whoever asks.
    prices = [line for line in other.gives_up if " instead of " not in line and "points of score" not in line]
    return [*found, *(renumbered(line, numbering) for line in prices)]


def _changed(kind: str, here: Mapping[int, str], there: Mapping[int, str], numbering: str) -> list[str]:
    same: dict[tuple[str, str], list[int]] = {}
    for tooth in sorted({*here, *there}):
        was, now = here.get(tooth, "none"), there.get(tooth, "none")
        if was != now:
            same.setdefault((now, was), []).append(tooth)
    return [
        f"{', '.join(display(t, numbering) for t in teeth)}: {label(kind, now)} instead of {label(kind, was)}"
        for (now, was), teeth in same.items()
    ]
