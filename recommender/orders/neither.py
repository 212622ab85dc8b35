"""A denial of several things at once ("weder auf 13 noch auf 23 Klammern"), put before what it denies."""

from recommender.orders.items import SENTENCE, Item, is_role, parts
from recommender.orders.neighbours import NAMES, SAYS, next_to

_NEITHER = ("weder", "neither", "ni")


def neither_moved(items: list[Item]) -> list[Item]:
    """``weder auf 13 noch auf 23 Klammern``: the denial is put before what it denies."""
    made = list(items)
    for sentence in parts(items, SENTENCE):
        for at in sentence:
            item = items[at]
            if item.kind != "negation" or item.phrase not in _NEITHER:
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
            moved = made.pop(at)
            made.insert(named[0] - 1, moved)
            return made
    return made
