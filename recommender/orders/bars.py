"""A bar that joins two teeth or implants ("a milled bar which joins 33 to 43") is an attachment and no connector."""

from collections.abc import Sequence
from dataclasses import replace

from recommender.orders.items import PART, Item, is_role
from recommender.orders.neighbours import NAMES
from recommender.orders.refs import Ref, Teeth
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

ATTACHMENT = "attachment"
_FAR = 8


def joining_bars(items: Sequence[Item], tokens: Sequence[Token]) -> None:
    """Makes an attachment of each bare word for a bar that a word of joining and teeth follow."""
    for at, item in enumerate(items):
        bar = (item.kind == "bare" and item.value == "bar") or (
            item.kind == "retainer" and item.value == ATTACHMENT
        )
        if bar and _joins_teeth(items, at, tokens):
            item.kind, item.value = "retainer", ATTACHMENT


def _joins_teeth(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    joins = False
    for place, item in enumerate(items[at + 1 : at + _FAR], at + 1):
        if item.kind in PART or item.kind in ("retainer", "connector") or is_role(item, "clasp"):
            return False
        if joins and item.kind in NAMES:
            _with(items, place)
            return True
        joins = joins or bool(joined(tokens, item.start, item.end))
    return False


def _with(items: Sequence[Item], at: int) -> None:
    """``joins 33 with 43``: both teeth."""
    if at + 2 < len(items) and items[at + 1].kind == "on" and items[at + 2].kind in NAMES:
        items[at + 1].kind = "and"


def joined(tokens: Sequence[Token], start: int, end: int) -> bool:
    """Whether a word of joining stands among tokens ``start`` to ``end``."""
    return any(token.folded in listed("joining") for token in tokens[start:end])


def anchors(teeth: Teeth, joins: bool) -> Teeth:
    """The teeth that hold an attachment: the one in front of its place ("distal of 14"), the two ends of a bar."""
    refs: list[Ref] = []
    for ref in teeth.refs:
        if ref.way == "behind" or ref.way_too == "behind":
            refs.append(replace(ref, way="", way_too=""))
        elif ref.upto is not None and (joins or ref.inner):
            refs += [replace(ref, inner=False, upto=None), ref.upto]
        else:
            refs.append(ref)
    return Teeth(refs, [frozenset()] * len(refs), teeth.alternative, teeth.minus, teeth.doubtful, teeth.upto)
