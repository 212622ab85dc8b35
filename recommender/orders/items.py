"""The tokens of an order as items: phrases with their meaning, measures, ages, facts of a field and its value, marks.

An item covers tokens ``start`` to ``end`` (exclusive). Facts come from a phrase that states one ("bruxism") or from
the name of a field with a value beside it ("oral hygiene: poor", "5 mm clearance").
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise
from typing import Any

from recommender.domain import lexicon as lx
from recommender.domain.shape import Shape, case_shape
from recommender.orders.phrases import Match, match
from recommender.orders.text import Token

CONCEPTS = ("retainer", "connector", "replacement", "rest", "alloy", "unsettled")
# Where one phrase means several things, what it is taken for.
_ORDER = (
    "finding", *CONCEPTS, "numbering", "name", "group", "quadrant", "role", "negation", "arch", "side", "join",
    "opposing", "heading", "site", "years", "before", "unit", "counted", "filler",
)  # fmt: skip
_JOIN_ORDER = (
    "nor",
    "to",
    "or",
    "and",
    "unsure",
    "on",
    "behind",
    "onward",
    "except",
    "instead",
    "only",
    "all",
    "from",
)
_MARKS = {
    ",": "comma",
    ";": "hard",
    "!": "stop",
    ":": "colon",
    "=": "colon",
    "(": "open",
    ")": "close",
    "\n": "line",
}
_NEAR_WORDS = 4
_ROMAN = {"i": 1, "ii": 2, "iii": 3}
_AGES = range(10, 120)
_OLDEST = 90
# Below this many millimetres no gauge is made: such a figure is in inches.
_LEAST_DEPTH = 0.05
_DASHES = ("-", "–", "—")
_BARS = ("|", "¦", "│")
_MOST_COUNTED = 8
_PATIENT = ("pt", "patient", "patientin", "patiente", "paciente")
_SURELY_AGE = range(49, 111)
_SEXES = {
    "en": {"F": "female", "M": "male", "f": "female", "m": "male"},
    "de": {"W": "female", "w": "female", "M": "male", "m": "male"},
    "fr": {"F": "female", "H": "male"},
    "es": {},
}
_SEATS = "abutments.rest_seats"
_ALLERGY, _AGE, _SEX = "patient.allergy", "patient.age", "patient.sex"


@dataclass
class Item:
    """``kind`` as in the module's passes; ``value`` depends on it; ``match`` for phrases of the lexicon."""

    kind: str
    start: int
    end: int
    value: Any = None
    match: Match | None = None
    path: str = ""
    extra: dict[str, Any] = field(default_factory=dict)


def items_of(tokens: Sequence[Token], languages: Sequence[str]) -> list[Item]:
    """All items of an order, in the order of the text."""
    items: list[Item] = []
    at = 0
    while at < len(tokens):
        item = _measure(tokens, at, languages) or _phrase(tokens, at, languages) or _plain(tokens, at)
        items.append(item)
        at = item.end
    _part_at_dashes(items, tokens)
    items = _facts(_ages(items, tokens, languages), tokens)
    for item in items:
        if item.kind == "heading" and item.value == _SEATS:
            item.kind, item.value = "role", "rest_seat"
    for rest, after in pairwise(items):
        if rest.kind == "rest" and after.kind == "seat":
            rest.extra["seat"], rest.end, after.kind = True, after.end, "filler"
    return items


def _phrase(tokens: Sequence[Token], at: int, languages: Sequence[str]) -> Item | None:
    found = match(tokens, at, languages)
    if found is None:
        return None
    meaning = min(found.meanings, key=lambda one: _ORDER.index(one.kind) if one.kind in _ORDER else 99)
    if meaning.kind == "heading" and meaning.identifier == "identity":
        meaning = found.of("filler") or meaning
    kind, value = meaning.kind, meaning.identifier
    if kind == "join":
        joins = {one.identifier for one in found.meanings if one.kind == "join"}
        value = next(one for one in _JOIN_ORDER if one in joins)
        kind = value
        if tokens[at].text == ",":
            kind = "comma"
    if kind == "finding":
        path, _, stated = value.partition("=")
        return Item("fact", at, found.end, stated, found, path)
    return Item(kind, at, found.end, value, found)


