"""Which exercise comes next, where the learner says what it should be like."""

import hashlib
from collections.abc import Collection, Iterable, Sequence

from recommender.curation.teaching.exercises import Exercise

BANDS = {"easy": (0.0, 0.35), "middling": (0.35, 0.6), "hard": (0.6, 1.01)}
"""Difficulty (0-1) in words: how close the leading options lie, on average over the decisions (judgement)."""


def spread(ids: Iterable[str], number: int, salt: str = "") -> list[str]:
    """At most ``number`` of these cases, drawn over the whole library, the same each time for the same salt."""
    return sorted(ids, key=lambda case_id: hashlib.sha256(f"{salt}/{case_id}".encode()).digest())[:number]


def band(difficulty: float) -> str:
    """A difficulty in words."""
    return next(word for word, (low, high) in BANDS.items() if low <= difficulty < high)


def suiting(
    exercises: Sequence[Exercise],
    *,
    wanted: str | None = None,
    principle: str | None = None,
    answered: Collection[str] = (),
) -> list[Exercise]:
    """Exercises of a difficulty (a word of ``BANDS``) that turn on a principle; those not yet answered first."""
    fitting = [
        one
        for one in exercises
        if wanted in (None, band(one.difficulty)) and (principle is None or principle in one.principles)
    ]
    return sorted(fitting, key=lambda one: (one.id in answered, one.difficulty, one.id))
