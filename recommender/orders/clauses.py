"""What the words of one clause mean together: a wish that nothing shows, letters that stand for clasps.

Passes over the items of an order before its lists of teeth are made.
"""

from collections.abc import Sequence
from itertools import pairwise

from recommender.domain import lexicon as lx
from recommender.orders.items import PART, Item, is_role, parts, words_in
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed
from recommender.orders.wishes import with_wishes

_CLASPS = "prescription.retainers"
_PASSED = ("filler", "mark", "on", "colon", "also", "to")


def with_clauses(items: list[Item], tokens: Sequence[Token], languages: Sequence[str]) -> list[Item]:
    """The items with wishes as facts and letters for clasps as retainers."""
    _letters(items, tokens, languages)
    _lost_letters(items, tokens, languages)
    _said_in_brackets(items)
    _of_one(items, tokens)
    _none_of_it(items)
    _said_where(items, tokens)
    for first, second in pairwise(items):
        if first.kind == "role" and first.value == "nothing" and second.kind == "connector":
            first.kind = first.value = "negation"  # "nichts Einseitiges"
    return with_wishes(items, tokens)


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
    named = {item.value for item in items if item.kind == "retainer"}
    for sentence in parts(items, ("stop", "line")):
        spoken = any(_speaks_of_clasps(items[at]) for at in sentence)
        for at in sentence:
            item = items[at]
            if not spoken and known.get(tokens[item.start].text) not in named:
                continue
            alone = item.end - item.start == 1 and item.kind in ("word", "mark", "site", "filler")
            if alone and tokens[item.start].text in known and (
                _beside_number(items, at, sentence.start) or _on_number(items, at, sentence.stop)
            ):
                item.kind, item.value, item.match = "retainer", known[tokens[item.start].text], None
                item.extra = {"letter": True}


def _lost_letters(items: Sequence[Item], tokens: Sequence[Token], languages: Sequence[str]) -> None:
    """``f: 35 36 37``, ``38, 48 f``: on forms a letter beside numbers says that these teeth are missing."""
    written = lx.spoken(lx.document("order")["letters_missing"])
    known = {letter for language, letter in written if language in languages}
    for at, item in enumerate(items):
        if item.end - item.start > 1 or tokens[item.start].text not in known:
            continue
        kinds = [one.kind for one in items[at + 1 : at + 3]]
        led = kinds == ["colon", "number"]
        ends = not kinds or kinds[0] in PART
        if led or (ends and at and items[at - 1].kind == "number"):
            item.kind, item.value, item.match = "role", "missing", None


def _said_in_brackets(items: Sequence[Item]) -> None:
    """``cast clasps (Akers) on 25``: the kind of clasp in brackets stands between the word for clasps and its teeth."""
    for opened, kind, closed, after in zip(items, items[1:], items[2:], items[3:], strict=False):
        if (
            opened.kind == "open"
            and closed.kind == "close"
            and kind.kind in ("retainer", "rest")
            and after.kind == "on"
        ):
            opened.kind = closed.kind = "filler"


def _none_of_it(items: Sequence[Item]) -> None:
    """``Bruxism: none``: a finding with a colon after it that "none" answers is not stated."""
    for at in range(2, len(items)):
        ended = at + 1 == len(items) or items[at + 1].kind in PART
        finding = items[at - 2].kind == "fact" and not items[at - 2].path.startswith("abutments.")
        if finding and ended and items[at - 1].kind == "colon" and is_role(items[at], "nothing"):
            for item in items[at - 2 : at + 1]:
                item.kind, item.path = "filler", ""


def _said_where(items: Sequence[Item], tokens: Sequence[Token]) -> None:
    """``the bar to be a lingual one``: a bar, or a plate, of which its place in the mouth is said after it."""
    for at, item in enumerate(items):
        if item.kind != "bare":
            continue
        for after in items[at + 1 :]:
            if words_in(after, tokens) & listed("inner_side"):
                item.extra["placed"] = True
                after.kind = after.value = "filler"
                break
            if after.kind not in ("filler", "to"):
                break


def _of_one(items: Sequence[Item], tokens: Sequence[Token]) -> None:
    """Marks clasps that an article says to be one: ``un anillo`` lies on one tooth, ``je eine Klammer`` on each."""
    for each, article, item in zip([None, *items], items, items[1:], strict=False):
        one = article.kind == "filler" and tokens[article.end - 1].folded in listed("articles_of_one")
        many = each is not None and tokens[each.end - 1].folded in listed("each_of_them")
        if one and not many and item.kind == "retainer":
            item.extra["one"] = True


def _speaks_of_clasps(item: Item) -> bool:
    headed = item.match is not None and any(
        one.kind == "heading" and one.identifier == _CLASPS for one in item.match.meanings
    )
    return headed or item.kind == "retainer" or (item.kind == "role" and item.value == "clasp")


def _on_number(items: Sequence[Item], at: int, stop: int) -> bool:
    """Whether a place with a number follows right after an item ("E an 35")."""
    after = [items[place].kind for place in range(at + 1, min(at + 3, stop))]
    return after == ["on", "number"] and (at == 0 or items[at - 1].kind in (*PART, "colon", "and"))


def _beside_number(items: Sequence[Item], at: int, start: int) -> bool:
    """Whether a number ends right before an item, words that say nothing and brackets between."""
    at -= 1
    while at >= start and items[at].kind in (*_PASSED, "open", "close", "again", "all"):
        at -= 1
    return at >= start and items[at].kind == "number"