def _plain(tokens: Sequence[Token], at: int) -> Item:
    token = tokens[at]
    if token.is_number:
        return _number(tokens, at)
    if token.folded == "s" and at and tokens[at - 1].text in "'’":
        return Item("mark", at, at + 1, token.text)
    if token.text == ".":
        return Item("stop" if _ends_sentence(tokens, at) else "mark", at, at + 1, ".")
    if token.text in _BARS and at + 1 < len(tokens) and _beside_bar(tokens, at + 1) == "left":
        return Item("number", at, at + 2, int(tokens[at + 1].text), extra={"bar": "left"})
    return Item(_MARKS.get(token.text, "word" if token.is_word else "mark"), at, at + 1, token.text)


def _ends_sentence(tokens: Sequence[Token], at: int) -> bool:
    """A full stop ends a sentence unless something is glued to it or it belongs to a short form."""
    if at + 1 >= len(tokens):
        return True
    return not (tokens[at + 1].glued or (at > 0 and tokens[at - 1].folded in _abbreviations()))


@cache
def _abbreviations() -> frozenset[str]:
    return frozenset(lx.fold(short) for _, short in lx.spoken(lx.document("order")["abbreviations"]))


def _number(tokens: Sequence[Token], at: int) -> Item:
    """A number that may be a tooth; a date, a shade and what is too long are plain words."""
    token = tokens[at]
    before = tokens[at - 1] if at else None
    if before is not None and token.glued and before.is_word and re.fullmatch(r"[A-D]", before.text):
        part = (
            at + 2 < len(tokens)
            and tokens[at + 1].text in ".,"
            and tokens[at + 1].glued
            and tokens[at + 2].glued
        )
        return Item("word", at, at + 3 if part and tokens[at + 2].is_number else at + 1, token.text)
    if (side := _beside_bar(tokens, at)) is not None:
        return Item("number", at, at + 2 if side == "right" else at + 1, int(token.text), extra={"bar": side})
    if (end := _date(tokens, at)) is not None:
        return Item("word", at, end, "date")
    if (
        len(token.text) == 1
        and at + 2 < len(tokens)
        and tokens[at + 1].text == "."
        and tokens[at + 1].glued
        and tokens[at + 2].is_number
        and tokens[at + 2].glued
        and re.fullmatch(r"[1-4]\.[1-8]", f"{token.text}.{tokens[at + 2].text}")
        and not (at + 3 < len(tokens) and tokens[at + 3].text in (".", ",") and tokens[at + 3].glued
                 and at + 4 < len(tokens) and tokens[at + 4].is_number and tokens[at + 4].glued
                 and tokens[at + 3].text == ".")
    ):  # fmt: skip
        return Item("number", at, at + 3, int(token.text + tokens[at + 2].text), extra={"dotted": True})
    if len(token.text) > 8 or token.text.startswith("0"):
        return Item("word", at, at + 1, token.text)
    return Item("number", at, at + 1, int(token.text))


def _beside_bar(tokens: Sequence[Token], at: int) -> str | None:
    """The side of digits written on a midline: ``654|`` on the patient's right, ``|56`` on the left."""
    if not re.fullmatch("[1-8]{1,8}", tokens[at].text):
        return None
    if at + 1 < len(tokens) and tokens[at + 1].text in _BARS and tokens[at + 1].glued:
        return "right"
    if at > 0 and tokens[at - 1].text in _BARS and tokens[at].glued:
        return "left"
    return None


def _date(tokens: Sequence[Token], at: int) -> int | None:
    """Where a date ends that begins here: three numbers with glued marks between, a year last; or ``12/05``."""
    parts = tokens[at : at + 5]
    short = len(parts) > 2 and parts[1].glued and parts[2].glued and parts[1].text in "./"
    if short and re.fullmatch(r"0\d", parts[2].text):
        return at + 3
    if len(parts) < 5 or not all(part.glued for part in parts[1:]):
        return None
    first, mark, _, other, third = (part.text for part in parts)
    if mark == other and mark in "./-" and all(part.is_number for part in parts[::2]):
        years = len(third) == 4 or len(first) == 4 or int(third) >= 49
        return at + 5 if years else None
    return None


