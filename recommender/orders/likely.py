"""Words that name only how a clasp is made ("cast clasp", "47: cast"): taken for the usual kind, and marked.

Beside the name of a kind they describe it; "cast" without the word for a clasp counts only right beside teeth.
"""

from collections.abc import Sequence

from recommender.orders.items import Item, is_role, past

_QUIET = ("filler", "mark", "also")
_ENDS = ("comma", "hard", "stop", "line", "and", "or", "close", "open", "colon", "teeth", "on", "also", "to")


def with_likely(items: list[Item]) -> list[Item]:
    """The items, with such words silent where they only describe something."""
    _named_in_brackets(items)
    for at, item in enumerate(items):
        likely, beside = item.extra.get("likely"), item.extra.get("beside")
        if likely and (_describes(items, at) or (beside and not _of_teeth(items, at))):
            item.kind = item.value = "filler"
    return items


def _named_in_brackets(items: Sequence[Item]) -> None:
    """``cast clasps (Akers) on 25``: the kind in brackets after a word for a clasp is no remark."""
    for at, first in enumerate(items):
        clasp = is_role(first, "clasp") or bool(first.extra.get("likely"))
        run = [one.kind for one in items[at + 1 : at + 6]]
        if clasp and run[:3] == ["open", "retainer", "close"] and "teeth" in run[3:5]:
            items[at + 1].kind = items[at + 3].kind = "filler"


def _describes(items: Sequence[Item], at: int) -> bool:
    """Whether the kind stands beside it, with nothing between ("cast clasp, Akers", "Akers cast")."""
    for step in (-1, 1):
        place = past(items, at + step, step, ("filler", "mark", "open", "on"))
        beside = items[place] if 0 <= place < len(items) else None
        if beside is not None and beside.kind == "retainer" and not beside.extra.get("likely"):
            return True
    return False


def _of_teeth(items: Sequence[Item], at: int) -> bool:
    after = items[at + 1].kind if at + 1 < len(items) else "stop"
    if after == "teeth" or (after == "on" and items[at + 2 : at + 3] and items[at + 2].kind == "teeth"):
        return True
    if after not in _ENDS:
        return False
    place = past(items, at - 1, -1, _QUIET)
    if place > 0 and items[place].kind == "colon":
        place -= 1
    return place >= 0 and items[place].kind == "teeth"
