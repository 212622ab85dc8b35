"""First and second ones of the teeth named before ("the first molars are missing, the second ones not")."""

from collections.abc import Sequence
from itertools import pairwise

from recommender.domain import lexicon as lx
from recommender.orders.items import PART, SENTENCE, Item
from recommender.orders.text import Token
from recommender.orders.vocabulary import as_written, listed

# Premolars and molars are counted from the first of them.
_FIRST = {4: 4, 5: 4, 6: 6, 7: 6}
_SIDE_LETTERS = ("right", "left")
_AFTER = (*PART, "negation", "side", "quadrant", "role", "and", "nor", "close")


def with_ordinals(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with "the first" and "the second ones" as names, where premolars or molars were named before."""
    for at, item in enumerate(items):
        if item.kind == "name" and at and items[at - 1].kind == "group":
            _named_closer(items[at - 1], item)
        elif item.kind == "name":
            _first_and(items, at, tokens)
        elif item.kind == "group":
            _counted_before(items, at, tokens)
    _side_letters([item for item in items if item.kind != "filler"], tokens)
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


def _side_letters(items: Sequence[Item], tokens: Sequence[Token]) -> None:
    """``R second premolar + first molar, L first premolar``: letters before names are sides, where a right one is among
    them."""
    letters = [
        (one, listed_side)
        for one, after in pairwise(items)
        if after.kind in ("name", "group") and one.end - one.start == 1
        for listed_side in _SIDE_LETTERS
        if tokens[one.start].text in as_written(f"letters_{listed_side}")
    ]
    if any(side == "right" for _, side in letters):
        for item, side in letters:
            item.kind, item.value = "side", side


def _named_closer(group: Item, name: Item) -> None:
    """``les deux incisives centrales``: a name that says which ones of a group before it are meant."""
    if int(name.value) in lx.document("teeth")["groups"][int(group.value)]["positions"]:
        name.start, name.extra["plural"] = group.start, True
        group.end, group.kind, group.value = group.start, "filler", "filler"


def _counted_before(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> None:
    """``the first and second left molars``, ``the first left molar``: words that count before a side."""
    first = _FIRST.get(min(lx.document("teeth")["groups"][int(items[at].value)]["positions"]))
    if first is None or at < 2 or items[at - 1].kind not in ("side", "quadrant", "arch"):
        return
    before = [_ordinal(one, tokens) for one in items[max(0, at - 4) : at - 1]]
    if len(before) > 2 and before[0] == 1 and items[at - 3].kind == "and" and before[2] == 2:
        for one in items[at - 4 : at - 1]:
            one.kind = one.value = "filler"
        items[at].kind, items[at].value = "group", _both_of(first)
    elif before and before[-1] and not (len(before) > 1 and items[at - 3].kind in ("and", "comma")):
        items[at].kind, items[at].value = "name", first + before[-1] - 1
        items[at].extra["plural"] = False
        items[at - 2].kind = items[at - 2].value = "filler"


def _first_and(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> None:
    """``1st n 2nd premolars``: the second ones with a lone "first" before them are both."""
    first = _FIRST.get(int(items[at].value))
    before = items[max(0, at - 2) : at]
    both = first == int(items[at].value) - 1 and [one.kind for one in before] == ["word", "and"]
    if first is not None and both and _ordinal(before[0], tokens) == 1:
        for one in before:
            one.kind = one.value = "filler"
        items[at].kind, items[at].value = "group", _both_of(first)


def _both_of(first: int) -> int:
    """The group of the first and second premolars or molars."""
    groups = lx.document("teeth")["groups"]
    return next(at for at, one in enumerate(groups) if [*one["positions"]] == [first, first + 1])


def _ordinal(item: Item, tokens: Sequence[Token]) -> int:
    """1 or 2 for "first" and "second", else 0."""
    word = "".join(token.folded for token in tokens[item.start : item.end]) if item.kind == "word" else ""
    return 1 if word in listed("first_ones") else 2 if word in listed("second_ones") else 0


def _counted(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> int:
    """1 or 2 where an item is such a word with an article before it and no noun after it, else 0."""
    item = items[at]
    if item.kind != "word" or item.end - item.start > 1 or not at or items[at - 1].kind != "filler":
        return 0
    following = next((one.kind for one in items[at + 1 :] if one.kind != "filler"), "stop")
    if following not in _AFTER:
        return 0
    return _ordinal(item, tokens)
