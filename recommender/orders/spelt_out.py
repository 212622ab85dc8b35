"""Teeth said twice over: a group with its numbers behind it, the ends of a space before the teeth in it."""

from collections.abc import Sequence
from dataclasses import replace

from recommender.orders.items import Item, past
from recommender.orders.refs import Ref, Teeth

# What may stand between the ends of a space and the teeth inside it.
_BEFORE_INSIDE = ("filler", "comma", "and", "colon", "word", "before", "counted", "open", "mark")


def spelt_out(items: list[Item]) -> list[Item]:
    """``back teeth (36, 37)``, ``front teeth: 12, 22``: numbers right after a group say which of it are meant."""
    made: list[Item] = []
    at = 0
    while at < len(items):
        run = items[at : at + 4]
        refs = items[at].value.refs if items[at].kind == "teeth" else []
        if len(refs) > 1 and refs[0].upto is not None and _lies_inside(refs[0], refs[1:]):
            del refs[0], items[at].value.joints[0]  # "von 34 bis 37, also 35 und 36"
        kinds = [item.kind for item in run]
        closed = kinds == ["teeth", "open", "teeth", "close"]
        listed_after = kinds[:3] == ["teeth", "colon", "teeth"] and all(
            ref.number is not None for ref in run[2].value.refs
        )
        if (closed or listed_after) and all(ref.by_name and len(ref.names) > 1 for ref in run[0].value.refs):
            numbers: Teeth = run[2].value
            last = run[3] if closed else run[2]
            numbers.refs[0] = replace(numbers.refs[0], start=run[0].start)
            numbers.refs[-1] = replace(numbers.refs[-1], end=last.end)
            made.append(Item("teeth", run[0].start, last.end, numbers))
            at += 3 + closed
        elif (inner := _named_inside(items, at)) is not None:
            made.append(items[inner])  # "from 34 to 37: two units, namely 35 and 36"
            at = inner + 1
        elif (
            [item.kind for item in run[:3]] == ["open", "teeth", "close"]
            and all(ref.by_name and ref.many for ref in run[1].value.refs)
            and _number_before(made)
        ):  # "23-26 missing (lower incisors)"
            at += 3
        else:
            made.append(items[at])
            at += 1
    return made


def _named_inside(items: Sequence[Item], at: int) -> int | None:
    """The place of a list right after a range, without more than words between, that names all teeth inside it: the
    range only says where the space lies."""
    if items[at].kind != "teeth" or len(items[at].value.refs) != 1 or items[at].value.refs[0].upto is None:
        return None
    place = past(items, at + 1, 1, _BEFORE_INSIDE)
    if place == at + 1 or place >= len(items) or items[place].kind != "teeth":
        return None
    return place if _lies_inside(items[at].value.refs[0], items[place].value.refs) else None


def _lies_inside(ref: Ref, inside: Sequence[Ref]) -> bool:
    """Whether mentions are all teeth between the ends of a range."""
    assert ref.upto is not None
    if any(one.quadrant not in (None, ref.quadrant) or one.side not in (None, ref.side) for one in inside):
        return False
    named = sorted(int(one.number or 0) for one in inside if one.upto is None)
    ends = sorted((int(ref.number or 0), int(ref.upto.number or 0)))
    return bool(named) and named == list(range(ends[0] + 1, ends[1]))


def _number_before(items: Sequence[Item]) -> bool:
    """Whether numbers of teeth stand before, with at most a word that says something of them between."""
    for item in reversed(items[-3:]):
        if item.kind == "teeth":
            return all(ref.number is not None for ref in item.value.refs)
        if item.kind not in ("role", "filler", "arch"):
            return False
    return False
