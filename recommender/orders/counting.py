"""Numbers of an order that only count something, or belong to a date: no teeth."""

from collections.abc import Sequence

from recommender.orders.items import Item
from recommender.orders.text import Token

_MOST_COUNTED = 8
_MOST_PARTS = 4
_PARTS = ("retainer", "rest", "unsettled")
# Plurals after which a small number counts, where what follows says of which teeth.
_PLURALS = frozenset(
    {"rests", "clasps", "bars", "arms", "retainers", "straps", "seats", "klammern", "auflagen", "crochets", "taquets",
     "appuis", "ganchos", "apoyos", "retenedores"}
)  # fmt: skip
_OF_WHAT = ("on", "open", "colon", "number", "name", "group", "quadrant", "relative", "from")
_JOINTS = ("comma", "and", "to", "filler")


def only_counts(
    items: Sequence[Item], index: int, made: Sequence[Item], before: Item | None, tokens: Sequence[Token]
) -> bool:
    """Whether a number counts what follows it ("2 clasps", "4 incisors", "x2")."""
    item = items[index]
    if item.kind != "number" or item.value > _MOST_COUNTED or item.extra:
        return False
    if item.start and tokens[item.start].glued and tokens[item.start - 1].text in "x×":
        return True
    if item.start and tokens[item.start - 1].text == "#":
        return False
    if before is not None and before.kind in ("quadrant", "side"):
        return False
    if (
        before is not None
        and before.kind == "number"
        and made
        and (made[-1] is before or made[-1].kind in _JOINTS)
    ):
        return False
    after = items[index + 1] if index + 1 < len(items) else None
    if after is None or after.match is None:
        return False
    if after.match.of("counted") is not None or after.kind == "group":
        return True
    last = tokens[after.end - 1]
    following = items[index + 2] if index + 2 < len(items) else None
    if after.kind == "side" and following is not None:  # "the two left premolars"
        return following.kind == "group" or (
            following.kind == "name" and _is_plural(tokens[following.end - 1])
        )
    if after.kind == "name":
        return _is_plural(last)
    part = after.kind in _PARTS or (after.kind == "role" and after.value in ("clasp", "rest"))
    named = following is not None and following.kind in _OF_WHAT
    return part and item.value <= _MOST_PARTS and last.folded in _PLURALS and named


def _is_plural(token: Token) -> bool:
    return token.folded.endswith(("s", "zahne", "zahnen", "teeth")) and not token.folded.endswith("er")


def belongs_to_date(items: Sequence[Item], index: int, made: Sequence[Item], tokens: Sequence[Token]) -> bool:
    """Whether a number goes on with a date or a figure that a word before it began ("Termin 14.12.")."""
    item = items[index]
    if item.kind != "number" or len(made) < 2 or not tokens[item.start].glued:
        return False
    mark, first = made[-1], made[-2]
    return (
        mark.kind in ("mark", "and", "comma")
        and tokens[mark.start].text in "./-"
        and bool(first.extra.get("dated"))
    )
