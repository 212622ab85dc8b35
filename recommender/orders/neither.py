"""A denial of several things at once ("weder auf 13 noch auf 23 Klammern"), put before what it denies."""

from collections.abc import Sequence

from recommender.domain import lexicon as lx
from recommender.orders.items import PART, SENTENCE, Item, is_role, parts
from recommender.orders.neighbours import NAMES, SAYS, next_to
from recommender.orders.vocabulary import listed

_NEITHER = ("weder", "neither", "ni")
_OF_TWO = "neither"


def neither_moved(items: list[Item]) -> list[Item]:
    """``weder auf 13 noch auf 23 Klammern``: the denial is put before what it denies."""
    made = list(items)
    for sentence in parts(items, SENTENCE):
        for at in sentence:
            item = items[at]
            if is_role(item, "missing") and set(lx.fold(item.phrase).split()) & listed("negations"):
                _lacking(items, at, sentence.stop)
            if not (_opens(items, sentence, at) or (item.kind == "negation" and item.phrase in _NEITHER)):
                continue
            after = next_to(items, at, 1, ("filler", "on"))
            part = next((i for i in range(at, sentence.stop) if items[i].kind == "comma"), sentence.stop)
            named = [
                i
                for i in range(at + 1, part)
                if items[i].kind in (*SAYS,) or is_role(items[i], "clasp", "rest")
            ]
            if after is None or after.kind not in (*NAMES, "side", "quadrant") or not named:
                continue
            for place in range(at + 1, named[0]):
                if made[place].kind == "nor":
                    made[place] = Item("and", made[place].start, made[place].end, "and", made[place].match)
            moved = Item("negation", item.start, item.end, "negation", item.match)
            if item.phrase == _OF_TWO and after.kind == "name":
                made[at] = Item("side", item.start, item.end, "both")  # "neither canine"
            else:
                made[at] = Item("filler", item.start, item.end, "filler")
            made.insert(named[0], moved)
            return made
    return made


def _opens(items: Sequence[Item], sentence: range, at: int) -> bool:
    """``ni 13 ni 23 ne doivent porter de crochet``: the first of two such words opens a part of the sentence."""
    if items[at].kind != "nor" or items[at].phrase not in _NEITHER:
        return False
    before = next_to(items, at, -1, ("filler",)) if at > sentence.start else None
    opens = before is None or before.kind in PART
    return opens and any(items[place].kind == "nor" for place in range(at + 1, sentence.stop))


def _lacking(items: list[Item], at: int, stop: int) -> None:
    """``no tiene ni el 14 ni el 15``: words that say that teeth are gone hold the denial, which only joins them."""
    for item in items[at + 1 : stop]:
        if item.kind == "nor":
            item.kind = item.value = "and"
        elif item.kind not in ("number", "filler", "name", "comma", "quadrant", "side", "arch", "and"):
            return
