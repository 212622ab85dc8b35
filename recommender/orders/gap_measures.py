"""What is said of a space in few words, where its sentence shows it: "space is 6 mm", "left 6 mm, firm", "4 mm only".

A pass over the items of an order before its lists of teeth are made.
"""

from collections.abc import Sequence

from recommender.orders.field_values import fact_of, value_of
from recommender.orders.items import PART, SENTENCE, Item, parts, past, words_in
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

CLEARANCE, _RIDGE, _FLOOR = "spans.clearance_mm", "spans.ridge", "floor.depth_mm"
_NEAR = ("filler", "on", "from", "colon", "only", "mark", "side", "role", "quadrant")
_REACH, _MOST_SPACES = 6, 4
# Heights between a ridge and its opponent in mm; what lies outside is another measure.
_LOW, _HIGH = 1.0, 15.0
_BEFORE_LIST = ("filler", "counted", "arch", "mark", "side", "quadrant", "colon", "open", "close")
_OWNERS = ("retainer", "rest", "connector", "replacement")


def with_gap_measures(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with measures and words beside a space as facts of it."""
    listing = False
    for sentence in parts(items, SENTENCE):
        goes_on = listing and items[sentence.start - 1].kind == "hard"
        listing = goes_on or _lists_spaces(items, sentence, tokens)
        for at in sentence:
            _counted(items, at, sentence, tokens)
            item = items[at]
            if item.path == CLEARANCE and item.kind == "fact" and _to_floor(items, at):
                item.path = _FLOOR
            elif _names_space(item, tokens) and (place := _measure_beside(items, at)) is not None:
                items[place] = _clearance(items[place])
        _beside_others(items, sentence, tokens, listing)
    return items


def _counted(items: Sequence[Item], at: int, sentence: range, tokens: Sequence[Token]) -> None:
    """``gap 1, lower left, from 34 to 37``, ``Lücke 2: 44``: a digit after a word for a space counts the spaces, where
    the teeth of the space follow."""
    words = words_in(items[at], tokens)
    if not words & listed("words_for_one_space"):
        return
    place = at + 1
    while place < sentence.stop and (items[place].kind == "filler" or _counts(items[place], tokens)):
        place += 1
    if place + 1 >= sentence.stop or items[place].kind != "number" or int(items[place].value) > _MOST_SPACES:
        return
    after = [items[one].kind for one in range(place + 1, sentence.stop)]
    joined = after[0] == "comma" and after[1:2] == ["number"]
    if after[0] in ("colon", "comma", "from", "quadrant", "side", "open") and "number" in after and not joined:
        items[place].kind = items[place].value = "filler"
        for one in items[place + 1 : sentence.stop]:
            if one.kind == "word" and tokens[one.start].folded in listed("space_verbs"):
                one.kind = one.value = "filler"  # "gap 1 runs from 34 to 37"


def _counts(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether an item only says that a number follows ("gap no. 1", "Lücke Nr. 2")."""
    return item.kind in ("word", "mark", "stop") and (
        tokens[item.start].text in (".", "°", "#") or tokens[item.start].folded in listed("says_number")
    )


def _to_floor(items: Sequence[Item], at: int) -> bool:
    """Whether the floor of the mouth follows a height in its part ("9 mm de hauteur disponible jusqu'au plancher")."""
    place = past(items, at + 1, 1, ("filler", "word", "on", "to", "from"))
    item = items[place] if place < len(items) else None
    return item is not None and item.kind == "heading" and item.value == _FLOOR


def _names_space(item: Item, tokens: Sequence[Token]) -> bool:
    words = words_in(item, tokens)
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


def _beside_others(items: list[Item], sentence: range, tokens: Sequence[Token], listing: bool) -> None:
    """``left 6 mm, firm; right 4 mm, knife-edge``: a bare measure or word of a sentence that speaks of spaces alone."""
    held = [items[at] for at in sentence]
    tight = any(
        words_in(one, tokens) & listed("tight") for one in held
    )
    sides = any(one.kind in ("side", "quadrant") for one in held)
    listing = listing or (sides and any(one.path == "spans.ridge" or one.value == _RIDGE for one in held))
    others = [
        one
        for at, one in zip(sentence, held, strict=True)
        if one.kind in _OWNERS or (_is_of_others(one) and not (listing and _firm(items, at, tokens)))
    ]
    if any(one.kind != "replacement" or not tight for one in others):
        return
    spaces = any(one.path.startswith("spans.") or one.value == _RIDGE for one in held)
    for at in sentence:
        if listing and _is_height(items[at]) and _follows_teeth(items, at):
            items[at] = _clearance(items[at])
            spaces = True
    measures = [at for at in sentence if _is_height(items[at])]
    if len(measures) == 1 and (spaces or tight or (sides and _ridge_in(items, sentence, tokens))):
        items[measures[0]] = _clearance(items[measures[0]])
        spaces = True
    if not spaces:
        return
    for at in sentence:
        value = _ridge(items, at, tokens) or (_firm(items, at, tokens) if listing else None)
        if value is not None:
            items[at] = fact_of(_RIDGE, value, [items[at]])


def _lists_spaces(items: Sequence[Item], sentence: range, tokens: Sequence[Token]) -> bool:
    """Whether a sentence begins with a word for spaces and names teeth ("Gaps: 36 (5 mm, firm), 45-46 (7 mm)")."""
    numbers = any(items[at].kind == "number" for at in sentence)
    first = next((items[at] for at in sentence if items[at].kind not in _BEFORE_LIST), None)
    if first is None or not numbers or first.kind not in ("role", "word"):
        return False
    words = words_in(first, tokens)
    return bool(words & (listed("words_for_space") | listed("words_for_one_space") | listed("words_for_spaces")))


def _follows_teeth(items: Sequence[Item], at: int) -> bool:
    """Whether a measure stands right after a tooth ("25: 5 mm", "36 (5 mm, firm)")."""
    place = past(items, at - 1, -1, ("open", "colon", "filler", "on", "mark"))
    if place >= 0 and items[place].kind == "comma":  # "35-37 (free end, 6 mm)"
        while place >= 0 and items[place].kind not in (*SENTENCE, "open", "number", "close"):
            place -= 1
        place -= place >= 0 and items[place].kind == "open"
    return place >= 0 and items[place].kind == "number"


def _firm(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> str | None:
    """What a word says of a ridge that without one says how firm a tooth stands."""
    bare = items[at].kind == "fact" and items[at].path == "abutments.mobility"
    return value_of("ridge", [items[at]], tokens, 1) if bare else None


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
