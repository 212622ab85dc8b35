"""What the papers say of choices, preparations and comparisons, over the room ``wording``."""

from collections.abc import Iterable

from recommender.advice.model import Decision, Framework, PreparationStep
from recommender.domain.case import Case
from recommender.wording.words import capital, words_in

_POINTS = ("frameworks.scores_less", "frameworks.scores_more")


def label(kind: str, option: str) -> str:
    """What the catalogue calls an option."""
    return words_in().option(kind, option)


def item_title(decision: Decision, numbering: str) -> str:
    """``Retainer on 14``, ``Major connector``."""
    return words_in(numbering).title(decision)


def step_words(step: PreparationStep, numbering: str) -> str:
    """``prepare a guiding plane on 44, distal``."""
    return words_in(numbering).step(step.tooth, step.surface, step.action)


def fields_words(case: Case, paths: Iterable[str], numbering: str) -> list[str]:
    """Unrecorded fields in words; several fields of one tooth or space share a line."""
    grouped: dict[str, list[str]] = {}
    for path in paths:
        words = words_in(numbering).gap(case, path)
        head, comma, rest = words.partition(", ")
        if comma and head.startswith(("tooth ", "space ")):
            grouped.setdefault(head, []).append(rest)
        else:
            grouped.setdefault("", []).append(words)
    lines = [f"{capital(head)}: {'; '.join(dict.fromkeys(found))}" for head, found in grouped.items() if head]
    return [*(capital(word) for word in dict.fromkeys(grouped.get("", []))), *lines]


def differences(first: Framework, other: Framework, numbering: str) -> list[str]:
    """How another framework differs from the first, part by part; a letter argues in words, not in points."""
    words = words_in(numbering)
    found = []
    for tooth in sorted({*first.replacements, *other.replacements}):
        was, now = first.replacements.get(tooth), other.replacements.get(tooth)
        if was != now:
            taken, instead = words.option("replacement", now), words.option("replacement", was)
            found.append(f"{words.tooth(tooth)}: {taken} instead of {instead}")
    return [*words.lines(line for line in other.gives_up if line.code not in _POINTS), *found]
