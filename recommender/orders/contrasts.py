"""Teeth that are named only to say which others are meant ("the I-bar not on 14 but on 15")."""

from collections.abc import Sequence

from recommender.orders.concepts import is_concept
from recommender.orders.items import SENTENCE, Item, past
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_LEADS = ("on", "from", "filler", "mark")
_BETWEEN = (*_LEADS, "comma", "negation", "except")


def is_denied(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    """Whether a plain "not" stands right before an item, prepositions and words that say nothing between."""
    return _denial(items, at, tokens) is not None


def opens_contrast(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether an item is a word like "but" after a "not"."""
    return any(token.folded in listed("contrasts") for token in tokens[item.start : item.end])


def contrasted(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items, teeth that are only named in contrast silent, and kept beside those that are meant instead."""
    for at, item in enumerate(items):
        if item.kind != "teeth" or item.value.relative:
            continue
        later = _instead(items, at, tokens)
        denial = _denial(items, at, tokens)
        if later is None or denial is None:
            continue
        items[later].extra["not_these"] = item.value
        for place in range(denial, later):
            if items[place].kind not in _LEADS or place < at:
                items[place].kind = items[place].value = "filler"
        for step in (range(denial - 1, -1, -1), range(later + 1, len(items))):
            for place in step:
                if items[place].kind in SENTENCE or items[place].kind == "teeth":
                    break
                if is_concept(items[place]):
                    items[place].extra["taken_back"] = True
                    break
    return items


def _denial(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> int | None:
    """The place of the "not" right before an item."""
    place = past(items, at - 1, -1, _LEADS)
    if place < 0 or items[place].kind not in ("negation", "role", "filler", "word"):
        return None
    words = [token.folded for token in tokens[items[place].start : items[place].end]]
    said = words if items[place].kind == "negation" else words[-1:]  # "no va en 14", "kommt nicht an 14"
    return place if set(said) & listed("plain_denials") else None


def _instead(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> int | None:
    """The place of the teeth that are meant instead: a word like "but", and nothing that says something, between."""
    said = False
    for place in range(at + 1, len(items)):
        item = items[place]
        if item.kind == "teeth":
            return place if said and not item.value.relative else None
        opens = opens_contrast(item, tokens)
        said = said or opens
        if not opens and item.kind not in _BETWEEN:
            return None
    return None
