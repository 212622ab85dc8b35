"""What the words of one clause mean together: a wish that nothing shows, letters that stand for clasps.

Passes over the items of an order before its lists of teeth are made.
"""

from collections.abc import Sequence
from itertools import pairwise

from recommender.domain import lexicon as lx
from recommender.orders.items import PART, SENTENCE, Item, parts
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_WISH = "patient.aesthetic_priority"
_CLASPS = "prescription.retainers"
_NAMES_TEETH = ("number", "name", "group", "quadrant", "connector")
_PASSED = ("filler", "mark", "on", "colon", "also", "to")
_DENIES = ("negation", "nor")


def with_clauses(items: list[Item], tokens: Sequence[Token], languages: Sequence[str]) -> list[Item]:
    """The items with wishes as facts and letters for clasps as retainers."""
    _letters(items, tokens, languages)
    for first, second in pairwise(items):
        if first.kind == "role" and first.value == "nothing" and second.kind == "connector":
            first.kind = first.value = "negation"  # "nichts Einseitiges"
    return _wishes(items, tokens)


def _wishes(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """``weil sie beim Lachen auf keinen Fall Metall zeigen möchte``: a clause that denies that metal is seen, without
    naming a tooth, says that the look matters."""
    made = list(items)
    for places in reversed(list(parts(items, PART))):
        start = places.start
        part = items[start : places.stop]
        if any(item.kind in _NAMES_TEETH or item.path == _WISH for item in part):
            continue
        words = [{token.meant or token.folded for token in tokens[item.start : item.end]} for item in part]
        seen = [at for at, held in enumerate(words) if held & listed("wish_seen")]
        things = [at for at, held in enumerate(words) if held & listed("wish_things")]
        nothing = [at for at, held in enumerate(words) if held & listed("wish_nothing")]
        denied = nothing + [at for at, item in enumerate(part) if _denies(item)]
        if not (seen and denied and (things or nothing)):
            continue
        first, last = min(*seen, *things, *denied), max(*seen, *things, *denied)
        fact = Item("fact", part[first].start, part[last].end, "high", None, _WISH, {"understood": True})
        made[start + first : start + last + 1] = [fact]
    return made


def _denies(item: Item) -> bool:
    return item.kind in _DENIES or (item.kind == "role" and item.value == "nothing")


def _letters(items: Sequence[Item], tokens: Sequence[Token], languages: Sequence[str]) -> None:
    """``Klammern: 17 E, 24 E, 13 I``: a capital beside a tooth, in a sentence that speaks of clasps, is its clasp."""
    known = {
        letter: kind
        for kind, entry in lx.document("order")["clasp_letters"].items()
        for language, letter in lx.spoken(entry)
        if language in languages
    }
    if not known:
        return
    for sentence in parts(items, SENTENCE):
        if not any(_speaks_of_clasps(items[at]) for at in sentence):
            continue
        for at in sentence:
            item = items[at]
            alone = item.end - item.start == 1 and item.kind in ("word", "mark", "site", "filler")
            if alone and tokens[item.start].text in known and _beside_number(items, at, sentence.start):
                item.kind, item.value, item.match = "retainer", known[tokens[item.start].text], None
                item.extra = {"letter": True}


def _speaks_of_clasps(item: Item) -> bool:
    headed = item.match is not None and any(
        one.kind == "heading" and one.identifier == _CLASPS for one in item.match.meanings
    )
    return headed or item.kind == "retainer" or (item.kind == "role" and item.value == "clasp")


def _beside_number(items: Sequence[Item], at: int, start: int) -> bool:
    """Whether a number ends right before an item, words that say nothing and brackets between."""
    at -= 1
    while at >= start and items[at].kind in (*_PASSED, "open", "close", "again", "all"):
        at -= 1
    return at >= start and items[at].kind == "number"
