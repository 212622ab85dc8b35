"""Words that say that teeth remain ("33 to 43 only", "are left"), where they mean no side and no limit."""

from collections.abc import Sequence

from recommender.orders.items import Item
from recommender.orders.neighbours import NAMES, SAYS, next_to, same_part
from recommender.orders.text import Token

# An English "left" that says that teeth are left, and what has to stand before the list for it.
LEFT = "left"
_LEFT_AFTER = ("only", "standing")
_HAVING = ("has", "have", "had", "hat", "haben", "tiene", "conserva", "possede", "presente", "got")
_HAS = ("are", "has", "have", "just", "still", "is")


def remaining(items: Sequence[Item], sentence: range, tokens: Sequence[Token]) -> None:
    """``he has 33 to 43 only``: an "only" beside numbers after a verb of having says which teeth stand."""
    for at in sentence:
        if items[at].kind != "only":
            continue
        before, after = (
            next_to(items, at, -1),
            next_to(items, at, 1, ("filler", "counted", "all", "colon", "on", "from")),
        )
        beside = [one for one in (before, after) if one is not None and one.kind in NAMES]
        part = [items[i] for i in sentence if same_part(items, i, at)]
        words = {tokens[i].folded for item in part for i in range(item.start, item.end)}
        said = any(item.kind in (*SAYS, "role", "connector", "replacement", "measure") for item in part)
        if beside and not said and words & set(_HAVING):
            items[at].kind, items[at].value = "role", "standing"


def says_remaining(items: Sequence[Item], sentence: range, at: int, tokens: Sequence[Token]) -> bool:
    """Whether "left" after a list says that its teeth remain: something before it says so, and no tooth follows."""
    before = items[at - 1] if at else None
    alone = items[at].end - items[at].start == 1
    if not alone or tokens[items[at].start].folded != LEFT or before is None or before.kind not in NAMES:
        return False
    after = next_to(items, at, 1, ("filler", "on"))
    if after is not None and after.kind in NAMES:
        return False
    earlier = [items[place] for place in range(sentence.start, at)]
    words = {tokens[place].folded for item in earlier for place in range(item.start, item.end)}
    return any(item.kind in _LEFT_AFTER for item in earlier) or bool(words & set(_HAS))


def nothing_left(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    """Whether a "left" only says that nothing remains ("nothing left behind 34")."""
    before = items[at - 1] if at else None
    return (
        tokens[items[at].start].folded == LEFT
        and before is not None
        and before.kind == "role"
        and before.value == "nothing"
    )
