"""Dashes and slashes that part phrases, and those that only join two figures."""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from recommender.domain.dentition import is_tooth
from recommender.orders.figures import DASHES
from recommender.orders.items import SENTENCE, Item, is_role
from recommender.orders.text import Token

_QUADRANT = 10
_TOOTH = ("number", "name", "quadrant", "side", "arch", "group")


def part_at_dashes(items: Sequence[Item], tokens: Sequence[Token]) -> None:
    """A dash with spaces around it parts phrases in an order that uses one so beside a word; else it means "to"."""
    dashes = [
        index
        for index, item in enumerate(items)
        if item.kind == "to" and tokens[item.start].text in DASHES and 0 < index < len(items) - 1
        and not tokens[item.start].glued and not tokens[items[index + 1].start].glued
    ]  # fmt: skip
    if any(
        "number" not in (items[at - 1].kind, items[at + 1].kind) or _beside_word(items, at) for at in dashes
    ):
        for at in dashes:
            items[at].kind = "comma"
    for at, item in enumerate(items):
        if item.kind == "to" and tokens[item.start].text in DASHES and _lists(items, at, tokens):
            item.kind = "and"


def _lists(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    """Whether a dash joins single numbers and spans none: one of a chain that skips teeth ("35-37-45-47"), or between
    numbers that its range would hold ("15 14 - 24 25", "17, 16 - 26, 27")."""
    chain = [at]
    glued = tokens[items[at].start].glued
    for step in (-1, 1):
        place = at + 2 * step
        while (
            0 <= place < len(items) and items[place].kind in ("to", "and") and _is_dash(items, place, tokens)
        ):
            if tokens[items[place].start].glued != glued:
                if not glued:
                    return True  # "16-15 – 25-27": what a wide dash stands between are ranges
                break
            chain.append(place)
            place += 2 * step
    if len(chain) > 1:
        ends = sorted({place + step for place in chain for step in (-1, 1)})
        numbers = [
            items[place].value for place in ends if 0 <= place < len(items) and items[place].kind == "number"
        ]
        return len(numbers) == len(ends) and any(abs(b - a) > 1 for a, b in pairwise(numbers))
    if not 0 < at < len(items) - 1 or items[at - 1].kind != "number" or items[at + 1].kind != "number":
        return False
    return any(_goes_past(items, at, step) for step in (-1, 1)) or _both_sides(items, at)


def _both_sides(items: Sequence[Item], at: int) -> bool:
    """``clasps 34 - 44``: the same tooth on both sides, beside words for what one tooth carries."""
    first, last = items[at - 1].value, items[at + 1].value
    if abs(first - last) != _QUADRANT or not (is_tooth(first) and is_tooth(last)):
        return False
    beside = (
        next((one for one in run if one.kind not in ("filler", "on", "colon", "mark")), None)
        for run in (reversed(items[: at - 1]), items[at + 2 :])
    )
    return any(
        one is not None and (one.kind in ("retainer", "rest") or is_role(one, "clasp", "rest"))
        for one in beside
    )


def _is_dash(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    return tokens[items[at].start].text in DASHES


def _goes_past(items: Sequence[Item], at: int, step: int) -> bool:
    """Whether the number before the one at a dash, on its outer side, would have begun the range."""
    near = items[at + step].value
    place = at + 2 * step
    if 0 <= place < len(items) and items[place].kind in ("comma", "and"):
        place += step
    if not 0 <= place < len(items) or items[place].kind != "number":
        return False
    far, other = items[place].value, items[at - step].value
    if near // 10 == other // 10 or not (is_tooth(near) and is_tooth(far) and is_tooth(other)):
        return False
    return bool(far == near + 1 and far % 10 > near % 10)


def part_at_slashes(items: Sequence[Item], tokens: Sequence[Token]) -> None:
    """Two slashes, or one with spaces around it that stands beside no list, part phrases ("36, 46 ersetzen / 35 RPI").

    Between two parts that both have numbers it ends a sentence, else it only counts as a comma.
    """
    slashes = [at for at, item in enumerate(items) if item.kind == "and" and tokens[item.start].text == "/"]
    twice = {at for at in slashes if at + 1 in slashes and tokens[items[at + 1].start].glued}
    for at in twice:
        items[at].kind, items[at + 1].kind = "hard", "filler"
    for at in slashes:
        if at in twice or at - 1 in twice or not 0 < at < len(items) - 1:
            continue
        spaced = not tokens[items[at].start].glued and not tokens[items[at + 1].start].glued
        listed = items[at - 1].kind in _TOOTH and items[at + 1].kind in _TOOTH
        if spaced and not listed:
            numbered = all(any(one.kind == "number" for one in _part(items, at, step)) for step in (-1, 1))
            items[at].kind = "hard" if numbered else "comma"


def _part(items: Sequence[Item], at: int, step: int) -> Iterator[Item]:
    """The items of the part that begins, or ends, beside a slash."""
    at += step
    while 0 <= at < len(items) and items[at].kind not in SENTENCE and items[at].value != "/":
        yield items[at]
        at += step


def _beside_word(items: Sequence[Item], at: int) -> bool:
    return items[at - 1].kind != "number" or items[at + 1].kind not in ("number", "quadrant", "side", "name")
