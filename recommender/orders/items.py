"""The items of an order: phrases with their meaning, numbers, measures, marks, and where its sentences end.

An item covers tokens ``start`` to ``end`` (exclusive).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from recommender.orders.phrases import Match
from recommender.orders.text import Token

SENTENCE = ("hard", "stop", "line")
"""What ends a sentence of an order; a comma ends a part of one."""
PART = ("comma", *SENTENCE)


@dataclass
class Item:
    """``kind`` as the passes over an order set it; ``value`` depends on it; ``match`` for phrases of the lexicon."""

    kind: str
    start: int
    end: int
    value: Any = None
    match: Match | None = None
    path: str = ""
    extra: dict[str, Any] = field(default_factory=dict)

    @property
    def phrase(self) -> str:
        """The phrase of the lexicon that an item was matched by."""
        return self.match.meanings[0].phrase if self.match is not None else ""


def is_role(item: Item, *roles: str) -> bool:
    """Whether an item is a word for one of these roles."""
    return item.kind == "role" and item.value in roles


def words_in(item: Item, tokens: Sequence[Token]) -> set[str]:
    """The words and signs that an item covers, folded."""
    return {token.folded for token in tokens[item.start : item.end]}


def parts(items: Sequence[Item], ends: Sequence[str]) -> Iterator[range]:
    """The places of the items between those of these kinds: the sentences of an order, or their parts."""
    start = 0
    for at, item in enumerate(items):
        if item.kind in ends:
            yield range(start, at)
            start = at + 1
    yield range(start, len(items))


def beside(items: Sequence[Item], at: int, ends: Sequence[str]) -> Iterator[Item]:
    """The items of the same sentence or part as item ``at``, without it: outward, those before it first."""
    for step in (-1, 1):
        place = at + step
        while 0 <= place < len(items) and items[place].kind not in ends:
            yield items[place]
            place += step


def past(items: Sequence[Item], at: int, step: int, kinds: Sequence[str]) -> int:
    """The first place from ``at`` on, in steps of ``step``, whose item is of none of these kinds; it may lie beyond the
    items."""
    while 0 <= at < len(items) and items[at].kind in kinds:
        at += step
    return at
