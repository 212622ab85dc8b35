"""What a patient wishes of the looks, in free words: by what is seen, what is cared for, and what is denied of it.

"Nothing must flash", "couldn't care less whether the clasps are seen", "lehnt sichtbare Klammern ab". What is read so
is understood, not stated: it carries a mark and stays in the note.
"""

from collections.abc import Sequence

from recommender.orders.items import PART, SENTENCE, Item, parts
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_WISH = "patient.aesthetic_priority"
_NAMES_TEETH = ("number", "name", "group", "quadrant", "connector")
_DENIES = ("negation", "nor", "degree")


def with_wishes(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with every clause that wishes or does not mind as a fact; clauses that name a tooth are orders."""
    made = list(items)
    for sentence in reversed(list(parts(items, SENTENCE))):
        read = [
            found
            for part in parts(items[sentence.start : sentence.stop], PART)
            if (found := _wish(items, _moved(part, sentence.start), tokens)) is not None
        ]
        whole = None if read else _wish(items, sentence, tokens, joined=True)
        for value, first, last in reversed(read or ([whole] if whole is not None else [])):
            made[first : last + 1] = _with_others(items[first : last + 1], value)
    return made


def _with_others(run: Sequence[Item], value: str) -> list[Item]:
    """The wish in place of a run of items, beside whatever else they state ("das Aussehen ist dem Herrn egal")."""
    stated = [at for at, item in enumerate(run) if item.kind == "fact"]
    start, end = (stated[-1] + 1, len(run)) if stated else (0, len(run))
    if start == end:
        start, end = 0, stated[0]
    if start == end:
        return list(run)
    return [*map(_silent, run[:start]), _fact(run[start:end], value), *map(_silent, run[end:])]


def _silent(item: Item) -> Item:
    return item if item.kind == "fact" else Item("filler", item.start, item.end, "filler")


def _fact(run: Sequence[Item], value: str) -> Item:
    return Item("fact", run[0].start, run[-1].end, value, None, _WISH, {"understood": True})


def _moved(places: range, by: int) -> range:
    return range(places.start + by, places.stop + by)


def _wish(
    items: Sequence[Item], places: range, tokens: Sequence[Token], joined: bool = False
) -> tuple[str, int, int] | None:
    """What a run of items says of the looks, with its first and last item. ``joined``: only that nobody minds what the
    part before a comma names."""
    run = [items[at] for at in places]
    if not run or any(item.kind in _NAMES_TEETH or item.path == _WISH for item in run):
        return None
    words = [
        {word for token in tokens[item.start : item.end] for word in (token.meant, token.folded)}
        for item in run
    ]

    def having(section: str) -> list[int]:
        wanted = listed(section)
        return [at for at, held in enumerate(words) if held & wanted]

    seen, things, nothing = having("wish_seen"), having("wish_things"), having("wish_nothing")
    looks, minds = having("wish_looks"), having("wish_minds")
    careless, much, refused = having("wish_careless"), having("wish_much"), having("wish_refused")
    careless += having("wish_alike") if having("wish_gives") else []
    denied = [at for at, item in enumerate(run) if _denies(item, words[at])] + nothing
    object_ = looks + seen
    indifferent = careless or (minds if denied else [])
    if indifferent and not much and (object_ or (things and having("wish_bothers"))):
        return _span("low", places, indifferent, object_ or things, [] if careless else denied)
    if joined:
        return None
    if seen and denied and (things or nothing or having("wish_nobody")) and not minds:
        return _span("high", places, seen, things, denied)
    if refused and things and (seen or having("wish_visible")):
        return _span("high", places, refused, things, seen)
    if minds and much and looks and not denied:
        return _span("high", places, minds, looks, much)
    return None


def _span(value: str, places: range, *found: list[int]) -> tuple[str, int, int]:
    held = [at for one in found for at in one]
    return value, places.start + min(held), places.start + max(held)


def _denies(item: Item, words: set[str]) -> bool:
    nothing = item.kind == "role" and item.value == "nothing"
    return item.kind in _DENIES or nothing or bool(words & (listed("wish_not") | listed("wish_nobody")))
