"""Which tooth each of several rests or clasps is for ("mesial in front, distal behind", "respectively")."""

from collections.abc import Sequence

from recommender.orders.items import Item, is_role
from recommender.orders.text import Token

WHERE = ("infront", "devant", "delante", "vorne", "front")
_TURNED_REST, _TWO = ("toward", "away"), 2


def ends_of_spaces(items: Sequence[Item], sentence: range) -> None:
    """``cingulum rest in front, mesial rest behind``: which of the two teeth beside a space each of two rests, or
    of two clasps, is for (``end`` of the item: ``front`` or ``back``)."""
    for kinds in (("rest", "site"), ("retainer",)):
        ends: dict[str, tuple[Item, Item]] = {}
        said = [at for at in sentence if items[at].kind in kinds and items[at].value not in _TURNED_REST]
        for at in said:
            after = at + 1
            while after < sentence.stop and items[after].kind in ("filler", "site", "role"):
                after += 1
            if after < sentence.stop and (end := _end_of_space(items, after, sentence)):
                ends.setdefault(end, (items[at], items[after]))
        if "front" not in ends or len(said) < len(ends) or len(said) > _TWO:
            continue
        other = next((items[at] for at in said if items[at] is not ends["front"][0]), None)
        if other is None or ("back" in ends and ends["back"][0] is not other):
            continue
        ends["front"][0].extra["end"], other.extra["end"] = "front", "back"
        for _, place in ends.values():
            place.kind = place.value = "filler"


def respectively(items: Sequence[Item], sentence: range, tokens: Sequence[Token]) -> None:
    """``34, 37 with distal and mesial rests respectively``: the first of each two or three is for the first tooth
    (``nth`` of the item: its place and how many they are)."""
    for at in sentence:
        if items[at].kind != "respectively":
            continue
        items[at].kind = items[at].value = "filler"
        kinds: set[str] = set()
        run: list[Item] = []
        for place in range(at - 1, sentence.start - 1, -1):
            item = items[place]
            alike = {"retainer"} if item.kind == "retainer" else {"rest", "site"}
            if item.kind in ("rest", "site", "retainer") and (not kinds or kinds == alike):
                kinds = alike
                run.insert(0, item)
            elif item.kind not in ("filler", "and", "comma", "mark") and not is_role(item, "clasp", "rest"):
                break
        for place, item in enumerate(run):
            item.extra["nth"] = (place, len(run))


def _end_of_space(items: Sequence[Item], at: int, sentence: range) -> str:
    """What a word for a place says that stands at the end of its part: ``front``, ``back`` or nothing."""
    following = items[at + 1].kind if at + 1 < sentence.stop else "stop"
    if following not in ("comma", "and", "close", "stop"):
        return ""
    item = items[at]
    if item.kind == "group" and item.extra.get("written") in WHERE:
        return "front"
    return "back" if item.kind == "behind" else ""