def _measure(tokens: Sequence[Token], at: int, languages: Sequence[str]) -> Item | None:
    """A number with a unit, or a decimal below one."""
    token = tokens[at]
    if not token.is_number:
        return None
    end, text = at + 1, token.text
    if (
        end + 1 < len(tokens)
        and tokens[end].text in ".,"
        and tokens[end].glued
        and tokens[end + 1].is_number
        and tokens[end + 1].glued
    ):
        end, text = end + 2, f"{token.text}.{tokens[end + 1].text}"
    follower = match(tokens, end, languages) if end < len(tokens) else None
    hyphened = None
    if end + 1 < len(tokens) and tokens[end].text == "-":
        hyphened = match(tokens, end + 1, languages)
    for found in (follower, hyphened):
        years = found.of("years") if found else None
        unit = found.of("unit") if found else None
        if found is not None and years is not None:
            return Item("age", at, found.end, int(float(text)))
        if unit is not None and unit.phrase in ("x", "×") and float(text) > _MOST_COUNTED:
            continue
        if found is not None and unit is not None and found.of("role", "join") is None:
            return Item("measure", at, found.end, float(text), extra={"unit": unit.phrase})
    if "." in text and text.startswith("0"):
        return Item("measure", at, end, float(text), extra={"unit": "mm"})
    return None


def _part_at_dashes(items: Sequence[Item], tokens: Sequence[Token]) -> None:
    """A dash with spaces around it parts phrases in an order that uses one so beside a word; else it means "to"."""
    dashes = [
        index
        for index, item in enumerate(items)
        if item.kind == "to" and tokens[item.start].text in _DASHES and 0 < index < len(items) - 1
        and not tokens[item.start].glued and not tokens[items[index + 1].start].glued
    ]  # fmt: skip
    if any(
        "number" not in (items[at - 1].kind, items[at + 1].kind) or _beside_word(items, at) for at in dashes
    ):
        for at in dashes:
            items[at].kind = "comma"


def _beside_word(items: Sequence[Item], at: int) -> bool:
    return items[at - 1].kind != "number" or items[at + 1].kind not in ("number", "quadrant", "side", "name")


# ages and sexes


def _ages(items: list[Item], tokens: Sequence[Token], languages: Sequence[str]) -> list[Item]:
    """Ages by their unit or the word before them; a sex as a letter beside an age; numbers that only count."""
    made: list[Item] = []
    sexes = _SEXES.get(languages[0], {})
    for index, item in enumerate(items):
        before = next(
            (one for one in reversed(made) if one.kind not in ("filler", "colon", "mark", "comma")), None
        )
        after = items[index + 1] if index + 1 < len(items) else None
        if item.kind == "number" and _is_heading(before, _AGE) and item.value in _AGES:
            made.append(_fact(_AGE, item, item.value, before))
        elif (
            item.kind == "number"
            and item.value in _AGES
            and (_is_sex(after, tokens, sexes) and _after_patient(items, index, tokens))
        ):
            made.append(_fact(_AGE, item, item.value))
        elif item.kind == "age":
            made.append(
                _fact(_AGE, item, item.value) if item.value in _AGES else Item("word", item.start, item.end)
            )
        elif (
            item.kind == "number"
            and item.value in _SURELY_AGE
            and (
                _is_sex(after, tokens, sexes)
                or _is_sex(before, tokens, sexes)
                or any(one is not None and one.path == _SEX for one in (before, after))
            )
        ):
            made.append(_fact(_AGE, item, item.value))
        elif _is_sex(item, tokens, sexes) and (
            (before is not None and before.path == _AGE)
            or (after is not None and (after.kind == "age" or after.value in _SURELY_AGE))
        ):
            made.append(Item("fact", item.start, item.end, sexes[tokens[item.start].text], None, _SEX))
        elif item.kind == "number" and before is not None and before.kind == "before" and not item.extra:
            made.append(Item("word", item.start, item.end))
        elif (
            item.kind == "number"
            and item.value <= 8
            and after is not None
            and after.match is not None
            and after.match.of("counted") is not None
            and not (before is not None and before.kind in ("number", "quadrant", "side"))
            and not (made and made[-1].kind in ("comma", "and", "to", "filler") and before is not None
                     and before.kind == "number")
            and tokens[item.start - 1].text != "#"
        ):  # fmt: skip
            made.append(Item("filler", item.start, item.end))
        else:
            made.append(item)
    return made


