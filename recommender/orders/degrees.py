"""Figures in lists: "mobility 31 II, 41 II", "undercuts 34 MB 0.25 mm, 37 ML 0.5 mm", "room 36 4 mm, 46 6 mm"."""

from collections.abc import Sequence

from recommender.domain import lexicon as lx
from recommender.orders.items import SENTENCE, Item
from recommender.orders.text import Token

_PATH = "abutments.mobility"
_UNDERCUTS, _CLEARANCE = "abutments.undercuts_mm", "spans.clearance_mm"
_WIDTH = "spans.width_mm"
_ROMAN = {"i": 1, "ii": 2, "iii": 3}
_MOST, _LEAST_TOOTH = 3, 9
_BEFORE = ("filler", "colon", "open", "before")


def with_degrees(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with every degree of a sentence that speaks of mobility as a fact of the teeth beside it."""
    made: list[Item] = []
    start = 0
    for at in range(len(items) + 1):
        if at == len(items) or items[at].kind in SENTENCE:
            made += _measures(_sentence(items[start:at], tokens), tokens)
            made += items[at : at + 1]
            start = at + 1
    return made


def _sentence(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    heading = next((item for item in items if _is_heading(item, _PATH)), None)
    if heading is None:
        return items
    found: list[Item] = []
    at = 0
    degrees = 0
    while at < len(items):
        item = items[at]
        value = _degree(item, tokens)
        if value is not None and at and items[at - 1] is not heading and _is_said(items, at, tokens):
            first = at
            while items[first - 1].kind in ("before", "open") or _is_degree_word(items[first - 1], tokens):
                first -= 1
            last = at + (
                at + 1 < len(items) and items[first].kind == "open" and items[at + 1].kind == "close"
            )
            del found[len(found) - (at - first) :]
            found.append(Item("fact", items[first].start, items[last].end, value, None, _PATH))
            degrees, at = degrees + 1, last + 1
            continue
        found.append(item)
        at += 1
    alone = heading in found and not any(_says_value(found, at, heading, tokens) for at in range(len(found)))
    if degrees and alone:
        found[found.index(heading)] = Item("filler", heading.start, heading.end, "filler", heading.match)
    return found


def _measures(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """Depths with their zones, and heights, of a sentence that names the field once and gives more than one."""
    for path in (_UNDERCUTS, _CLEARANCE):
        heading = next((item for item in items if _is_heading(item, path)), None)
        figures = [at for at, item in enumerate(items) if _is_length(item) and not _is_width(items, at)]
        if heading is None or len(figures) < 2:
            continue
        made = list(items)
        for at in reversed(figures):
            before = made[at - 1] if at else None
            zone = zone_of(before, tokens) if before is not None and path == _UNDERCUTS else None
            if path == _UNDERCUTS and (zone is None or before is None):
                return items
            first = before.start if before is not None and zone is not None else made[at].start
            name = f"{path}.{zone}" if zone else path
            fact = Item("fact", first, made[at].end, float(made[at].value), None, name)
            made[at - bool(zone) : at + 1] = [fact]
        made[made.index(heading)] = Item("filler", heading.start, heading.end, "filler", heading.match)
        return made
    return items


def _is_length(item: Item) -> bool:
    return item.kind == "measure" and str(item.extra.get("unit")) == "mm"


def _is_width(items: Sequence[Item], at: int) -> bool:
    """Whether the width of a space is named right after a length ("13 mm de ancho")."""
    return at + 1 < len(items) and _is_heading(items[at + 1], _WIDTH)


def zone_of(item: Item, tokens: Sequence[Token]) -> str | None:
    """The place on a tooth that a word names."""
    word = " ".join(token.text for token in tokens[item.start : item.end])
    return lx.lookup("zone", word) if item.kind in ("word", "site", "filler") and len(word) > 1 else None


def _is_heading(item: Item, path: str) -> bool:
    return item.match is not None and any(
        one.kind == "heading" and one.identifier == path for one in item.match.meanings
    )


def _degree(item: Item, tokens: Sequence[Token]) -> int | None:
    if item.end - item.start != 1:
        return None
    token = tokens[item.start]
    if token.is_number and int(token.text) <= _MOST and len(token.text) == 1:
        return int(token.text)
    return _ROMAN.get(token.folded)


def _is_degree_word(item: Item, tokens: Sequence[Token]) -> bool:
    return item.kind == "word" and tokens[item.start].folded in ("degre", "grade", "grad", "grado", "degree")


def _is_said(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    """Whether a degree stands right after the word for it, or right after a tooth."""
    before = items[at - 1]
    if before.kind == "before" or _is_degree_word(before, tokens):
        return True
    place = at - 1
    while place > 0 and items[place].kind in _BEFORE:
        place -= 1
    return items[place].kind == "number" and int(items[place].value) > _LEAST_TOOTH


def _says_value(items: Sequence[Item], at: int, heading: Item, tokens: Sequence[Token]) -> bool:
    """Whether the name of the field has a degree of its own right after it."""
    return items[at] is heading and at + 1 < len(items) and _degree(items[at + 1], tokens) is not None
