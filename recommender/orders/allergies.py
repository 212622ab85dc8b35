"""What a patient is allergic to, named after or before the word for an allergy."""

from collections.abc import Sequence

from recommender.domain import lexicon as lx
from recommender.orders.alloys import concludes, is_alloy
from recommender.orders.field_values import fact_of, place_of_value, value_of
from recommender.orders.items import Item
from recommender.orders.text import Token

ALLERGY = "patient.allergy"
# Joints by which a metal is one more cause and no metal of the framework.
_ADDS = ("and", "or", "nor", "also")


def allergies_beside(items: list[Item], at: int, tokens: Sequence[Token]) -> tuple[int, int, Item] | None:
    """The first and last item of an allergy with its materials beside it, and the fact that they make."""
    found: list[str] = []
    last, position = at, place_of_value(items, at)
    told = value_of("flag", items[position : position + 1], tokens, 1)
    if told == "true" and position + 1 < len(items) and items[position + 1].kind == "comma":
        position += 2
    if (
        position < len(items)
        and items[position - 1].kind == "colon"
        and (
            items[position].kind == "negation"
            or told == "false"
            or (items[position].kind == "role" and items[position].value == "nothing")
        )
    ):
        return at, position, fact_of(ALLERGY, "none", items[at : position + 1])
    joint = "to"
    while position < len(items) and not concludes(items[position].start, items[position].end, tokens):
        item = items[position]
        pair = value_of("allergen", items[position : position + 2], tokens, 2)
        if pair is not None and items[position + 1].kind == "word":
            found, last, position, joint = [*found, pair], position + 1, position + 2, ""
            continue
        values = _allergens(item, tokens)
        parted = item.kind == "filler" and items[position - 1].kind == "comma"
        if values:
            alloy = is_alloy(item) and not _goes_on(items, position, tokens)
            if found and (not joint or (alloy and joint not in _ADDS)):
                break  # "allergic to nickel, cobalt chrome please"
            found, last, joint = [*found, *values], position, ""
        elif found and item.kind in ("negation", "nor"):
            joint = "nor"  # "neither nickel nor palladium"
        elif parted or item.kind not in ("and", "comma", "or", "filler", "to", "on", "from", "also"):
            break
        elif item.kind in ("and", "comma", "or", "also") or (item.kind == "to" and not joint):
            joint = "comma" if tokens[item.start].text in ",;" else item.kind
        position += 1
    if found:
        last += items[last + 1 : last + 2] != [] and items[last + 1].kind == "close"
        return at, last, fact_of(ALLERGY, list(dict.fromkeys(found)), items[at : last + 1])
    return _allergens_before(items, at, tokens)


def _goes_on(items: Sequence[Item], position: int, tokens: Sequence[Token]) -> bool:
    """Whether a list of causes goes on after a metal ("to cobalt, chrome and nickel")."""
    run = items[position + 1 : position + 3]
    return len(run) > 1 and run[0].kind in ("and", "comma", "or") and bool(_allergens(run[1], tokens))


def with_more_allergens(items: list[Item], at: int, tokens: Sequence[Token]) -> None:
    """An allergy that a phrase states, with what is named after it ("allergy to nickel and cobalt")."""
    item = items[at]
    if item.kind == "fact" and item.path == ALLERGY and item.value != "none":
        _shared_word(items, at, tokens)
    joined = items[at + 1 : at + 2] and items[at + 1].kind in ("and", "to")
    if item.kind != "fact" or item.path != ALLERGY or item.value == "none" or not joined:
        return
    named = item.value if isinstance(item.value, list) else [str(item.value)]
    more = allergies_beside(items, at, tokens)
    if more is not None and more[0] == at:
        fact = fact_of(ALLERGY, list(dict.fromkeys([*named, *more[2].value])), items[at : more[1] + 1])
        items[at : more[1] + 1] = [fact]


def _shared_word(items: list[Item], at: int, tokens: Sequence[Token]) -> None:
    """``Nickel- und Kobaltallergie``: what is named with a dash before an allergy shares its last part."""
    item, first, more = items[at], at, list[str]()
    while [one.kind for one in items[max(first - 3, 0) : first]] in (
        ["word", "to", "and"],
        ["word", "to", "comma"],
    ) and (named := _allergens(items[first - 3], tokens)):
        more, first = [*named, *more], first - 3
    if more:
        item.value = list(
            dict.fromkeys([*more, *([item.value] if isinstance(item.value, str) else item.value)])
        )
        item.start = items[first].start
        for place in range(first, at):
            items[place] = Item("filler", items[first].start, items[first].start)


def _allergens_before(items: list[Item], at: int, tokens: Sequence[Token]) -> tuple[int, int, Item] | None:
    """``nickel and cobalt bring her out in a rash``: the materials named right before the word for an allergy."""
    values: list[str] = []
    first = at
    while first > 0 and (
        (named := _allergens(items[first - 1], tokens))
        or (values and items[first - 1].kind in ("and", "comma", "or"))
    ):
        values = [*named, *values]
        first -= 1
    return (first, at, fact_of(ALLERGY, values, items[first : at + 1])) if values else None


def _allergens(item: Item, tokens: Sequence[Token]) -> list[str]:
    """What an item names as a cause of allergy: the material itself, or what an alloy holds."""
    value = value_of("allergen", [item], tokens, 1)
    if value is not None:
        return [value]
    return list(lx.document("order")["allergens_in"].get(item.value, ())) if item.kind == "alloy" else []