def _after_patient(items: Sequence[Item], index: int, tokens: Sequence[Token]) -> bool:
    """Whether a number stands right after the word for the patient, or begins the order."""
    before = items[index - 1] if index else None
    if before is None:
        return True
    return before.kind == "filler" and tokens[before.end - 1].folded in (
        "pt",
        "patient",
        "patientin",
        "patiente",
        "paciente",
    )


def _is_heading(item: Item | None, path: str) -> bool:
    if item is None or item.match is None:
        return False
    return any(one.kind == "heading" and one.identifier == path for one in item.match.meanings) or (
        path == _AGE and item.kind == "before" and item.match.meanings[0].phrase.lower() in ("age", "aged")
    )


def _is_sex(item: Item | None, tokens: Sequence[Token], sexes: dict[str, str]) -> bool:
    return item is not None and item.end - item.start == 1 and tokens[item.start].text in sexes


def _fact(path: str, item: Item, value: Any, also: Item | None = None) -> Item:
    start = min(item.start, also.start) if also is not None else item.start
    if path == _AGE and value >= _OLDEST:
        value = "90+"
    return Item("fact", start, item.end, value, None, path)


# a field and its value


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


def _is_measured(path: str) -> bool:
    shape = _shape(path)
    if shape is None:
        return False
    return any(one.kind in ("number", "whole") for one in (shape, *shape.choices))


