"""Words that say the same once more of other teeth ("another on 16", "15 ditto", "same on 23")."""

from collections.abc import Sequence

from recommender.domain import lexicon as lx
from recommender.orders.items import SENTENCE, Item, is_role
from recommender.orders.neighbours import NAMES, SAYS, next_to
from recommender.orders.vocabulary import listed


def said_again(items: list[Item]) -> None:
    """``an Akers on 26 and another on 16``, ``17 Akers, 15 ditto``, ``13 cingulum rest, no arm. Same on 23``: what was
    said last of teeth, once more, where teeth stand beside it."""
    said: list[Item] = []
    named = False
    at = 0
    while at < len(items):
        item = items[at]
        if item.kind in NAMES:
            named = True
        elif item.kind in (*SAYS, "site", "negation") or is_role(item, "clasp", "rest"):
            said = [*([] if named else said), item]
            named = False
        elif item.kind == "again":
            copies = _copies(item, said) if _teeth_beside(items, at) else []
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


def _teeth_beside(items: Sequence[Item], at: int) -> bool:
    """Whether teeth follow a word, or go before it at the end of its part."""
    quiet = ("filler", "on", "from", "colon", "also", "counted")
    following = next_to(items, at, 1, quiet)
    if following is not None and following.kind in (*NAMES, "quadrant", "side"):
        return True
    before = next_to(items, at, -1, quiet)
    ends = following is None or following.kind in (*SENTENCE, "comma", "close", "and")
    return ends and before is not None and before.kind in (*NAMES, "quadrant", "side")
