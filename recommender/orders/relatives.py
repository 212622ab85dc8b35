"""Teeth said by their place ("on the abutments", "either side of the gap", "all behind 34"), and what only sounds so.

Which teeth these are is settled when the missing teeth are known (``spaces``). A pass over the items of an order,
before its lists of teeth are made.
"""

from collections.abc import Sequence

from recommender.orders.again import said_again
from recommender.orders.bars import joining_bars
from recommender.orders.items import SENTENCE, Item, is_role, parts
from recommender.orders.neighbours import NAMES, QUIET, SAYS, is_gone, next_to, same_part
from recommender.orders.others import other_teeth
from recommender.orders.remaining import LEFT, nothing_left, remaining, says_remaining
from recommender.orders.respective import WHERE, ends_of_spaces, respectively
from recommender.orders.text import Token

# A bar that can be nothing but a connector, whichever arch it lies in.
_DOUBLE = "double_bar"


def with_relatives(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with words for places as items of kind ``relative``, or as the role that they have beside numbers."""
    for sentence in parts(items, SENTENCE):
        ends_of_spaces(items, sentence)
        respectively(items, sentence, tokens)
        _groups_beside(items, sentence)
        for at in sentence:
            item = items[at]
            where = item.kind == "group" and item.extra.get("written") in WHERE
            if where and not _is_place_of_clasps(items, at, sentence):
                item.kind = "word"  # "the canine in front", "an Akers each, one in front": a place, no teeth
    for first, colon, second in zip(items, items[1:], items[2:], strict=False):
        if first.kind == second.kind == "arch" and colon.kind == "colon":
            first.kind = "filler"  # "Maxilar: inferior" is the name of the field
    said_again(items)
    other_teeth(items, tokens)
    joining_bars(items, tokens)
    _bare(items)
    for sentence in parts(items, SENTENCE):
        remaining(items, sentence, tokens)
        named = any(items[at].kind in NAMES for at in sentence)
        says = any(items[at].kind in SAYS or is_role(items[at], "clasp", "rest") for at in sentence)
        for at in sentence:
            item = items[at]
            if item.kind == "relative" and item.value == "around" and _names_lost(items, sentence, at):
                item.kind, item.value = "side", "both"  # "beidseits der zweite Prämolar fehlt"
            if item.kind == "relative" and item.value == "beside" and _number_right_after(items, at):
                # "the teeth next to 46", but "the neighbouring teeth 45 and 47" names them
                joined = items[at + 1].kind in ("to", "from", "on")
                item.kind, item.value = ("relative", "around") if joined else ("filler", "filler")
            if item.kind == "relative" and item.value == "last":
                if _beside_number(items, at):
                    item.kind = "role"
                elif not says:
                    item.kind = "word"
            elif item.kind == "role" and item.value == "free_end" and _names_last(items, sentence):
                item.kind = "filler"  # which teeth these are is said by the last ones
            elif (
                item.kind == "relative"
                and item.value == "all"
                and _is_way(next_to(items, at, 1, ("filler",)))
            ):
                item.kind = "filler"  # "all teeth behind 34"
            elif item.kind == "relative" and item.value == "all" and _says_how_far(items, sentence, at):
                item.kind = item.value = "filler"  # "everything back to the second molars is replaced"
            elif item.kind == "relative" and item.value == "all" and _all_stand(items, sentence, at):
                item.kind = item.value = "filler"
            elif item.kind == "relative" and item.value == "all" and not is_gone(items, sentence):
                item.kind = "them" if says and not named else "word"
            elif _is_abutments(item) and says and not _followed_by_number(items, at):
                if _after_on(items, at) or not named:
                    item.kind, item.value = "relative", "abutments"
            elif item.kind == "side" and item.value == LEFT and nothing_left(items, at, tokens):
                item.kind, item.value = "filler", "filler"
            elif item.kind == "side" and item.value == LEFT and says_remaining(items, sentence, at, tokens):
                item.kind, item.value = "role", "standing"
    return items


def _groups_beside(items: Sequence[Item], sentence: range) -> None:
    """``premolares y molares vecinos``: groups before words for the teeth beside the spaces name no others."""
    for at in sentence:
        if items[at].kind != "relative" or items[at].value != "beside":
            continue
        place = at - 1
        while place >= sentence.start and items[place].kind in ("group", "and", "filler", "name"):
            if items[place].kind in ("group", "name"):
                items[place].kind = items[place].value = "filler"
                for between in range(place + 1, at):
                    items[between].kind = items[between].value = "filler"
            place -= 1


def _is_place_of_clasps(items: Sequence[Item], at: int, sentence: range) -> bool:
    """Whether a word such as "in front" stands for the front teeth: clasps are ruled out there, or teeth are gone."""
    before = items[at - 1] if at else None
    if before is not None and before.kind in NAMES:
        return False
    part = [items[i] for i in sentence if same_part(items, i, at)]
    clasp = any(is_role(one, "clasp", "rest") or one.kind == "retainer" for one in part)
    return is_gone(items, sentence) or (clasp and any(one.kind == "negation" for one in part))


def _bare(items: Sequence[Item]) -> None:
    """``lingual plate, no bar``: a bare word for a connector counts beside one that is named, or after its heading."""
    for sentence in parts(items, SENTENCE):
        named = any(items[at].kind == "connector" for at in sentence)
        headed = any(_names_connector(items[at]) for at in sentence)
        for at in sentence:
            item = items[at]
            if item.kind != "bare" or item.extra.get("placed") or item.value == _DOUBLE:
                continue
            around = (next_to(items, at, -1), next_to(items, at, 1, ("filler",)))
            denied = any(one is not None and one.kind == "negation" for one in around)
            if not ((named and denied) or (headed and not named)):
                clasp = item.value == "bar" and item.match is not None and item.match.of("role") is not None
                item.kind, item.value = ("role", "clasp") if clasp else ("word", item.value)


def _names_connector(item: Item) -> bool:
    return item.match is not None and any(
        one.kind == "heading" and one.identifier == "prescription.connector" for one in item.match.meanings
    )


def _names_last(items: Sequence[Item], sentence: range) -> bool:
    """Whether a sentence says by number which teeth are the last ones."""
    last = [at for at in sentence if items[at].value == "last" and items[at].kind in ("relative", "role")]
    return any(_beside_number(items, at) for at in last)


def _all_stand(items: Sequence[Item], sentence: range, at: int) -> bool:
    """``all other teeth are standing`` says nothing of those that are named; the word for it goes with it."""
    following = next_to(items, at, 1, ("filler", "arch", "side", "counted"))
    if following is None or following.kind != "role" or following.value != "standing":
        return False
    following.kind = following.value = "filler"
    return True


def _says_how_far(items: Sequence[Item], sentence: range, at: int) -> bool:
    """Whether "everything" only runs up to teeth, of those that are to be replaced."""
    after = at + 1
    while after < sentence.stop and items[after].kind == "filler":
        after += 1
    to = after < sentence.stop and items[after].kind == "to"
    following = next_to(items, after, 1, ("filler", "and")) if to else None  # "up to and including"
    return following is not None and following.kind in NAMES and is_gone(items, sentence)


def _is_abutments(item: Item) -> bool:
    return item.kind == "heading" and item.value == "abutments.tooth"


def _followed_by_number(items: Sequence[Item], at: int) -> bool:
    following = next_to(items, at, 1)
    return following is not None and following.kind in (*NAMES, "quadrant")


def _is_way(item: Item | None) -> bool:
    return item is not None and item.kind in ("behind", "onward")


def _names_lost(items: Sequence[Item], sentence: range, at: int) -> bool:
    """Whether names of teeth that are gone follow words for both sides of something."""
    following = next_to(items, at, 1, ("filler",))
    return following is not None and following.kind in ("name", "group") and is_gone(items, sentence)


def _number_right_after(items: Sequence[Item], at: int) -> bool:
    following = next_to(items, at, 1, ("filler", "to", "from", "on"))
    return following is not None and following.kind == "number"


def _beside_number(items: Sequence[Item], at: int) -> bool:
    before = next_to(items, at, -1)
    return _followed_by_number(items, at) or (before is not None and before.kind in NAMES)


def _after_on(items: Sequence[Item], at: int) -> bool:
    before = next_to(items, at, -1, (*QUIET, "side"))
    return before is not None and before.kind in ("on", "from", "to")
