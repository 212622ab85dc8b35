"""A field's name and the value that stands beside it, before it or past the teeth between them; the fact of both."""

from collections.abc import Sequence
from typing import Any

from recommender.domain import lexicon as lx
from recommender.orders.items import Item, past
from recommender.orders.text import Token

NEAR_WORDS = 4
SEATS = "abutments.rest_seats"
_MOST_DEGREE = 9


def past_teeth(items: list[Item], after: int, path: str) -> int | None:
    """The place behind teeth that stand between a field and its value ("Kronenhöhe 14: 6 mm", "ridge 15-16 firm")."""
    if not path.startswith(("abutments.", "spans.")) or path == SEATS:
        return None
    place = after
    while place < len(items) and items[place].kind in ("number", "to", "and", "comma"):
        if items[place].kind == "number" and int(items[place].value) <= _MOST_DEGREE:
            return None
        place += 1
    if place == after or items[after].kind != "number" or items[place - 1].kind != "number":
        return None
    return past(items, place, 1, ("colon", "filler", "on"))


def fact_apart(path: str, value: Any, items: list[Item], place: int, length: int) -> tuple[int, int, Item]:
    """A fact where its value stands, its name apart from it."""
    fact = fact_of(path, value, items[place : place + length])
    fact.extra["far"] = True
    return place, place + length - 1, fact


def place_of_value(items: list[Item], at: int) -> int:
    """The place of the first item after a field's name that may be its value."""
    after = at + 1
    while after < len(items) and (
        items[after].kind in ("colon", "arch", "quadrant", "open")
        or (items[after].kind in ("filler", "on", "to", "from") and after - at < NEAR_WORDS)
        or (after == at + 1 and items[after].kind == "mark" and items[after].value == ".")  # "Mont. : "
    ):
        after += 1
    return after


def value_of(kind: str, run: list[Item], tokens: Sequence[Token], length: int) -> str | None:
    """What a run of exactly ``length`` items means as a value of this kind, or ``None``."""
    if len(run) < length or any(
        one.kind in ("hard", "line", "stop", "comma", "colon", "number", "open") for one in run
    ):
        return None
    words = [token.meant or token.text for one in run for token in tokens[one.start : one.end]]
    text = " ".join(words)
    if len(text) < 2 and kind != "sex":
        return None
    return lx.lookup(kind, text)


def fact_of(path: str, value: Any, run: list[Item]) -> Item:
    """The fact that a run of items states."""
    return Item("fact", run[0].start, run[-1].end, value, None, path)
