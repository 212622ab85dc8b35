"""Words that say the same once more of other teeth ("another on 16", "15 ditto", "same on 23")."""

from collections.abc import Sequence

from recommender.domain import lexicon as lx
from recommender.orders.items import SENTENCE, Item, is_role, past
from recommender.orders.neighbours import NAMES, SAYS, next_to
from recommender.orders.vocabulary import listed

_WORDS = ("filler", "word", "unit")
_BETWEEN = (*_WORDS, "on", "from", "colon", "also", "counted", "comma", "negation", "mark")
_JOINS = ("on", "comma", "and")


def said_again(items: list[Item]) -> None:
    """``an Akers on 26 and another on 16``, ``17 Akers, 15 ditto``, ``13 cingulum rest, no arm. Same on 23``: what was
    said last of teeth, once more, where teeth stand beside it."""
    said: list[Item] = []
    named = False
    at = 0
    while at < len(items):
        item = items[at]
        if item.kind in NAMES or (item.kind in SENTENCE and item.kind != "hard"):
            named = True  # what stands before it is said; what follows begins anew
        elif item.kind in (*SAYS, "site", "negation") or is_role(item, "clasp", "rest"):
            goes_on = not named or (_is_rest(item) and _with_clasp(items, at))
            said = [*(said if goes_on else []), item]
            named = False
        elif item.kind == "again":
            kept = _kept(items, at, said)
            copies = _copies(item, kept) if _teeth_beside(items, at) else []
            said = kept if copies else said
            items[at : at + 1] = copies or [Item("filler", item.start, item.end, "filler", item.match)]
            at += len(copies)
        at += 1


def _copies(item: Item, said: Sequence[Item]) -> list[Item]:
    """What was said last at the place of the word for it; "another" is another clasp."""
    another = lx.fold(item.phrase) in listed("one_more")
    kept = [one for one in said if not another or one.kind == "retainer"]
    if not any(one.kind in ("retainer", "rest") for one in kept):
        return []
    made = [
        Item(one.kind, item.start, item.end, one.value, one.match, one.path, {**one.extra, "again": True})
        for one in kept
    ]
    parts = [
        [one] if one.kind in ("negation", "site") else [one, Item("comma", item.start, item.end, ",")]
        for one in made
    ]
    return [one for part in parts for one in part][:-1] if made[-1].kind not in ("negation", "site") else made


def _kept(items: Sequence[Item], at: int, said: Sequence[Item]) -> list[Item]:
    """What of it is said again: not the rest where another is named ("the same on 37, but with a mesial rest")."""
    place = past(items, at + 1, 1, (*_BETWEEN, *NAMES))
    if place == len(items) or not _is_rest(items[place]):
        return list(said)
    if any(one.kind in NAMES for one in items[at + 1 : place]) and _begins_anew(items, place):
        return list(said)
    return [one for one in said if not _is_rest(one)]


def _is_rest(item: Item) -> bool:
    return item.kind in ("rest", "site") or is_role(item, "rest")


def _with_clasp(items: Sequence[Item], at: int) -> bool:
    """Whether a rest goes with the clasp said of the teeth before it ("Akers on 17 with a mesial rest")."""
    if _begins_anew(items, at):
        return False
    place, joined = at - 1, False
    while place >= 0 and items[place].kind in (*_WORDS, *_JOINS):
        joined = joined or items[place].kind in _JOINS
        place -= 1
    joined = joined or (place >= 0 and bool(items[place].extra.get("again")))
    while joined and place >= 0 and items[place].kind in ("filler", "on", "colon", *NAMES):
        place -= 1
    return joined and place >= 0 and items[place].kind == "retainer"


def _begins_anew(items: Sequence[Item], at: int) -> bool:
    """Whether teeth of its own follow a rest ("the same on 37, mesial rest on 45")."""
    while at < len(items) and (_is_rest(items[at]) or items[at].kind in ("filler", "on", "colon")):
        at += 1
    return at < len(items) and items[at].kind in NAMES


def _teeth_beside(items: Sequence[Item], at: int) -> bool:
    """Whether teeth follow a word, or go before it at the end of its part."""
    quiet = ("filler", "on", "from", "colon", "also", "counted")
    following = next_to(items, at, 1, quiet)
    if following is not None and following.kind in (*NAMES, "quadrant", "side"):
        return True
    before = next_to(items, at, -1, (*quiet, "comma"))
    ends = following is None or following.kind in (*SENTENCE, "comma", "close", "and")
    other = next_to(items, at, 1, _BETWEEN)
    changed = other is not None and _is_rest(other)
    return (ends or changed) and before is not None and before.kind in (*NAMES, "quadrant", "side")
