"""Sides named by one named before ("on that side"), and sides on which nothing is ("right nothing")."""

from collections.abc import Sequence
from itertools import pairwise

from recommender.domain import lexicon as lx
from recommender.orders.items import SENTENCE, Item, is_role, parts
from recommender.orders.neighbours import is_gone
from recommender.orders.refs import LAST_POSITION
from recommender.orders.vocabulary import listed

_ENDS = ("comma", "and", "close", *SENTENCE)
_OPPOSITE = {"right": "left", "left": "right"}


def with_sides(items: list[Item]) -> list[Item]:
    """``on that side``, ``on the other side``: the side that was named before, or the opposite one."""
    last = ""
    for item in items:
        if item.kind == "side" and item.value in ("same", "other"):
            turned = last if item.value == "same" else _OPPOSITE.get(last, "")
            item.kind, item.value = ("side", turned) if turned else ("filler", "filler")
        if item.kind == "side" and item.value in _OPPOSITE:
            last = str(item.value)
        elif item.kind == "quadrant":
            last = "right" if int(item.value) in (1, 4) else "left"
    _either_side(items)
    _nothing_there(items)
    _none_present(items)
    return items


def _either_side(items: Sequence[Item]) -> None:
    """``no clasp on either 3``: the tooth of each side, where no other is named to choose from."""
    for at, item in enumerate(items[:-1]):
        if item.kind != "or" or lx.fold(item.phrase) not in listed("either_of_two"):
            continue
        tooth = items[at + 1]
        place = tooth.kind == "name" or (tooth.kind == "number" and tooth.value <= LAST_POSITION)
        following = next((one.kind for one in items[at + 2 :] if one.kind != "filler"), "stop")
        if place and following != "or":
            item.kind = item.value = "filler"
            tooth.extra["plural"] = True


def _nothing_there(items: Sequence[Item]) -> None:
    """``26 and 27 missing, right nothing``: beside lost teeth that says nothing of a clasp."""
    for sentence in parts(items, SENTENCE):
        for at in sentence:
            pair = items[at : at + 2]
            kinds = {item.kind if item.kind != "role" else item.value for item in pair}
            following = items[at + 2].kind if at + 2 < sentence.stop else "stop"
            if kinds == {"side", "nothing"} and following in _ENDS and is_gone(items, sentence):
                for item in pair:
                    item.kind = item.value = "filler"


def _none_present(items: Sequence[Item]) -> None:
    """``wisdom teeth: none present, not replaced``: none that stand are gone, and no clasp is ruled out on them."""
    for first, second in pairwise(items):
        if is_role(first, "nothing") and is_role(second, "standing") and second.start == first.end:
            first.kind = first.value = "filler"
            second.value = "missing"
