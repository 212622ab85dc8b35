"""What stands beside an item of an order: the next one that says something, and what its sentence speaks of."""

from collections.abc import Sequence

from recommender.orders.items import Item, past

NAMES = ("number", "name", "group")
SAYS = ("retainer", "rest", "unsettled")
QUIET = ("filler", "counted", "all", "colon")


def same_part(items: Sequence[Item], one: int, other: int) -> bool:
    """Whether two places lie in one part of a sentence: commas of a list do not part it, brackets do."""
    low, high = sorted((one, other))
    if any(items[i].kind in ("open", "close") for i in range(low, high)):
        return False
    between = [i for i in range(low, high) if items[i].kind == "comma"]
    return all(
        items[i - 1].kind in NAMES and items[i + 1].kind in NAMES for i in between if 0 < i < len(items) - 1
    )


def is_gone(items: Sequence[Item], sentence: range) -> bool:
    """Whether a sentence says that teeth are missing."""
    return any(items[at].kind == "role" and items[at].value in ("missing", "others") for at in sentence)


def next_to(items: Sequence[Item], at: int, step: int, skipped: Sequence[str] = QUIET) -> Item | None:
    """The next item in steps of ``step`` that is not of a skipped kind, or ``None``."""
    at = past(items, at + step, step, skipped)
    return items[at] if 0 <= at < len(items) else None
