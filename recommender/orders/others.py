"""The others ("Akers on the other abutments", "35 RPI, the rest Akers"): teeth by place, without those said before."""

from collections.abc import Sequence

from recommender.orders.items import Item, past
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_PLACES = ("beside", "abutments", "last")
_QUIET = ("filler", "on", "colon", "mark", "to", "all")
_ENDS = ("comma", "stop", "hard", "line", "and")


def other_teeth(items: Sequence[Item], tokens: Sequence[Token]) -> None:
    """Takes "other" away before words for a place; a bare "the others" beside a clasp are those beside the spaces."""
    for at, item in enumerate(items):
        heading = item.kind == "heading" and item.value == "abutments.tooth"
        if heading or (item.kind == "relative" and item.value in _PLACES):
            if _without_other(items, at, tokens) and heading:
                item.kind, item.value = "relative", "abutments"
        elif _is_others(item, tokens) and _beside_clasp(items, at):
            item.kind, item.value = "relative", "beside"


def _is_others(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether words say "the others"; "rest" alone is a part of a clasp, "the rest" is not."""
    if item.kind not in ("word", "them", "relative", "role") or item.end - item.start > 2:
        return False
    led = item.start > 0 and tokens[item.start - 1].folded in listed("leads_to_others")
    if item.end - item.start == 1 and item.kind == "role" and not led:
        return False
    first = tokens[item.start].folded in listed("leads_to_others") or item.end - item.start == 1
    return first and tokens[item.end - 1].folded in listed("others_alone")


def _without_other(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    """Whether "other" stood before a place; a word for all before it then only leads to it."""
    place = _before(items, at)
    if place < 0 or tokens[items[place].end - 1].folded not in listed("other_ones"):
        return False
    items[place].kind = items[place].value = "filler"
    place = _before(items, place)
    if place >= 0 and items[place].kind in ("them", "all", "to"):  # "on all the other abutments"
        items[place].kind = items[place].value = "on"
    return True


def _before(items: Sequence[Item], at: int) -> int:
    return past(items, at - 1, -1, ("filler",))


def _beside_clasp(items: Sequence[Item], at: int) -> bool:
    """Whether a kind of clasp stands right beside an item, at the end of its part, and another was named before."""
    sides: list[Item | None] = []
    for step in (-1, 1):
        place = past(items, at + step, step, _QUIET)
        sides.append(items[place] if 0 <= place < len(items) else None)
    clasps = [one for one in sides if one is not None and one.kind == "retainer"]
    free = [one for one in sides if one is None or one.kind in _ENDS]
    earlier = [one for one in items[:at] if one.kind == "retainer" and one not in clasps]
    return len(clasps) == 1 and len(free) == 1 and bool(earlier)
