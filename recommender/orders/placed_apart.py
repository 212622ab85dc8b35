"""Quadrants and sides that stand apart from their teeth ("upper right are missing 4, 5, 6")."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import takewhile

from recommender.orders.items import SENTENCE, Item
from recommender.orders.mentions import modified
from recommender.orders.refs import LAST_POSITION, Ref, Teeth

_QUIET = ("mark", "filler")
# What may follow a side or quadrant that belongs to the list before it.
_ENDS = ("comma", "only", "close", *SENTENCE)


def needs_place(ref: Ref) -> bool:
    """Whether a mention is nothing without a quadrant: a bare digit, or a name."""
    digit = ref.number is not None and ref.number <= LAST_POSITION
    return not (ref.quadrant or ref.side) and (ref.by_name or digit or bool(ref.relative))


def place_alone(items: Sequence[Item]) -> None:
    """Bare digits of an order that names one side only lie there ("4, 5 and 6 on the left. Akers on the 7")."""
    refs = [ref for item in items if item.kind == "teeth" for ref in item.value.refs]
    digits = [
        ref for ref in refs if ref.number is not None and ref.number <= LAST_POSITION and not ref.hashed
    ]
    places = {(ref.quadrant, ref.side) for ref in refs} - {(None, None)}
    unplaced = [ref for ref in digits if not (ref.quadrant or ref.side)]
    named = {item.value for item in items if item.kind in ("side", "quadrant")}
    if (
        len(digits) < len(refs)
        or len(places) != 1
        or not unplaced
        or named - {value for one in places for value in one}
    ):
        return
    quadrant, side = next(iter(places))
    if side not in (None, "right", "left", "both"):
        return
    for item in items:
        if item.kind == "teeth":
            item.value.refs = [
                replace(ref, quadrant=quadrant, side=side) if any(ref is one for one in unplaced) else ref
                for ref in item.value.refs
            ]


def place_bare(items: Sequence[Item]) -> None:
    """A quadrant or side apart from its list: ``upper right are missing 4, 5, 6``, or ``14 and 15, upper right``."""
    known: Item | None = None
    carried: Item | None = None
    both: Item | None = None
    last: Teeth | None = None
    place: Item | None = None
    for index, item in enumerate(items):
        if item.match is not None and item.match.of("again") is not None:
            last = None  # "16, the same on the left"
        if item.kind in SENTENCE:
            known = last = carried = both = place = None
        elif item.kind in ("quadrant", "side"):
            following = next((one.kind for one in items[index + 1 :] if one.kind not in _QUIET), "stop")
            unplaced = last is not None and _is_unplaced(last)
            after_role = bool(index) and items[index - 1].kind == "role"  # "4, 5 gone both sides"
            goes_on = following == "and" if item.value != "both" else following != "teeth"
            ended = following in _ENDS or (after_role and goes_on)
            if last is not None and unplaced and ended:
                last.refs = [
                    ref if ref.quadrant or ref.side else modified(ref, item, ()) for ref in last.refs
                ]
                both = item if item.value == "both" and last.refs[-1].by_name else None
            else:
                known = item
        elif item.kind == "teeth":
            if known is None and both is not None and item.value.refs[0].by_name:
                known = both
            if known is None and carried is not None and index and items[index - 1].kind in ("on", "filler"):
                known = carried if _joined_by_and(items, index) else None
            if known is None and carried is not None and index and items[index - 1].kind == "colon":
                known = carried  # "nothing behind the upper right canine: both premolars and molars"
            if last is not None and _placed_after(item.value) and _joined_by_and(items, index):
                placed = item.value.refs[-1]
                last.refs = [
                    replace(ref, quadrant=placed.quadrant, side=placed.side, arch=ref.arch or placed.arch)
                    if ref.by_name and not (ref.quadrant or ref.side or (ref.is_pair and not placed.is_pair))
                    else ref
                    for ref in last.refs
                ]
            if known is None and place is not None and all(ref.is_digit for ref in item.value.refs):
                known = place  # "upper right 3 (wire) and 6 (Akers)"
            if known is not None:
                bare = list(takewhile(needs_place, item.value.refs))
                item.value.refs[: len(bare)] = [modified(ref, known, ()) for ref in bare]
            ref = item.value.refs[-1]
            placed_digit = ref.quadrant is not None and ref.number is not None and ref.number <= LAST_POSITION
            place = Item("quadrant", 0, 0, ref.quadrant) if placed_digit else None
            side = ref.side if ref.side in ("right", "left") else None
            carried = Item("side", 0, 0, side) if side and ref.by_name else None
            both = Item("side", 0, 0, "both") if ref.side == "both" and ref.by_name else None
            carried = Item("quadrant", 0, 0, ref.quadrant) if ref.quadrant and ref.by_name else carried
            known, last = None, item.value


def _is_unplaced(teeth: Teeth) -> bool:
    """Whether mentions of a list need a place, or none of numbers has one."""
    free = [ref for ref in teeth.refs if not (ref.quadrant or ref.side)]
    return any(needs_place(ref) for ref in free) or len(free) == len(teeth.refs)


def _placed_after(teeth: Teeth) -> bool:
    """Whether one tooth is named with its side or quadrant after it, as one word for a list may have it."""
    ref = teeth.refs[-1]
    return len(teeth.refs) == 1 and ref.by_name and ref.after and bool(ref.quadrant or ref.side)


def _joined_by_and(items: Sequence[Item], at: int) -> bool:
    """Whether only "and", articles and prepositions stand between a list of teeth and the one before it."""
    at -= 1
    joined = False
    while at >= 0 and items[at].kind in ("and", "on", "filler"):
        joined = joined or items[at].kind == "and"
        at -= 1
    return joined and at >= 0 and items[at].kind == "teeth"
