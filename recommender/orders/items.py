"""The items of an order: phrases with their meaning, numbers, measures, marks, and where its sentences end.

An item covers tokens ``start`` to ``end`` (exclusive).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from recommender.orders.phrases import Match

SENTENCE = ("hard", "stop", "line")
"""What ends a sentence of an order; a comma ends a part of one."""
PART = ("comma", *SENTENCE)


@dataclass
class Item:
    """``kind`` as in the module's passes; ``value`` depends on it; ``match`` for phrases of the lexicon."""

    kind: str
    start: int
    end: int
    value: Any = None
    match: Match | None = None
    path: str = ""
    extra: dict[str, Any] = field(default_factory=dict)


def beside(items: Sequence[Item], at: int, ends: Sequence[str]) -> Iterator[Item]:
    """The items of the same sentence or part as item ``at``, without it: outward, those before it first."""
    for step in (-1, 1):
        place = at + step
        while 0 <= place < len(items) and items[place].kind not in ends:
            yield items[place]
            place += step
