"""The same teeth on the other side of the arch ("45 and 46 missing, same on the other side")."""

from collections.abc import Sequence
from dataclasses import replace

from recommender.orders.items import PART, SENTENCE, Item
from recommender.orders.refs import Teeth

_QUIET = ("filler", "mark", "on", "from")
_STATED = ("retainer", "rest")


def with_mirrored(items: list[Item]) -> list[Item]:
    """The items with "the same" beside a side as what was said of the teeth named last, said of their mirror images."""
    made = list(items)
    for at in range(len(made) - 1, -1, -1):  # from the end: copies take more places than what they stand for
        item = made[at]
        if not _says_same(item):
            continue
        side = _side_beside(made, at)
        before = _teeth_before(made, at)
        if side is None or before is None or _names_teeth(made, at):
            continue
        said = _said_there(made, before)
        if not said and item.kind == "filler":
            continue
        place = made[side]
        refs = [
            replace(ref, start=place.start, end=place.end, mirrored=not ref.mirrored)
            for ref in made[before].value.refs
        ]
        made[side] = Item("teeth", place.start, place.end, Teeth(refs, [*made[before].value.joints]))
        if item.kind == "filler":
            made[at : at + 1] = [
                replace(one, start=item.start, end=item.end, extra={**one.extra, "again": True})
                for one in said
            ]
    return made


def _says_same(item: Item) -> bool:
    if item.kind in _STATED and item.extra.get("again"):
        return True
    return item.kind in ("filler", "again") and item.match is not None and item.match.of("again") is not None


def _side_beside(items: Sequence[Item], at: int) -> int | None:
    """The place of a side right before or after."""
    for step in (1, -1):
        place = at + step
        while 0 <= place < len(items) and items[place].kind in _QUIET and not _is_side(items[place]):
            place += step
        if 0 <= place < len(items) and _is_side(items[place]):
            return place
    return None


def _is_side(item: Item) -> bool:
    named = item.match.of("side", "quadrant") if item.match is not None else None
    return named is not None and named.identifier != "same" and item.kind in ("side", "quadrant", "filler")


def _teeth_before(items: Sequence[Item], at: int) -> int | None:
    """The place of the list named last, in this sentence or the one before."""
    ends = 0
    for place in range(at - 1, -1, -1):
        ends += items[place].kind in SENTENCE
        if ends > 1:
            return None
        if items[place].kind == "teeth":
            teeth: Teeth = items[place].value
            return None if teeth.relative or teeth.minus is not None else place
    return None


def _names_teeth(items: Sequence[Item], at: int) -> bool:
    """Whether the part in which "the same" stands names teeth itself."""
    for step in (1, -1):
        place = at + step
        while 0 <= place < len(items) and items[place].kind not in (*PART, "and"):
            if items[place].kind == "teeth":
                return step > 0 or items[place + 1].kind not in ("role", *PART)
            if items[place].kind in ("role", *_STATED) and not items[place].extra.get("again"):
                break
            place += step
    return False


def _said_there(items: Sequence[Item], at: int) -> list[Item]:
    """What the sentence of a list says of it: that it is gone, or its clasps and rests where it names no other."""
    low, high = at, at
    while low and items[low - 1].kind not in SENTENCE:
        low -= 1
    while high < len(items) and items[high].kind not in SENTENCE:
        high += 1
    sentence = items[low:high]
    own = [one for one in sentence if not one.extra.get("again")]
    stated = [one for one in own if one.kind in _STATED]
    lost = [one for one in own if one.kind == "role" and one.value == "missing"]
    single = sum(one.kind == "teeth" for one in own) == 1
    if stated:
        return stated if single and not lost and not any(one.kind == "negation" for one in own) else []
    return lost[-1:]
