"""What says something in a sentence of an order: concepts, teeth, and what stands alone."""

from dataclasses import dataclass, field

from recommender.orders.items import Item, is_role

# Concepts that stand by themselves.
ALONE = ("connector", "alloy", "bare")


@dataclass
class Atom:
    """One part: its ``kind`` (concept, teeth, alone), what stands before it, and what makes it no plain statement."""

    item: Item
    kind: str  # concept | teeth | alone
    before: set[str] = field(default_factory=set)
    denied: bool = False
    doubt: str = ""
    dropped: bool = False
    talked: bool = False
    bracketed: bool = False
    denial: Item | None = None


def is_concept(item: Item) -> bool:
    """Whether an item says something of teeth."""
    if item.kind == "unsettled":
        return not str(item.value).startswith(ALONE)
    if item.kind == "fact":
        return item.path.startswith(("abutments.", "spans."))
    if item.kind == "heading":
        return _is_abutment(item)
    return item.kind in ("role", "retainer", "replacement", "rest", "site")


def _is_abutment(item: Item) -> bool:
    return item.match is not None and any(
        one.kind == "heading" and one.identifier == "abutments.tooth" for one in item.match.meanings
    )


def is_design(item: Item) -> bool:
    """Whether an item names a part of a denture."""
    return item.kind in (*ALONE, "retainer", "rest", "replacement", "unsettled") or is_role(
        item, "clasp", "rest"
    )


def is_polite(item: Item) -> bool:
    """Whether words only put an order as a question ("could you make")."""
    return item.match is not None and any(one.identifier == "polite" for one in item.match.meanings)


def is_material(item: Item) -> bool:
    """Whether a word names metal or another material ("no metal on 23" is not "not on 23")."""
    return item.match is not None and any(
        one.kind == "heading" and one.identifier == "prescription.alloy" for one in item.match.meanings
    )


def is_rest(item: Item) -> bool:
    """Whether an item is a rest, its seat, or a word for one."""
    only = item.kind == "retainer" and item.value == "rest_only"
    return only or item.kind == "rest" or (item.kind == "role" and item.value in ("rest", "rest_seat"))
