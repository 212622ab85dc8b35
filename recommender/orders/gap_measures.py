"""What is said of a space in few words, where its sentence shows it: "space is 6 mm", "left 6 mm, firm", "4 mm only".

A pass over the items of an order before its lists of teeth are made.
"""

from collections.abc import Sequence

from recommender.orders.field_values import fact_of, value_of
from recommender.orders.items import PART, SENTENCE, Item, parts
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

CLEARANCE, _RIDGE, _FLOOR = "spans.clearance_mm", "spans.ridge", "floor.depth_mm"
_NEAR = ("filler", "on", "from", "colon", "only", "mark", "side", "role", "quadrant")
_REACH, _MOST_SPACES = 6, 4
# Heights between a ridge and its opponent in mm; what lies outside is another measure.
_LOW, _HIGH = 1.0, 15.0
_OWNERS = ("retainer", "rest", "connector", "replacement")


def with_gap_measures(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with measures and words beside a space as facts of it."""
    for sentence in parts(items, SENTENCE):
        for at in sentence:
            _counted(items, at, sentence, tokens)
            item = items[at]
            if item.path == CLEARANCE and item.kind == "fact" and _to_floor(items, at):
                item.path = _FLOOR
            elif _names_space(item, tokens) and (place := _measure_beside(items, at)) is not None:
                items[place] = _clearance(items[place])
        _beside_others(items, sentence, tokens)
    return items


def _counted(items: Sequence[Item], at: int, sentence: range, tokens: Sequence[Token]) -> None:
    """``gap 1, lower left, from 34 to 37``, ``Lücke 2: 44``: a digit after a word for a space counts the spaces, where
    the teeth of the space follow."""
    words = {tokens[place].folded for place in range(items[at].start, items[at].end)}
    if not words & listed("words_for_one_space"):
        return
    place = at + 1
    while place < sentence.stop and items[place].kind == "filler":
        place += 1
    if place + 1 >= sentence.stop or items[place].kind != "number" or int(items[place].value) > _MOST_SPACES:
        return
    after = [items[one].kind for one in range(place + 1, sentence.stop)]
    joined = after[0] == "comma" and after[1:2] == ["number"]
    if after[0] in ("colon", "comma", "from", "quadrant", "side", "open") and "number" in after and not joined:
        items[place].kind = items[place].value = "filler"


def _to_floor(items: Sequence[Item], at: int) -> bool:
    """Whether the floor of the mouth follows a height in its part ("9 mm de hauteur disponible jusqu'au plancher")."""
    place = at + 1
    while place < len(items) and items[place].kind in ("filler", "word", "on", "to", "from"):
        place += 1
    item = items[place] if place < len(items) else None
    return item is not None and item.kind == "heading" and item.value == _FLOOR


def _names_space(item: Item, tokens: Sequence[Token]) -> bool:
    words = {tokens[place].folded for place in range(item.start, item.end)}
    return item.kind in ("role", "word", "filler", "before") and bool(words & listed("words_for_space"))


def _measure_beside(items: Sequence[Item], at: int) -> int | None:
    """The place of a measure before ("4 mm of room") or after a word for a space, with nothing between to own it."""
    if at > 1 and items[at - 1].kind in ("filler", "from") and _is_height(items[at - 2]):
        return at - 2
    for place in range(at + 1, min(at + 1 + _REACH, len(items))):
        if items[place].kind == "measure":
            return place if _is_height(items[place]) else None
        if items[place].kind not in _NEAR:
            return None
    return None


def _is_height(item: Item) -> bool:
    return item.kind == "measure" and item.extra.get("unit") == "mm" and _LOW <= float(item.value) <= _HIGH


def _clearance(item: Item) -> Item:
    return fact_of(CLEARANCE, float(item.value), [item])


def _beside_others(items: list[Item], sentence: range, tokens: Sequence[Token]) -> None:
    """``left 6 mm, firm; right 4 mm, knife-edge``: a bare measure or word of a sentence that speaks of spaces alone."""
    held = [items[at] for at in sentence]
    if any(one.kind in _OWNERS or _is_of_others(one) for one in held):
        return
    spaces = any(one.path.startswith("spans.") or one.value == _RIDGE for one in held)
    sides = any(one.kind in ("side", "quadrant") for one in held)
    tight = any(
        {tokens[place].folded for place in range(one.start, one.end)} & listed("tight") for one in held
    )
    measures = [at for at in sentence if _is_height(items[at])]
    if len(measures) == 1 and (spaces or tight or (sides and _ridge_in(items, sentence, tokens))):
        items[measures[0]] = _clearance(items[measures[0]])
        spaces = True
    if not spaces:
        return
    for at in sentence:
        value = _ridge(items, at, tokens)
        if value is not None:
            items[at] = fact_of(_RIDGE, value, [items[at]])


def _is_of_others(item: Item) -> bool:
    """Whether a field that is none of a space is named, or stated with a figure."""
    path = item.path if item.kind == "fact" else str(item.value) if item.kind == "heading" else ""
    return path.startswith(("abutments.", "floor.", "occlusion.overbite", "occlusion.overjet", "palate."))


def _ridge_in(items: list[Item], sentence: range, tokens: Sequence[Token]) -> bool:
    return any(_ridge(items, at, tokens) is not None for at in sentence)


def _ridge(items: list[Item], at: int, tokens: Sequence[Token]) -> str | None:
    """What a word that ends its part or follows teeth says of a ridge."""
    if items[at].kind != "word":
        return None
    ends = at + 1 >= len(items) or items[at + 1].kind in (*PART, "and", "close")
    return value_of("ridge", [items[at]], tokens, 1) if ends else None
