"""The tokens of an order as items: the longest phrase at each place with what it is taken for, else a plain token."""

from collections.abc import Sequence
from typing import Any

from recommender.domain import lexicon as lx
from recommender.orders.dashes import part_at_dashes, part_at_slashes
from recommender.orders.figures import BARS, beside_bar, measure, number
from recommender.orders.items import Item
from recommender.orders.phrases import Match, match
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_CONCEPTS = ("retainer", "connector", "replacement", "rest", "alloy", "unsettled", "likely")
# Where one phrase means several things, what it is taken for.
_ORDER = (
    "correction", "finding", "hint", *_CONCEPTS, "numbering", "name", "group", "formerly", "degree", "all_but",
    "earlier", "quadrant", "role", "negation", "arch", "side", "relative", "join", "opposing", "heading", "them",
    "permits", "another", "site", "years", "before", "spoken", "unit", "otherwise", "again", "bare", "counted",
    "single", "filler", "talk", "dentition", "dentition_of", "wears", "respectively", "also",
)  # fmt: skip
_JOIN_ORDER = (
    "comma",
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
_NEITHER_BEFORE = 12
# What an apostrophe cuts short is no short form of a place or a side ("d'une part", "we're").
_APOSTROPHES = "'’"
_CONTRACTED = ("re", "ve", "ll", "m", "d")
_CARRIED = ("rest", "clasp", "rest_seat")
_OF_TOOTH = ("tooth", "teeth", "zahn", "dent", "diente", "pieza")


def scanned(tokens: Sequence[Token], languages: Sequence[str]) -> list[Item]:
    """Phrases, numbers, measures and marks, in the order of the text."""
    items: list[Item] = []
    at = 0
    while at < len(tokens):
        item = measure(tokens, at, languages) or _phrase(tokens, at, languages) or _plain(tokens, at)
        items.append(item)
        at = item.end
        if _opens_a_place(item, tokens):
            item.end -= 1
            items.append(Item("on", item.end, at, "on"))
    inside = False
    for item in items:
        inside = (inside or item.kind == "open") and item.kind not in ("close", "line")
        if inside and item.kind == "stop" and item.value == "!":
            item.kind = "mark"  # "except 13 (shows!)"
    part_at_dashes(items, tokens)
    part_at_slashes(items, tokens)
    return items


def _opens_a_place(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether the name of a clasp is only told by the word for a place behind it ("I en 45")."""
    last = tokens[item.end - 1].folded
    return item.kind == "retainer" and item.end - item.start > 1 and last in listed("opens_a_place")


def _number_sign(tokens: Sequence[Token], at: int, languages: Sequence[str]) -> int:
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
    denied = next(iter(languages), "") == "es"  # "gancho no. 37 y 35: Akers"
    signed = text == "nº" or (text == "no" and ((mark == 2 and not denied) or of_tooth))
    signed = signed or (text in ("n", "nr") and mark == 2)
    return mark if numbered and signed else 0


def _phrase(tokens: Sequence[Token], at: int, languages: Sequence[str]) -> Item | None:
    if (
        at > 1
        and tokens[at].glued
        and tokens[at - 1].text in "'’"
        and tokens[at].folded in listed("after_apostrophe")
    ):
        return Item("filler", at, at + 1, "filler")  # "we're"
    if _is_initial(tokens, at):
        return Item("filler", at, at + 1, "filler")
    if tokens[at].folded in listed("dotted_titles") and "fr" in languages and _is_initial(tokens, at + 2):
        return Item("fact", at, at + 2, "male", None, "patient.sex", {"understood": True})
    sign = _number_sign(tokens, at, languages)
    if sign:
        return Item("filler", at, at + sign, "filler")
    found = match(tokens, at, languages)
    if _is_contracted(tokens, at) or (_is_elided(tokens, at) and (found is None or found.end == at + 1)):
        return Item("filler", at, at + 1, "filler")
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
    if found is not None and _ends_in_pronoun(tokens, at, found, languages):
        found = match(tokens[: found.end - 1], at, languages)  # "the clasp | I think"
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
    if meaning.kind == "site" and _elided(tokens, at, found):
        return Item("filler", at, found.end, "filler")
    stressed = tokens[found.end - 1].text.lower() != tokens[found.end - 1].folded
    if meaning.kind == "join" and stressed and (them := found.of("them")) is not None:
        meaning = them  # "sobre él", but "sobre el 43"
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


def _is_initial(tokens: Sequence[Token], at: int) -> bool:
    """Whether a lone capital stands for a name after a title ("M. D", "Frau L.")."""
    if at >= len(tokens):
        return False
    dotted = at > 1 and tokens[at - 1].text == "." and tokens[at - 1].glued
    title = tokens[at - 1 - dotted].folded if at else ""
    alone = len(tokens[at].text) == 1 and tokens[at].text.isupper() and not tokens[at].glued
    return alone and (title in listed("titles") or (dotted and title in listed("dotted_titles")))


def _is_contracted(tokens: Sequence[Token], at: int) -> bool:
    """Whether a token is what an apostrophe leaves of an English verb ("we're")."""
    return (
        at > 1
        and tokens[at].folded in _CONTRACTED
        and tokens[at].glued
        and tokens[at - 1].text in _APOSTROPHES
        and tokens[at - 1].glued
    )


def _is_elided(tokens: Sequence[Token], at: int) -> bool:
    """Whether a token is a French "de" before an apostrophe."""
    return tokens[at].folded == "d" and at + 1 < len(tokens) and tokens[at + 1].text in _APOSTROPHES


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


def _ends_in_pronoun(tokens: Sequence[Token], at: int, found: Match, languages: Sequence[str]) -> bool:
    """Whether the last word of a phrase is an English "I" that begins what somebody thinks or wants."""
    last = found.end - 1
    if last == at or tokens[last].text != "I" or "en" not in languages or found.end >= len(tokens):
        return False
    after = match(tokens, found.end, languages)
    return tokens[found.end].is_word and (after is None or after.of("join", "site", "rest") is None)


def _elided(tokens: Sequence[Token], at: int, found: Match) -> bool:
    """Whether a letter for a side is what is left of a word ("d'appui", "nada d nada")."""
    if (
        found.end != at + 1
        or len(tokens[at].text) > 1
        or found.of("site") is None
        or found.end >= len(tokens)
    ):
        return False
    after = tokens[found.end]
    return (after.text in "'’" and after.glued) or after.folded in listed("after_elided")


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
    nor = found is not None and (join := found.of("join")) is not None and join.identifier == "nor"
    skipped = nor or (found is not None and found.of("filler", "counted") is not None)
    return tokens[at].is_number or named or (skipped and _names_teeth(tokens, at + 1, languages))


def _plain(tokens: Sequence[Token], at: int) -> Item:
    token = tokens[at]
    if token.is_number:
        return number(tokens, at)
    if token.folded == "s" and at and tokens[at - 1].text in "'’":
        return Item("mark", at, at + 1, token.text)
    if token.text == ".":
        return Item("stop" if _ends_sentence(tokens, at) else "mark", at, at + 1, ".")
    if token.text in BARS and at + 1 < len(tokens) and beside_bar(tokens, at + 1) == "left":
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
