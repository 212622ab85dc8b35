"""The sentences of an order: parts between full stops, semicolons and lines, those joined that go together."""

from collections.abc import Iterator, Sequence

from recommender.orders.concepts import ALONE, is_concept
from recommender.orders.denials import stands_after
from recommender.orders.items import Item, is_role

_HARD = ("hard", "stop")
_QUIET = {"teeth", "comma", "and", "or", "on", "from", "filler", "mark", "colon", "arch", "counted", "side", "only"}


def sentences(items: Sequence[Item]) -> Iterator[list[Item]]:
    """Parts between semicolons, full stops and line breaks; a heading stays with the line below it."""
    parts: list[list[Item]] = [[]]
    for item in items:
        if item.kind in _HARD:
            parts.append([])
            if item.kind == "hard":
                parts[-1].append(Item("comma", item.start, item.end, ";"))
        elif item.kind == "line":
            held = [one for one in parts[-1] if one.kind not in ("filler", "mark", "arch")]
            if held and held[-1].kind in ("comma", "and"):
                continue
            if held and held[-1].kind == "colon" and not any(is_concept(one) for one in held):
                continue
            parts.append([])
        else:
            parts[-1].append(item)
            if item.kind == "unsure" and str(item.match and item.match.meanings[0].phrase).startswith("?"):
                parts.append([])
    parts = [_answered(parts[at - 1], part) if at else part for at, part in enumerate(parts)]
    parts = [_none_of(parts[at - 1], part) if at else part for at, part in enumerate(parts)]
    joined: list[list[Item]] = []
    listed = -1  # the part that a heading began, while lines with nothing but teeth go on
    for part in parts:
        only_concepts = bool(joined) and _only(joined[-1], concepts=True) and _only(part, concepts=False)
        goes_on = bool(joined) and part[:1] and part[0].value == ";" and _only_teeth(part)
        way_out = bool(joined) and len(part) > 1 and part[0].value == ";" and part[1].kind == "otherwise"
        first_list = (
            bool(joined)
            and part[:1]
            and part[0].value == ";"
            and _only(joined[-1], concepts=False)
            and any(item.kind == "role" and item.value == "missing" for item in part)
        )
        if way_out or first_list or (goes_on and any(item.kind == "role" for item in joined[-1])):
            joined[-1] = [*joined[-1], *part]
        elif bool(joined) and _only_refuses(part) and any(is_concept(one) or one.kind in ALONE for one in joined[-1]):
            joined[-1] = [*joined[-1], *(one for one in part if one.kind != "comma")]
        elif bool(joined) and _goes_with(joined[-1], part):
            joined[-1] = [*joined[-1], Item("comma", part[0].start, part[0].start, ","), *part]
        elif only_concepts:
            joined[-1] = [*joined[-1], Item("colon", part[0].start, part[0].start), *part]
            listed = len(joined) - 1
        elif listed == len(joined) - 1 and joined and _only(part, concepts=False):
            joined[-1] = [*joined[-1], Item("comma", part[0].start, part[0].start, ","), *part]
        else:
            joined.append(part)
    return iter(joined)


def _only_teeth(part: Sequence[Item]) -> bool:
    """Whether a part holds nothing but teeth and what joins them ("; 24, 25")."""
    return _only(part, concepts=False) and {item.kind for item in part} <= _QUIET


def _only_refuses(part: Sequence[Item]) -> bool:
    """Whether a part says no more than that what was named before is not wanted ("; the patient declines it")."""
    kinds = [item.kind for item in part if item.kind not in ("filler", "mark", "comma", "and")]
    refusal = next((item for item in part if item.kind == "negation"), None)
    return kinds == ["negation"] and refusal is not None and stands_after(refusal)


def _goes_with(before: Sequence[Item], part: Sequence[Item]) -> bool:
    """Whether a part only goes on with what the one before it says."""
    more = _is_too(part) and any(is_concept(item) for item in before)
    return more or (_only_sites(part) and any(_speaks_of_rests(item) for item in before))


def _none_of(before: Sequence[Item], part: list[Item]) -> list[Item]:
    """``Nor on 14``, ``none on 33``: a part that only denies something of teeth denies the clasps named before it."""
    quiet = {"teeth", "comma", "and", "or", "nor", "filler", "mark", "on", "colon"}
    at = next((at for at, item in enumerate(part) if item.kind not in ("filler", "mark", "and", "comma")), 0)
    denies = bool(part) and part[at].kind in ("negation", "nor")
    rest = {item.kind for item in part[at + 1 :]}
    clasps = any(item.kind == "retainer" or is_role(item, "clasp", "nothing") for item in before)
    if not (denies and clasps and "teeth" in rest and rest <= quiet):
        return part
    first = part[at]
    none = Item("role", first.start, first.end, "nothing", first.match, extra={"guessed": True})
    return [*part[:at], none, *part[at + 1 :]]


def _is_too(part: Sequence[Item]) -> bool:
    """Whether a part only adds teeth to what was said before ("16 and 26 too")."""
    quiet = {item.kind for item in part} <= {"teeth", "comma", "and", "filler", "mark", "on", "also"}
    return quiet and any(item.kind == "teeth" for item in part) and any(item.kind == "also" for item in part)


def _only_sites(part: Sequence[Item]) -> bool:
    """Whether a part only names teeth and the sides of them ("3 mesial, 14 mesial")."""
    kinds = {item.kind for item in part}
    return {"teeth", "site"} <= kinds and kinds <= {
        "teeth",
        "site",
        "comma",
        "and",
        "filler",
        "mark",
        "on",
        "colon",
    }


def _speaks_of_rests(item: Item) -> bool:
    return item.kind == "rest" or is_role(item, "rest", "rest_seat")


def _answered(before: Sequence[Item], part: list[Item]) -> list[Item]:
    """``Akers on 11? No: I-bar``: the answer to a question denies what was asked, not what follows."""
    asked = bool(before) and before[-1].kind == "unsure"
    if asked and len(part) > 1 and part[0].kind == "negation" and part[1].kind in ("colon", "comma"):
        return part[2:]
    return part


def _only(part: Sequence[Item], concepts: bool) -> bool:
    """Whether a part holds nothing but concepts, or nothing but teeth."""
    has_concept = any(is_concept(item) for item in part)
    has_teeth = any(item.kind == "teeth" for item in part)
    alone = any(item.kind in ALONE or item.kind == "negation" for item in part)
    return not alone and (has_concept and not has_teeth if concepts else has_teeth and not has_concept)
