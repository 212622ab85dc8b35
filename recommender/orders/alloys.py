"""Metals that are not the framework's: a gold crown, a titanium implant, gold that was asked about "so CoCr"."""

from collections.abc import Sequence

from recommender.orders.items import SENTENCE, Item, parts
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_OPEN = "alloy:"
_BETWEEN = ("filler", "on", "from")


def is_alloy(item: Item) -> bool:
    """Whether an item names a metal, outright or as one of several."""
    return item.kind == "alloy" or (item.kind == "unsettled" and str(item.value).startswith(_OPEN))


def with_alloys(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items, metals of other things and those that a conclusion leaves behind as words that say nothing."""
    for at, item in enumerate(items):
        if is_alloy(item) and _of_something_else(items, at, tokens):
            item.kind = item.value = "filler"
    for places in parts(items, SENTENCE):
        named = [at for at in places if is_alloy(items[at])]
        if len(named) > 1 and _concluded(items, named[-2], named[-1], tokens):
            for at in named[:-1]:
                items[at].kind = items[at].value = "word"
            items[named[-1]].extra["concluded"] = True
    return items


def _of_something_else(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    """Whether a metal stands right before a word for a tooth, a crown or an implant, or "of" a crown right after it."""
    after = at + 1 + (at + 1 < len(items) and tokens[items[at + 1].start].text == "-")
    named = listed("metal_things") | listed("metal_teeth")
    if after < len(items) and tokens[items[after].start].folded in named:
        return True
    place = at - 1
    while place >= 0 and items[place].kind in _BETWEEN and not _thing(items[place], tokens):
        place -= 1
    return 0 <= place < at - 1 and _thing(items[place], tokens)


def _thing(item: Item, tokens: Sequence[Token]) -> bool:
    return tokens[item.end - 1].folded in listed("metal_things") and item.kind != "heading"


def _concluded(items: Sequence[Item], before: int, last: int, tokens: Sequence[Token]) -> bool:
    """Whether a word of conclusion leads to the last of two metals ("I asked about gold, she laughed, so CoCr")."""
    if any(item.kind in ("arch", "number", "quadrant") for item in items[before:last]):
        return False
    return concludes(items[before].end, items[last].start, tokens)


def concludes(start: int, end: int, tokens: Sequence[Token]) -> bool:
    """Whether a word of conclusion begins between two tokens ("so", "daher", "así que")."""
    words = [token.folded for token in tokens[start : end + 1]]
    named = listed("conclusions")
    return any(words[at] in named or " ".join(words[at : at + 2]) in named for at in range(end - start))