def _facts(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    made = list(items)
    at = 0
    while at < len(made):
        item = made[at]
        heading = item.match.of("heading") if item.match is not None else None
        if (
            item.kind in ("heading", "opposing", "fact", "role", "word")
            and item.match is not None
            and heading is not None
        ):
            paths = [one.identifier for one in item.match.meanings if one.kind == "heading"]
            for path in dict.fromkeys(paths):
                if "." not in path or path.startswith(("prescription.", "design.", "outcome.")):
                    continue
                found = _beside(made, at, tokens, path)
                if found is not None:
                    first, last, fact = found
                    made[first : last + 1] = [fact]
                    at = first
                    break
        at += 1
    return made


def _beside(items: list[Item], at: int, tokens: Sequence[Token], path: str) -> tuple[int, int, Item] | None:
    """The first and last item that a field and its value cover, and the fact that they make."""
    kind = lx.kind_of(path)
    if path == _ALLERGY:
        return _allergies(items, at, tokens)
    if path == "abutments.undercuts_mm":
        return _undercut(items, at, tokens)
    if not kind and _is_measured(path):
        return _measured(items, at, tokens, path)
    if not kind:
        return None
    after = _following(items, at)
    for length in (3, 2, 1):
        run = items[after : after + length]
        value = _value(kind, run, tokens, length)
        if value is not None and (kind != "flag" or items[at + 1].kind == "colon"):
            return at, after + length - 1, _made(path, value, items[at : after + length])
    for length in (3, 2, 1):
        first = at - length
        while first >= 0 and items[first].kind == "filler":
            break
        value = _value(kind, items[max(first, 0) : at], tokens, length) if first >= 0 else None
        if value is not None and kind != "flag":
            return first, at, _made(path, value, items[first : at + 1])
    return None


def _following(items: list[Item], at: int) -> int:
    """The place of the first item after a field's name that may be its value."""
    after = at + 1
    while after < len(items) and (
        items[after].kind in ("colon", "arch", "quadrant", "open")
        or (items[after].kind in ("filler", "on", "to", "from") and after - at < _NEAR_WORDS)
    ):
        after += 1
    return after


def _value(kind: str, run: list[Item], tokens: Sequence[Token], length: int) -> str | None:
    if len(run) < length or any(
        one.kind in ("hard", "line", "stop", "comma", "colon", "number") for one in run
    ):
        return None
    words = [token.meant or token.text for one in run for token in tokens[one.start : one.end]]
    text = " ".join(words)
    if len(text) < 2:
        return None
    return lx.lookup(kind, text)


def _made(path: str, value: Any, run: list[Item]) -> Item:
    return Item("fact", run[0].start, run[-1].end, value, None, path)


def _measured(items: list[Item], at: int, tokens: Sequence[Token], path: str) -> tuple[int, int, Item] | None:
    shape = _shape(path)
    whole = shape is not None and any(one.kind == "whole" for one in (shape, *shape.choices))
    after = at + 1
    steps = 0
    while (
        after < len(items)
        and steps < _NEAR_WORDS
        and items[after].kind in ("colon", "filler", "before", "on", "mark")
    ):
        after, steps = after + 1, steps + 1
    if after < len(items):
        value = _amount(items[after], tokens, whole)
        if value is not None:
            return at, after, _made(path, value, items[at : after + 1])
    before = at - 1
    while before >= 0 and items[before].kind in ("filler", "on", "join"):
        before -= 1
    if before >= 0:
        graded = before > 0 and items[before - 1].kind == "before"
        value = _amount(items[before], tokens, whole, before_name=not graded)
        if value is not None:
            return before, at, _made(path, value, items[before : at + 1])
    return None


def _amount(
    item: Item, tokens: Sequence[Token], whole: bool, before_name: bool = False
) -> float | int | None:
    if item.kind == "measure" and item.extra.get("unit") in (
        "mm",
        "cm",
        "Millimeter",
        "millimètres",
        "milímetros",
    ):
        return float(item.value) * (10 if item.extra["unit"] == "cm" else 1)
    if whole and item.kind == "number" and item.value <= 3 and not before_name:
        return int(item.value)
    if whole and item.kind == "word" and not before_name:
        return (
            int(tokens[item.start].text)
            if tokens[item.start].is_number
            else _ROMAN.get(tokens[item.start].folded)
        )
    return None


def _allergies(items: list[Item], at: int, tokens: Sequence[Token]) -> tuple[int, int, Item] | None:
    found: list[str] = []
    last, position = at, _following(items, at)
    while position < len(items):
        values = _allergens(items[position], tokens)
        if values:
            found, last = [*found, *values], position
        elif items[position].kind not in ("and", "comma", "or", "filler"):
            break
        position += 1
    if found:
        last += items[last + 1 : last + 2] != [] and items[last + 1].kind == "close"
        return at, last, _made(_ALLERGY, list(dict.fromkeys(found)), items[at : last + 1])
    values = _allergens(items[at - 1], tokens) if at else []
    return (at - 1, at, _made(_ALLERGY, values, items[at - 1 : at + 1])) if values else None


def _allergens(item: Item, tokens: Sequence[Token]) -> list[str]:
    """What an item names as a cause of allergy: the material itself, or what an alloy holds."""
    value = _value("allergen", [item], tokens, 1)
    if value is not None:
        return [value]
    return list(lx.document("order")["allergens_in"].get(item.value, ())) if item.kind == "alloy" else []


def _is_depth(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether a measure is a depth in millimetres; hundredths without a unit, or with an inch sign, are inches."""
    inches = item.end < len(tokens) and tokens[item.end].text in ('"', "″", "”")
    return item.extra.get("unit") == "mm" and item.value >= _LEAST_DEPTH and not inches


def _undercut(items: list[Item], at: int, tokens: Sequence[Token]) -> tuple[int, int, Item] | None:
    """An undercut needs its zone and its depth, both within a few words."""
    low, high = max(0, at - 3), min(len(items), at + 5)
    zone = depth = None
    for index in (*range(at + 1, high), *range(at - 1, low - 1, -1)):
        item = items[index]
        if item.kind in ("hard", "line", "stop"):
            continue
        if depth is None and item.kind == "measure" and _is_depth(item, tokens):
            depth = index
        if zone is None and item.kind in ("word", "site", "filler") and _value("zone", [item], tokens, 1):
            zone = index
    if zone is None or depth is None:
        return None
    first, last = min(at, zone, depth), max(at, zone, depth)
    if any(items[i].kind in ("hard", "line", "stop", "number") for i in range(first, last + 1)):
        return None
    name = _value("zone", [items[zone]], tokens, 1)
    path = f"abutments.undercuts_mm.{name}"
    return first, last, _made(path, items[depth].value, items[first : last + 1])
