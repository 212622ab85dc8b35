"""Arrows between what is replaced and what holds it ("16, 17 → Akers on 15")."""

from collections.abc import Sequence

from recommender.orders.concepts import is_concept
from recommender.orders.items import PART, Item

_ARROWS = frozenset("→⇒➔➜➝⟶►▶")
_QUIET = ("filler", "mark", "arch", "colon", "side", "counted", "and", "comma")


def parted_by_arrows(items: list[Item]) -> list[Item]:
    """The items with an arrow as the end of a sentence, where only teeth stand before it in their line and what
    follows it has teeth of its own; "47 → ring clasp" stays one."""
    begun = 0
    for at, item in enumerate(items):
        if item.kind in ("line", "hard", "stop"):
            begun = at + 1
        arrow = item.kind == "mark" and str(item.value) in _ARROWS
        if arrow and _only_teeth(items[begun:at]) and _has_its_own(items[at + 1 :]):
            item.kind = "hard"
            begun = at + 1
    return items


def _only_teeth(items: Sequence[Item]) -> bool:
    kinds = [item.kind for item in items if item.kind not in _QUIET]
    return kinds == ["teeth"]


def _has_its_own(items: Sequence[Item]) -> bool:
    """Whether a concept and right after it teeth follow, in the same part of the sentence."""
    said = False
    for item in items:
        if item.kind in PART:
            return False
        if item.kind == "teeth":
            return said
        if is_concept(item):
            said = True
        elif item.kind not in ("filler", "on", "counted"):
            return False
    return False
