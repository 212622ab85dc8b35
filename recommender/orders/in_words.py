"""A finding in loose words: what it is said of, and further on in the sentence what is said of it ("plaque control,
however, is good"; "riesgo de que se trague la prótesis"). Read so it is understood, and marked.
"""

import re
from collections.abc import Iterator, Sequence
from functools import cache
from typing import NamedTuple

from recommender.domain import lexicon as lx
from recommender.orders.items import SENTENCE, Item, is_role, parts
from recommender.orders.text import Token, tokens_of
from recommender.orders.vocabulary import listed

# What may stand between the two, and how many words of it.
_BETWEEN = ("filler", "word", "comma", "mark", "wears", "on", "from", "talk", "and", "heading", "colon", "all",
            "opposing", "arch", "also", "only", "counted", "before", "dentition", "to",
            "formerly", "them", "side", "seat", "years")  # fmt: skip
_FAR, _LED = 11, 3
_ROLES = ("rest_seat", "planes", "no_preparation")
_DENIES = ("negation", "nor", "another", "unsure", "condition", "except")


class _Wording(NamedTuple):
    path: str
    subject: re.Pattern[str]
    values: tuple[tuple[str | bool, re.Pattern[str]], ...]
    either: bool


@cache
def _wordings() -> tuple[_Wording, ...]:
    return tuple(
        _Wording(
            str(entry["path"]),
            _pattern(entry["said_of"]),
            tuple((value, _pattern(words)) for value, words in entry["as"].items()),
            bool(entry.get("either")),
        )
        for entry in lx.document("findings")["in_words"]
    )


def _pattern(words: dict[str, list[str]]) -> re.Pattern[str]:
    phrases = {" ".join(token.folded for token in tokens_of(phrase)) for _, phrase in lx.spoken(words)}
    return re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, sorted(phrases, key=len, reverse=True)))})(?!\w)")


def with_wordings(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with such findings as facts, each over the words that it was understood from."""
    stated = {item.path for item in items if item.kind == "fact"}
    made = list(items)
    for places in reversed([*parts(items, SENTENCE)]):
        run = made[places.start : places.stop]
        if not run:
            continue
        for wording in _wordings():
            if wording.path in stated or (found := _said(wording, run, tokens)) is None:
                continue
            first, last, value = found
            start, end = run[first].start, run[last].end
            fact = Item("fact", start, end, value, None, wording.path, {"understood": True})
            run[first : last + 1] = [fact]
        made[places.start : places.stop] = run
    return made


def _said(wording: _Wording, run: Sequence[Item], tokens: Sequence[Token]) -> tuple[int, int, str | bool] | None:
    """The first and last item of a finding in a sentence, and its value."""
    first, last = run[0].start, run[-1].end
    text, starts = "", []
    for token in tokens[first:last]:
        starts.append(len(text))
        text += token.folded + " "
    for subject in wording.subject.finditer(text):
        spans = sorted(_values(wording, text, subject), key=lambda one: abs(one[0] - subject.start()))
        for start, end, value in spans:
            low, high = min(start, subject.start()), max(end, subject.end())
            covered = [
                at
                for at, item in enumerate(run)
                if item.end > item.start
                and starts[item.start - first] < high
                and low < starts[item.end - first - 1] + len(tokens[item.end - 1].folded)
            ]
            if covered and _holds(run, covered, tokens, _negated(text[start:end])):
                return covered[0], covered[-1], value
    return None


def _values(wording: _Wording, text: str, subject: re.Match[str]) -> Iterator[tuple[int, int, str | bool]]:
    for value, pattern in wording.values:
        for one in pattern.finditer(text):
            if one.start() >= subject.end() or (wording.either and one.end() <= subject.start()):
                yield one.start(), one.end(), value


def _negated(value: str) -> bool:
    """Whether the words for a value deny something themselves ("not yet done")."""
    return bool(set(value.split()) & listed("negations"))


def _holds(run: Sequence[Item], covered: Sequence[int], tokens: Sequence[Token], negated: bool) -> bool:
    """Whether nothing of an order stands between the words of a finding, and nothing near denies it."""
    inside = run[covered[0] : covered[-1] + 1]
    around = [*run[max(0, covered[0] - _LED) : covered[0]], *run[covered[-1] + 1 : covered[-1] + _LED]]
    around += [] if negated else inside
    words = sum(token.is_word for token in tokens[inside[0].start : inside[-1].end])
    quiet = all(_is_quiet(item) or (negated and item.kind == "negation") for item in inside) and words <= _FAR
    denied = any(item.kind in _DENIES or item.value == "degree" for item in around)
    said = {token.folded for item in around for token in tokens[item.start : item.end]}
    return quiet and not denied and not said & listed("negations")


def _is_quiet(item: Item) -> bool:
    """Whether an item orders nothing by itself ("cast" and "seats" are also words of a finding)."""
    person = item.kind == "fact" and item.path == "patient.sex"
    ordering = not is_role(item, "standing", *_ROLES) and not item.extra.get("likely")
    return item.kind in _BETWEEN or person or not ordering
