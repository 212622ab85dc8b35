"""Groups of which a number says where they begin ("all back teeth from 35", "tous les molaires à partir de 36")."""

from collections.abc import Sequence

from recommender.orders.items import PART, Item, is_role, past, words_in
from recommender.orders.neighbours import NAMES
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_WAYS = ("from", "onward", "behind")
_BETWEEN = ("filler", "counted", "all")
_PLACES = ("side", "arch", "quadrant")
_LAST_PLACE = 8


def with_onwards(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items without names of groups right before a word that says from which tooth on; "from" then says so too."""
    for at, item in enumerate(items):
        if item.kind not in _WAYS:
            continue
        after = past(items, at + 1, 1, _BETWEEN)
        before = past(items, at - 1, -1, (*_BETWEEN, *_PLACES))
        end = _end_of(items, after)
        if end is None or before < 0:
            continue
        led = is_role(items[before], "free_end") or _begins_with_back(items, end, tokens)
        if item.kind == "from" and led and not _is_range(items, end):
            item.kind = "onward"  # "free ends from the first molars", "missing from LL5 back"
        if items[after].kind in ("name", "group") or not _is_group(items[before], tokens):
            continue
        if item.kind == "from" and not _is_range(items, end):
            item.kind = "onward"
        for place in range(before, at):
            if items[place].kind not in _PLACES:
                items[place].kind = items[place].value = "filler"
    return items


def _end_of(items: Sequence[Item], at: int) -> int | None:
    """The place behind one tooth: a number of two digits, one with its quadrant, a name."""
    if at < len(items) and items[at].kind == "quadrant":
        at += 1
    elif at < len(items) and items[at].kind == "number" and int(items[at].value) <= _LAST_PLACE:
        return None
    return at + 1 if at < len(items) and items[at].kind in NAMES else None


def _is_group(item: Item, tokens: Sequence[Token]) -> bool:
    if item.kind == "group" or (item.kind == "relative" and item.value == "all"):
        return True
    words = words_in(item, tokens)
    return item.kind in ("word", "filler", "counted") and bool(words & listed("teeth_in_general"))


def _is_range(items: Sequence[Item], at: int) -> bool:
    """Whether a word of ranges follows a tooth."""
    at = past(items, at, 1, ("filler", "side"))
    return at < len(items) and items[at].kind == "to"


def _begins_with_back(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    """Whether a word for "back" follows a tooth and ends what is said of it; it then says nothing else."""
    if at >= len(items) or not {tokens[items[at].start].folded} & listed("backwards"):
        return False
    if at + 1 < len(items) and items[at + 1].kind not in (*PART, "and", "close", "role", "filler"):
        return False
    items[at].kind = items[at].value = "filler"
    return True
