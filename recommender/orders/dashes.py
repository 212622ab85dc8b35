"""Dashes and slashes that part phrases, and those that only join two figures."""

from collections.abc import Iterator, Sequence

from recommender.orders.figures import DASHES
from recommender.orders.items import SENTENCE, Item
from recommender.orders.text import Token

_TOOTH = ("number", "name", "quadrant", "side", "arch", "group")


def part_at_dashes(items: Sequence[Item], tokens: Sequence[Token]) -> None:
    """A dash with spaces around it parts phrases in an order that uses one so beside a word; else it means "to"."""
    dashes = [
        index
        for index, item in enumerate(items)
        if item.kind == "to" and tokens[item.start].text in DASHES and 0 < index < len(items) - 1
        and not tokens[item.start].glued and not tokens[items[index + 1].start].glued
    ]  # fmt: skip
    if any(
        "number" not in (items[at - 1].kind, items[at + 1].kind) or _beside_word(items, at) for at in dashes
    ):
        for at in dashes:
            items[at].kind = "comma"


def part_at_slashes(items: Sequence[Item], tokens: Sequence[Token]) -> None:
    """Two slashes, or one with spaces around it that stands beside no list, part phrases ("36, 46 ersetzen / 35 RPI").

    Between two parts that both have numbers it ends a sentence, else it only counts as a comma.
    """
    slashes = [at for at, item in enumerate(items) if item.kind == "and" and tokens[item.start].text == "/"]
    twice = {at for at in slashes if at + 1 in slashes and tokens[items[at + 1].start].glued}
    for at in twice:
        items[at].kind, items[at + 1].kind = "hard", "filler"
    for at in slashes:
        if at in twice or at - 1 in twice or not 0 < at < len(items) - 1:
            continue
        spaced = not tokens[items[at].start].glued and not tokens[items[at + 1].start].glued
        listed = items[at - 1].kind in _TOOTH and items[at + 1].kind in _TOOTH
        if spaced and not listed:
            numbered = all(any(one.kind == "number" for one in _part(items, at, step)) for step in (-1, 1))
            items[at].kind = "hard" if numbered else "comma"


def _part(items: Sequence[Item], at: int, step: int) -> Iterator[Item]:
    """The items of the part that begins, or ends, beside a slash."""
    at += step
    while 0 <= at < len(items) and items[at].kind not in SENTENCE and items[at].value != "/":
        yield items[at]
        at += step


def _beside_word(items: Sequence[Item], at: int) -> bool:
    return items[at - 1].kind != "number" or items[at + 1].kind not in ("number", "quadrant", "side", "name")
