"""First and second ones of the teeth named before ("the first molars are missing, the second ones not")."""

from collections.abc import Sequence

from recommender.domain import lexicon as lx
from recommender.orders.items import PART, SENTENCE, Item
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

# Premolars and molars are counted from the first of them.
_FIRST = {4: 4, 5: 4, 6: 6, 7: 6}
_AFTER = (*PART, "negation", "side", "quadrant", "role", "and", "nor", "close")


def with_ordinals(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with "the first" and "the second ones" as names, where premolars or molars were named before."""
    first: int | None = None
    for at, item in enumerate(items):
        if item.kind in SENTENCE:
            first = None
        elif item.kind == "name":
            first = _FIRST.get(int(item.value))
        elif item.kind == "group":
            first = _FIRST.get(min(lx.document("teeth")["groups"][int(item.value)]["positions"]))
        elif first is not None and (counted := _counted(items, at, tokens)):
            denied = [one for one in items[at + 1 : at + 3] if one.kind != "filler"]
            if denied and denied[0].kind == "negation" and (len(denied) < 2 or denied[1].kind in PART):
                for one in (item, denied[0]):  # "the first molars are missing, the second ones not"
                    one.kind = one.value = "filler"
                continue
            plural = tokens[item.start].folded.endswith(("s", "en"))
            item.kind, item.value = "name", first + counted - 1
            item.extra["plural"] = plural
    return items


def _counted(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> int:
    """1 or 2 where an item is such a word with an article before it and no noun after it, else 0."""
    item = items[at]
    if item.kind != "word" or item.end - item.start > 1 or not at or items[at - 1].kind != "filler":
        return 0
    following = next((one.kind for one in items[at + 1 :] if one.kind != "filler"), "stop")
    if following not in _AFTER:
        return 0
    word = tokens[item.start].folded
    return 1 if word in listed("first_ones") else 2 if word in listed("second_ones") else 0
