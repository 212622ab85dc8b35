"""Words about lost teeth that change each other: gone but not replaced, an extraction told in two words.

A pass over the items before their sentences are cut into phrases.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from recommender.domain import lexicon as lx
from recommender.orders.items import SENTENCE, Item
from recommender.orders.refs import Teeth
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_BETWEEN = (
    "filler",
    "comma",
    "mark",
    "open",
    "close",
    "and",
    "word",
    "talk",
    "on",
    "only",
    "nor",
    "negation",
)

# A clause that two commas set off may stand between an auxiliary and its participle ("wird, bevor ..., gezogen").
_INNER_CLAUSE = 2


def replaces(item: Item) -> bool:
    """Whether a word for missing teeth says that they are replaced, not only that they are gone."""
    phrase = lx.fold(item.phrase)
    return any(part in phrase for part in listed("words_of_replacing"))


def with_losses(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with what is not replaced, or still to be extracted, said of the right teeth."""
    for at, item in enumerate(items):
        if item.kind == "teeth":
            _bounded(items, at, tokens)
        following = items[at + 1].kind if at + 1 < len(items) else "stop"
        added = item.kind == "and" and at and items[at - 1].kind == "teeth" and tokens[item.start].is_word
        if added and following in (*SENTENCE, "comma"):
            item.kind = "also"  # "36 also"
    for at, item in enumerate(items):
        if item.kind != "role":
            continue
        if item.value == "missing" and replaces(item):
            _denied(items, at)
        if item.value == "absent":
            _nearest(items, at)
        elif item.value == "missing" and _is_participle(item) and _in_future(items, at, tokens):
            item.value = "extraction"
    return items


