"""Fields that hold a figure: the measure or degree that belongs to a field's name."""

from collections.abc import Sequence
from functools import cache

from recommender.domain.shape import Shape, case_shape
from recommender.orders.field_values import NEAR_WORDS, fact_apart, fact_of, past_teeth
from recommender.orders.items import SENTENCE, Item, past
from recommender.orders.text import Token

_ROMAN = {"i": 1, "ii": 2, "iii": 3}
_BOUNDS = ("<", ">", "≤", "≥")
# Fields of which an order speaks once, so that the only measure of the sentence is theirs.
_OVERBITE = "occlusion.overbite_mm"
_ALONE_IN_SENTENCE = ("floor.depth_mm", _OVERBITE, "spans.clearance_mm")


@cache
def _shape(path: str) -> Shape | None:
    shape: Shape | None = case_shape()
    for step in path.split("."):
        while shape is not None and shape.kind in ("list", "map"):
            shape = shape.item
        if shape is None:
            return None
        fields = shape.fields or next((one.fields for one in shape.choices if one.fields), {})
        shape = fields.get(step)
    return shape


def is_measured(path: str) -> bool:
    """Whether a field of a case holds a figure."""
    shape = _shape(path)
    if shape is None:
        return False
    return any(one.kind in ("number", "whole") for one in (shape, *shape.choices))


def measured_beside(
    items: list[Item], at: int, tokens: Sequence[Token], path: str
) -> tuple[int, int, Item] | None:
    """The first and last item that a field and its figure cover, and the fact that they make."""
    shape = _shape(path)
    whole = shape is not None and any(one.kind == "whole" for one in (shape, *shape.choices))
    after = at + 1
    steps = 0
    while (
        after < len(items)
        and steps < NEAR_WORDS
        and items[after].kind in ("colon", "filler", "before", "on", "mark", "open", "to", "from", "and")
        and not (whole and _is_roman(items[after], tokens))
    ):
        after, steps = after + 1, steps + 1
    measured = at > 0 and not whole and items[at - 1].kind == "measure" and after > at + 1
    if after < len(items) and not (measured and items[at + 1].kind != "colon"):  # "15 mm wide and 5 mm high"
        value = _amount(items[after], tokens, whole)
        if value is not None:
            return at, after, fact_of(path, value, items[at : after + 1])
    if not whole and (place := past_teeth(items, after, path)) is not None and place < len(items):
        value = _amount(items[place], tokens, whole)
        if value is not None:
            return fact_apart(path, value, items, place, 1)
    before = past(items, at - 1, -1, ("filler", "on", "from"))
    if before >= 0:
        graded = before > 0 and items[before - 1].kind == "before"
        value = _amount(items[before], tokens, whole, before_name=not graded)
        if value is not None:
            return before, at, fact_of(path, value, items[before : at + 1])
    return None if whole else _far(items, at, tokens, path)


def _far(items: list[Item], at: int, tokens: Sequence[Token], path: str) -> tuple[int, int, Item] | None:
    """A field with the only measure of its sentence, apart from its name ("10 mm from the gum to the raised floor")."""
    if path not in _ALONE_IN_SENTENCE:
        return None
    first = last = at
    while first > 0 and items[first - 1].kind not in SENTENCE:
        first -= 1
    while last + 1 < len(items) and items[last + 1].kind not in SENTENCE:
        last += 1
    measures = [
        i for i in range(first, last + 1) if items[i].kind == "measure" and _amount(items[i], tokens, False)
    ]
    if len(measures) != 1 or any(_names_another(items[i], path) for i in range(first, last + 1)):
        return None
    only = measures[0]
    fact = fact_of(path, _amount(items[only], tokens, False), [items[only]])
    fact.extra["far"] = True
    return only, only, fact


def _names_another(item: Item, path: str) -> bool:
    """Whether the only measure of a sentence on a deep bite may be another's ("deep bite, room 22: 4 mm")."""
    meanings = item.match.meanings if item.match is not None else ()
    named = {one.identifier for one in meanings if one.kind == "heading"}
    return path == _OVERBITE and bool(named & set(_ALONE_IN_SENTENCE)) and path not in named


def _is_roman(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether a single capital letter is a degree ("mobility I") and no pronoun."""
    written = tokens[item.start].text
    return item.end - item.start == 1 and written.isupper() and written.lower() in _ROMAN


def _amount(
    item: Item, tokens: Sequence[Token], whole: bool, before_name: bool = False
) -> float | int | None:
    if item.start and tokens[item.start - 1].text in _BOUNDS:
        return None
    if item.kind == "measure" and item.extra.get("unit") in ("mm", "cm"):
        return float(item.value) * (10 if item.extra["unit"] == "cm" else 1)
    if whole and item.kind == "number" and item.value <= 3 and not before_name:
        return int(item.value)
    if whole and not before_name and (item.kind == "word" or _is_roman(item, tokens)):
        return (
            int(tokens[item.start].text)
            if tokens[item.start].is_number
            else _ROMAN.get(tokens[item.start].folded)
        )
    return None
