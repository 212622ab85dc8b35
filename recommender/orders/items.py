"""The tokens of an order as items: phrases with their meaning, numbers, measures, dates, marks.

An item covers tokens ``start`` to ``end`` (exclusive).
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from recommender.domain import lexicon as lx
from recommender.orders.phrases import Match, match
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

CONCEPTS = ("retainer", "connector", "replacement", "rest", "alloy", "unsettled", "likely")
# Where one phrase means several things, what it is taken for.
_ORDER = (
    "correction", "finding", "hint", *CONCEPTS, "numbering", "name", "group", "formerly", "degree", "all_but",
    "earlier", "quadrant", "role", "negation", "arch", "side", "relative", "join", "opposing", "heading", "them",
    "permits", "another", "site", "years", "before", "spoken", "unit", "otherwise", "again", "bare", "counted",
    "filler", "talk", "dentition", "dentition_of", "wears", "respectively", "also",
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
_TOOTH = ("number", "name", "quadrant", "side", "arch", "group")
# Endings that make a German name of a tooth of its number.
_NUMBERED = ("er", "ers", "ern")
_DASHES = ("-", "–", "—")
_BARS = ("|", "¦", "│")
_MOST_COUNTED = 8
_NEITHER_BEFORE = 12
_CARRIED = ("rest", "clasp", "rest_seat")
_OF_TOOTH = ("tooth", "teeth", "zahn", "dent", "diente", "pieza")


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


SENTENCE = ("hard", "stop", "line")
"""What ends a sentence of an order; a comma ends a part of one."""
PART = ("comma", *SENTENCE)


def beside(items: Sequence[Item], at: int, ends: Sequence[str]) -> Iterator[Item]:
    """The items of the same sentence or part as item ``at``, without it: outward, those before it first."""
    for step in (-1, 1):
        place = at + step
        while 0 <= place < len(items) and items[place].kind not in ends:
            yield items[place]
            place += step


def scanned(tokens: Sequence[Token], languages: Sequence[str]) -> list[Item]:
    """Phrases, numbers, measures and marks, in the order of the text."""
    items: list[Item] = []
    at = 0
    while at < len(tokens):
        item = _measure(tokens, at, languages) or _phrase(tokens, at, languages) or _plain(tokens, at)
        items.append(item)
        at = item.end
    inside = False
    for item in items:
        inside = (inside or item.kind == "open") and item.kind not in ("close", "line")
        if inside and item.kind == "stop" and item.value == "!":
            item.kind = "mark"  # "except 13 (shows!)"
    _part_at_dashes(items, tokens)
    _part_at_slashes(items, tokens)
    return items


def _number_sign(tokens: Sequence[Token], at: int) -> int:
    """How many tokens from here only say that a number follows (``no. 14``, ``tooth no 14``, ``nº 14``), or 0."""
    text = tokens[at].text.lower()
    mark = 1 + (at + 1 < len(tokens) and tokens[at + 1].glued and tokens[at + 1].text in (".", "°"))
    numbered = at + mark < len(tokens) and tokens[at + mark].is_number
    of_tooth = at > 0 and tokens[at - 1].folded in _OF_TOOTH
    if (
        tokens[at].folded in listed("number_of_teeth")
        and tokens[at + 1 : at + 2]
        and tokens[at + 1].is_number
    ):
        return 1
    signed = text == "nº" or (text == "no" and (mark == 2 or of_tooth)) or (text in ("n", "nr") and mark == 2)
    return mark if numbered and signed else 0


def _phrase(tokens: Sequence[Token], at: int, languages: Sequence[str]) -> Item | None:
    sign = _number_sign(tokens, at)
    if sign:
        return Item("filler", at, at + sign, "filler")
    found = match(tokens, at, languages)
    while found is not None and found.of("them") and _names_teeth(tokens, found.end, languages):
        found = match(tokens[: found.end - 1], at, languages)  # "auf beiden Eckzähnen" names its own teeth
    if found is not None and _ends_in_them(tokens, at, found, languages):
        found = match(tokens[: found.end - 1], at, languages)  # "mesial rest on | both"
    if (
        found is not None
        and (no := _has_no(tokens, at, found))
        and not _names_teeth(tokens, found.end, languages)
    ):
        found = match(
            tokens[:no], at, languages
        )  # "has no allergies", "il n'y a pas de torus": no teeth are gone
        if found is None:
            return Item("filler", at, no, "filler")
    if found is None:
        return None
    meaning = min(found.meanings, key=lambda one: _ORDER.index(one.kind) if one.kind in _ORDER else 99)
    if meaning.kind == "heading" and meaning.identifier == "identity":
        meaning = found.of("filler") or meaning
    if (
        meaning.kind == "role"
        and meaning.identifier == "nothing"
        and any(tokens[place].folded in listed("negations") for place in range(at, found.end))
    ):
        meaning = found.of("negation") or meaning  # "nicht" is no "nichts", though their stems are one
    role = found.of("role")
    if meaning.identifier == "leave_open" and role is not None and role.identifier == "absent":
        meaning = role  # "no replacement" is said of teeth that are gone
    kind, value = meaning.kind, meaning.identifier
    if kind == "spoken":
        return _spoken(tokens, at, found, int(value), languages)
    if value == "nor" and tokens[at].folded == "noch" and not _has_neither(tokens, at):
        return Item("filler", at, found.end, "filler", found)
    if kind == "join":
        joins = {one.identifier for one in found.meanings if one.kind == "join"}
        value = next(one for one in _JOIN_ORDER if one in joins)
        kind = value
        if tokens[at].text == ",":
            kind = "comma"
    if kind == "correction":
        return Item("stop", at, found.end, "correction", found, extra={"correction": True})
    if kind == "degree":
        return Item("word", at, found.end, "degree")
    if kind == "likely":
        value, choice, *beside = value.split(":")
        return Item("retainer", at, found.end, value, found, extra={"likely": choice, "beside": bool(beside)})
    if kind in ("finding", "hint"):
        path, _, stated = value.partition("=")
        extra = {"understood": True} if kind == "hint" else {}
        return Item("fact", at, found.end, _plain_value(stated), found, path, extra)
    if kind == "role" and value == "clasp" and (bare := found.of("bare")) is not None:
        kind, value = "bare", bare.identifier  # "bar" alone: a connector, if the sentence has no teeth for it
    written = "".join(token.folded for token in tokens[at : found.end]) if kind in ("arch", "group") else ""
    return Item(kind, at, found.end, value, found, extra={"written": written} if written else {})


def _plain_value(stated: str) -> Any:
    """A value as the lexicon writes it: a flag, a grade, or an identifier."""
    return int(stated) if stated.isdigit() else {"true": True, "false": False}.get(stated, stated)


def _ends_in_them(tokens: Sequence[Token], at: int, found: Match, languages: Sequence[str]) -> bool:
    """Whether the last word of a phrase begins words for teeth named before ("of both")."""
    last = found.end - 1
    role = found.of("role")
    carried = found.of("join", "rest", "site") is not None or (
        role is not None and role.identifier in _CARRIED
    )
    if last == at or not carried or found.of("filler") is not None:
        return False
    them = match(tokens, last, languages)
    return them is not None and them.of("them") is not None and not _names_teeth(tokens, them.end, languages)


def _has_no(tokens: Sequence[Token], at: int, found: Match) -> int:
    """Where a denial ends words for missing teeth and denies what follows ("has no", "n'y a pas de"), or 0."""
    follows = found.end < len(tokens) and tokens[found.end].is_word
    only = listed("of_teeth_only")
    if follows and any(one.kind == "role" and lx.fold(one.phrase) in only for one in found.meanings):
        return at + 1
    last = found.end - 1 - (tokens[found.end - 1].folded in ("de", "d"))
    denies = last > at and tokens[last].folded in listed("negations")
    return last if found.of("role") is not None and follows and denies else 0


def _spoken(tokens: Sequence[Token], at: int, found: Match, number: int, languages: Sequence[str]) -> Item:
    """A number in words: an age where years follow; else a number that may be one beside words for a person."""
    after = match(tokens, found.end, languages) if found.end < len(tokens) else None
    if after is not None and after.of("years") is not None:
        return Item("age", at, after.end, number)
    return Item("number", at, found.end, number, extra={"spoken": True})


def _has_neither(tokens: Sequence[Token], at: int) -> bool:
    """Whether a German "noch" goes with a "weder" before it; else it only says "still"."""
    return any(token.folded == "weder" for token in tokens[max(0, at - _NEITHER_BEFORE) : at])


def _names_teeth(tokens: Sequence[Token], at: int, languages: Sequence[str]) -> bool:
    """Whether a tooth is named here: a number, a name, or a side before one."""
    if at >= len(tokens):
        return False
    found = match(tokens, at, languages)
    named = (
        found is not None and found.of("name", "group", "quadrant", "side", "arch", "relative") is not None
    ) or (found is not None and any(one.identifier == "abutments.tooth" for one in found.meanings))
    skipped = found is not None and found.of("filler", "counted") is not None
    return tokens[at].is_number or named or (skipped and _names_teeth(tokens, at + 1, languages))


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
    if at > 0 and tokens[at + 1].is_number and tokens[at - 1].folded in listed("ends_with"):
        return not tokens[at + 1].glued
    short = at > 0 and tokens[at - 1].folded in listed("abbreviations") and tokens[at - 1].text != "I"
    return not (tokens[at + 1].glued or short)


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
    if (end := _ratio(tokens, at)) is not None:
        return Item("word", at, end, "date")
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
    if (
        len(token.text) == 1
        and at + 1 < len(tokens)
        and tokens[at + 1].glued
        and tokens[at + 1].folded == "s"
    ):
        return Item("number", at, at + 2, int(token.text), extra={"plural": True})
    of_that_number = at + 1 < len(tokens) and tokens[at + 1].glued and tokens[at + 1].folded in _NUMBERED
    if of_that_number and len(token.text) == 2:
        return Item("number", at, at + 2, int(token.text))  # "der 18er"
    if of_that_number and len(token.text) == 1 and token.text in "12345678":
        plural = {"plural": tokens[at + 1].folded == "ern"}
        return Item(
            "name", at, at + 2, token.text, extra=plural
        )  # "6er": German for the sixth tooth from the midline
    if len(token.text) > 8 or token.text.startswith("0") or re.fullmatch(r"(19|20)\d\d", token.text):
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


def _ratio(tokens: Sequence[Token], at: int) -> int | None:
    """Where a ratio or a time of day ends that begins here (``1:1``, ``14:30``)."""
    parts = tokens[at : at + 3]
    glued = len(parts) == 3 and parts[1].text == ":" and parts[1].glued and parts[2].glued
    return at + 3 if glued and parts[2].is_number else None


def _date(tokens: Sequence[Token], at: int) -> int | None:
    """Where a date ends that begins here: three numbers with glued marks between, a year last; or ``12/05``."""
    parts = tokens[at : at + 5]
    if (
        len(parts) > 2
        and len(parts[0].text) == 1
        and parts[1].text == "."
        and parts[1].glued
        and parts[2].text in ("10", "11", "12")
        and parts[2].glued
    ):
        return at + 3  # "5.12": no tooth and no list of them
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
    if (
        token.text in ".,"
        and at + 1 < len(tokens)
        and tokens[at + 1].is_number
        and tokens[at + 1].glued
        and not (at and token.glued and tokens[at - 1].is_number)
        and tokens[at + 1].text.startswith("0")
    ):
        return Item("measure", at, at + 2, float(f"0.{tokens[at + 1].text}"), extra={"unit": "mm"})  # ".010"
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
    ranged = at > 0 and (tokens[at - 1].text == "#" or tokens[at - 1].text in _DASHES)
    alone = None if ranged or follower is None else match(tokens[: end + 1], end, languages)  # "3 years ago"
    for found in (follower, alone, hyphened):
        if found is not None and _is_and(tokens, end, found, languages):
            continue
        years = found.of("years") if found else None
        unit = found.of("unit") if found else None
        if found is not None and years is not None:
            return Item("age", at, found.end, int(float(text)))
        if unit is not None and unit.phrase in ("x", "×"):
            if float(text) <= _MOST_COUNTED and found is not None:
                return Item("filler", at, found.end, "filler")
            continue
        if found is not None and found.of("before") and _is_degree(tokens, found.end):
            continue  # "31 degré 2": a tooth and the degree of its mobility
        if found is not None and unit is not None and found.of("role", "join") is None:
            return Item("measure", at, found.end, float(text), extra={"unit": unit.phrase})
    if "." in text and text.startswith("0"):
        return Item("measure", at, end, float(text), extra={"unit": "mm"})
    return None


def _is_degree(tokens: Sequence[Token], at: int) -> bool:
    """Whether a small number, Arabic or Roman, stands here."""
    return at < len(tokens) and tokens[at].folded in ("0", "1", "2", "3", "i", "ii", "iii")


def _is_and(tokens: Sequence[Token], at: int, found: Match, languages: Sequence[str]) -> bool:
    """Whether a lone "y" joins two numbers and is no short form of years."""
    joins = languages[0] != "en" or (found.end < len(tokens) and tokens[found.end].is_number)
    return tokens[at].folded == "y" and found.end == at + 1 and joins


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


def _part_at_slashes(items: Sequence[Item], tokens: Sequence[Token]) -> None:
    """Two slashes, or one with spaces around it that stands beside no list, part phrases ("36, 46 ersetzen / 35 RPI").

    Between two parts that both have numbers it ends a sentence, else it only counts as a comma.
    """
    slashes = [at for at, item in enumerate(items) if item.kind == "and" and tokens[item.start].text == "/"]
    twice = {at for at in slashes if at + 1 in slashes and tokens[items[at + 1].start].glued}
    for at in twice:
        items[at].kind, items[at + 1].kind = "hard", "filler"
    for at in slashes:
        if at in twice or at - 1 in twice or not 0 < at < len(items) - 1:
            continue
        spaced = not tokens[items[at].start].glued and not tokens[items[at + 1].start].glued
        listed = items[at - 1].kind in _TOOTH and items[at + 1].kind in _TOOTH
        if spaced and not listed:
            numbered = all(any(one.kind == "number" for one in _part(items, at, step)) for step in (-1, 1))
            items[at].kind = "hard" if numbered else "comma"


def _part(items: Sequence[Item], at: int, step: int) -> Iterator[Item]:
    """The items of the part that begins, or ends, beside a slash."""
    at += step
    while 0 <= at < len(items) and items[at].kind not in SENTENCE and items[at].value != "/":
        yield items[at]
        at += step


def _beside_word(items: Sequence[Item], at: int) -> bool:
    return items[at - 1].kind != "number" or items[at + 1].kind not in ("number", "quadrant", "side", "name")
