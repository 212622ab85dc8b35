"""Figures of an order: numbers that may be teeth, digits on a midline, dates and ratios, measures and ages."""

import re
from collections.abc import Sequence
from functools import cache

from recommender.domain import lexicon as lx
from recommender.domain.dentition import is_tooth
from recommender.orders.items import Item
from recommender.orders.phrases import Match, match
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

# Endings that make a German name of a tooth of its number.
_NUMBERED = ("er", "ers", "ern")
DASHES = ("-", "–", "—")
BARS = ("|", "¦", "│")
_MOST_COUNTED = 8
_AGED = "jahrig"
_HOUR, _MINUTES = re.compile("[01]?[0-9]|2[0-3]"), re.compile("[0-5][0-9]")
_SHORTEST_TELEPHONE, _SHORTEST_LOCAL, _BEFORE_EXTENSION = 8, 7, 5


def number(tokens: Sequence[Token], at: int) -> Item:
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
    if (side := beside_bar(tokens, at)) is not None:
        return Item("number", at, at + 2 if side == "right" else at + 1, int(token.text), extra={"bar": side})
    if (end := _ratio(tokens, at)) is not None:
        return Item("word", at, end, "date")
    if (end := _date(tokens, at) or _clock(tokens, at) or _telephone(tokens, at)) is not None:
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
    if at + 1 < len(tokens) and tokens[at + 1].glued and tokens[at + 1].folded in listed("endings_of_ordinals"):
        return Item("word", at, at + 2, token.text)  # "1st and 2nd premolars"
    if _is_extension(tokens, at):
        return Item("word", at, at + 1, "date")
    if len(token.text) > 8 or token.text.startswith("0") or re.fullmatch(r"(19|20)\d\d", token.text):
        return Item("word", at, at + 1, token.text)
    return Item("number", at, at + 1, int(token.text))


def _is_extension(tokens: Sequence[Token], at: int) -> bool:
    """Whether a number is an inner line of the practice ("call me on ext 21"); alone "ext" may say "extract"."""
    last = at - 1 - (at > 1 and tokens[at - 1].text == ".")
    if last < 1 or tokens[last].folded not in listed("telephone_extensions"):
        return False
    before = {token.folded for token in tokens[max(0, last - _BEFORE_EXTENSION) : last]}
    return bool(before & listed("telephones"))


def beside_bar(tokens: Sequence[Token], at: int) -> str | None:
    """The side of digits written on a midline: ``654|`` on the patient's right, ``|56`` on the left."""
    if not re.fullmatch("[1-8]{1,8}", tokens[at].text):
        return None
    if at + 1 < len(tokens) and tokens[at + 1].text in BARS and tokens[at + 1].glued:
        return "right"
    if at > 0 and tokens[at - 1].text in BARS and tokens[at].glued:
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


def _clock(tokens: Sequence[Token], at: int) -> int | None:
    """Where a time of day with a full stop ends that begins here (``10.40``); two numbers of teeth are none."""
    parts = tokens[at : at + 3]
    if len(parts) < 3 or parts[1].text != "." or not (parts[1].glued and parts[2].glued):
        return None
    if not (_HOUR.fullmatch(parts[0].text) and _MINUTES.fullmatch(parts[2].text)):
        return None
    goes_on = (
        at + 4 < len(tokens) and tokens[at + 3].glued and tokens[at + 4].glued and tokens[at + 4].is_number
    )
    begun = at > 1 and parts[0].glued and tokens[at - 1].text == "." and tokens[at - 2].is_number
    teeth = is_tooth(int(parts[0].text)) and is_tooth(int(parts[2].text))
    return None if goes_on or begun or teeth else at + 3


def _telephone(tokens: Sequence[Token], at: int) -> int | None:
    """Where a telephone number ends that begins here (``06 12 34 56 78``, ``0171/22 33 44``, ``555-0142 ext 12``)."""
    nought = tokens[at].text.startswith("0")
    digits, end, last = "", at, at
    while end < len(tokens) and (tokens[end].is_number or tokens[end].text in "-–/.()"):
        if not nought and end > at and not tokens[end].glued:
            break
        digits += tokens[end].text if tokens[end].is_number else ""
        end += 1
        last = end if tokens[end - 1].is_number else last
    parts = [token.text for token in tokens[at:last] if token.is_number]
    hyphened = len(parts) > 1 and all(len(part) > 2 for part in parts) and tokens[at + 1].text in DASHES
    if not (nought or hyphened) or len(digits) < (_SHORTEST_TELEPHONE if nought else _SHORTEST_LOCAL):
        return None
    inner = last + 1 < len(tokens) and tokens[last].folded in listed("telephone_extensions")
    return last + 2 if inner and tokens[last + 1].is_number else last


def measure(tokens: Sequence[Token], at: int, languages: Sequence[str]) -> Item | None:
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
    ranged = at > 0 and (tokens[at - 1].text == "#" or tokens[at - 1].text in DASHES)
    alone = None if ranged or follower is None else match(tokens[: end + 1], end, languages)  # "3 years ago"
    for found, start in ((follower, end), (alone, end), (hyphened, end + 1)):
        if found is not None and found.of("finding", "hint") and tokens[start].folded.startswith(_AGED):
            return Item("age", at, start, int(float(text)))  # "59-jährigen Patienten" says both
        if found is not None and _is_and(tokens, end, found, languages):
            continue
        if found is not None and tokens[start].folded in listed("contrasts"):
            continue  # "14 mais" is no day of May
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
            return Item("measure", at, found.end, float(text), extra={"unit": _length(unit.phrase)})
    if "." in text and text.startswith("0"):
        return Item("measure", at, end, float(text), extra={"unit": "mm"})
    return None


def _length(unit: str) -> str:
    """A unit in its short form, where it is one of length that is written out."""
    return _lengths().get(lx.fold(unit), unit)


@cache
def _lengths() -> dict[str, str]:
    """The words for units of length, and the short form of each."""
    named = lx.document("order")["lengths"]
    return {lx.fold(phrase): unit for unit, words in named.items() for _, phrase in lx.spoken(words)}


def _is_degree(tokens: Sequence[Token], at: int) -> bool:
    """Whether a small number, Arabic or Roman, stands here."""
    return at < len(tokens) and tokens[at].folded in ("0", "1", "2", "3", "i", "ii", "iii")


def _is_and(tokens: Sequence[Token], at: int, found: Match, languages: Sequence[str]) -> bool:
    """Whether a lone "y" joins two numbers and is no short form of years."""
    joins = languages[0] != "en" or (found.end < len(tokens) and tokens[found.end].is_number)
    return tokens[at].folded == "y" and found.end == at + 1 and joins