def with_all_replaced(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """``14, 15 and 24 lost, all to be replaced (but 24)``: no new list; an exception is not replaced."""
    gone = False
    for at, item in enumerate(items):
        gone = gone or (item.kind == "role" and item.value == "extraction")
        if item.kind != "role" or item.value not in ("missing", "others"):
            continue
        whole = [] if item.value == "others" else _whole(items, at, tokens)
        spared = _spared_after(items, max([at, *whole]))
        if item.value == "others" or (gone and whole):
            if spared is not None:
                for one in items[spared : spared + 3]:
                    if one.kind == "negation":
                        one.kind = one.value = "filler"
                items[spared].kind, items[spared].value = "role", "absent"
                items[spared].extra["excepted"] = True
                items[spared - 1].kind = (
                    "comma" if items[spared - 1].kind == "filler" else items[spared - 1].kind
                )
                item.extra["spares"] = True
            if item.value != "others":
                joint = {at - 1} if at and items[at - 1].kind in ("and", "comma") else set()
                for place in {at, *whole, *joint} - {spared}:
                    items[place].kind = items[place].value = "filler"
                if spared is not None:
                    item.kind = "comma"
                item.extra["all_replaced"] = spared is None
        gone = gone or item.value == "missing"
    return items


def _whole(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> list[int]:
    """Where "all", "all three" or "them all" stands beside a word of replacing that names no teeth itself."""
    if not replaces(items[at]):
        return []
    found: list[int] = []
    for step in (-1, 1):
        place = at + step
        while 0 <= place < len(items) and (
            items[place].kind in ("filler", "all", "all_but", "counted", "side")
            or _counts_all(items, place, tokens)
        ):
            if items[place].kind != "filler" or _counts_all(items, place, tokens):
                found.append(place)
            place += step
            if found and items[found[-1]].kind == "all_but":
                return found
        if step > 0 and 0 <= place < len(items) and items[place].kind in ("teeth", "colon"):
            return []
    return (
        found
        if any(items[one].kind in ("all", "all_but") or _counts_all(items, one, tokens) for one in found)
        else []
    )


def _counts_all(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    """Whether an item only counts the teeth named before ("les 3", "los tres"), or says "all" of them."""
    item = items[at]
    everything = item.kind == "teeth" and [ref.relative for ref in item.value.refs] == ["all"]
    numeral = item.end - item.start == 1 and (
        tokens[item.start].folded in listed("numerals") or tokens[item.start].text in "23456789"
    )
    before = tokens[item.start - 1].folded if item.start else ""
    if item.kind == "teeth" and len(item.value.refs) == 1 and item.end - item.start == 2:
        before, numeral = tokens[item.start].folded, tokens[item.end - 1].text in "23456789"
    return everything or (
        item.kind in ("teeth", "filler", "number") and numeral and before in listed("of_several")
    )


def _spared_after(items: Sequence[Item], at: int) -> int | None:
    """The place of an "except" right after, teeth following it."""
    at += items[at].kind != "all_but"
    while at < len(items) and items[at].kind in ("filler", "comma", "all"):
        at += 1
    if at + 1 >= len(items) or items[at].kind not in ("except", "all_but"):
        return None
    after = at + 1
    while after < len(items) and items[after].kind in ("filler", "on", "from", "negation"):
        after += 1
    return at if after < len(items) and items[after].kind == "teeth" else None


def _bounded(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> None:
    """``between 33 and 37 all is missing``, ``behind 34 nothing is left``: the teeth named bound those gone."""
    teeth: Teeth = items[at].value
    between = (
        len(teeth.refs) == 2
        and teeth.joints[1] <= {"and", "filler"}
        and tokens[items[at].start].folded in listed("between")
        and not any(ref.upto or ref.way or ref.relative for ref in teeth.refs)
    )
    if not between and teeth.refs[0].way != "behind":
        return
    beside = [*_run(items, at, -1), *_run(items, at, 1)]
    gone = [
        one
        for one in beside
        if (one.kind == "role" and (one.value in ("missing", "nothing")))
        or (one.match is not None and any(m.phrase in listed("nothing_there") for m in one.match.meanings))
    ]
    if not gone:
        return
    if gone[0].value != "missing":
        gone[0].kind, gone[0].value = "role", "missing"
    for one in beside:
        if one.kind == "teeth":
            one.kind = "filler"
    if between:
        first, last = teeth.refs
        items[at].value = Teeth([replace(first, upto=last, inner=True, end=last.end)], [frozenset()])


def _run(items: Sequence[Item], at: int, step: int) -> Iterator[Item]:
    """From a list of teeth in one direction the words that can say that something, or all, is gone there."""
    at += step
    said = False
    while 0 <= at < len(items):
        item = items[at]
        everything = item.kind == "teeth" and [ref.relative for ref in item.value.refs] == ["all"]
        if (
            everything
            or (item.kind == "role" and not said)
            or (item.kind == "filler" and item.match is not None)
        ):
            yield item
        elif item.kind not in ("filler", "all", "counted") and not (item.kind == "comma" and step > 0):
            return
        said = said or item.kind == "role"
        at += step


def _denied(items: Sequence[Item], at: int) -> None:
    """``we do not replace``, ``ersetzen wir nicht``: a denial right beside a word of replacing turns it."""
    for step in (-1, 1):
        place = at + step
        while 0 <= place < len(items) and items[place].kind == "filler":
            place += step
        if not 0 <= place < len(items) or items[place].kind != "negation":
            continue
        beyond = items[place + step] if 0 <= place + step < len(items) else None
        if step > 0 and beyond is not None and beyond.kind not in (*SENTENCE, "comma", "close", "filler"):
            continue  # "replace 14, no clasp": the denial belongs to what follows
        items[at].value = "absent"
        items[place].kind = "filler"
        return


def _nearest(items: list[Item], at: int) -> None:
    """``18 and 28 are gone too, not replaced``: what is not replaced are the teeth named last."""
    following = next(
        (one for one in items[at + 1 :] if one.kind not in ("filler", "colon", "on", "open")), None
    )
    if following is not None and following.kind == "teeth":
        return
    place = at - 1
    seen: list[Item] = []
    while place >= 0 and (items[place].kind in _BETWEEN or _is_loss(items[place])):
        seen.append(items[place])
        place -= 1
    if place < 0 or items[place].kind != "teeth":
        return
    if not any(_is_loss(one) for one in seen) and not _names_own_loss(items, place):
        return
    for one in seen:
        if _is_loss(one) or one.kind in ("comma", "open", "and", "negation"):
            one.kind = "filler"


def _is_loss(item: Item) -> bool:
    return item.kind == "role" and item.value in ("missing", "absent")


def _names_own_loss(items: Sequence[Item], place: int) -> bool:
    """Whether a word before the list says that it is missing, and another list was already said to be so."""
    before = items[:place]
    for item in reversed(before):
        if item.kind in SENTENCE:
            return False
        if item.kind == "teeth":
            return True
    return False


def _is_participle(item: Item) -> bool:
    phrase = lx.fold(item.phrase)
    return phrase in listed("extracted")


def _in_future(items: Sequence[Item], at: int, tokens: Sequence[Token]) -> bool:
    """Whether an auxiliary of what is still to come stands before a participle in the same part of its sentence."""
    place, commas = at - 1, 0
    while place >= 0 and items[place].kind not in SENTENCE and commas <= _INNER_CLAUSE:
        words = {tokens[i].folded for i in range(items[place].start, items[place].end)}
        before_comma = items[place + 1].kind == "comma"
        if words & listed("to_come") and (not commas or before_comma):
            return True
        commas += items[place].kind == "comma"
        place -= 1
    return False
