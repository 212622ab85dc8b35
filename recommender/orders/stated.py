"""What an order states of fields: a phrase that says it ("bruxism"), or a field's name with a value beside it.

"Oral hygiene: poor", "5 mm clearance", "allergic to nickel and cobalt", "0.25 mm undercut MB".
"""

from collections.abc import Sequence
from functools import cache
from itertools import pairwise
from typing import Any

from recommender.domain import lexicon as lx
from recommender.domain.shape import Shape, case_shape
from recommender.orders.ages import with_ages
from recommender.orders.clauses import with_clauses
from recommender.orders.degrees import with_degrees, zone_of
from recommender.orders.items import SENTENCE, Item
from recommender.orders.scanning import scanned
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

_NEAR_WORDS = 4
_ROMAN = {"i": 1, "ii": 2, "iii": 3}
# Below this many millimetres no gauge is made: such a figure is in inches.
_LEAST_DEPTH = 0.05
# Undercut gauges in inches and in millimetres (common practice, no source).
_GAUGES = {0.01: 0.25, 0.02: 0.5, 0.03: 0.75}
_BOUNDS = ("<", ">", "≤", "≥")
_SEATS = "abutments.rest_seats"
# Fields of which an order speaks once, so that the only measure of the sentence is theirs.
_ALONE_IN_SENTENCE = ("floor.depth_mm", "occlusion.overbite_mm", "spans.clearance_mm")
_SEX = "patient.sex"
_SHE, _TWO_ENDS = "elle", 2
_MOST_DEGREE = 9
_ALLERGY = "patient.allergy"
_PLANES = "abutments.guiding_planes"


def items_of(tokens: Sequence[Token], languages: Sequence[str]) -> list[Item]:
    """All items of an order, in the order of the text."""
    scan = _with_zones(scanned(tokens, languages), tokens)
    items = with_clauses(with_ages(scan, tokens, languages), tokens, languages)
    items = _facts(with_degrees(items, tokens), tokens)
    for item in items:
        if item.kind == "heading" and item.value == _SEATS:
            item.kind, item.value = "role", "rest_seat"
    for rest, after in pairwise(items):
        if rest.kind == "role" and rest.value == "standing" and after.kind == "measure":
            rest.kind = rest.value = "filler"  # "has only 4 mm"
        if rest.kind in ("rest", "site") and after.kind == "seat":
            rest.extra["seat"], rest.end, after.kind = True, after.end, "filler"
    return _without_conditions(_pronouns(_addressed(items, tokens), tokens))


def _with_zones(items: Sequence[Item], tokens: Sequence[Token]) -> list[Item]:
    """The items with a place on a tooth that is written with a hyphen ("mesio-buccal") as one."""
    made: list[Item] = []
    at = 0
    while at < len(items):
        run = items[at : at + 3]
        if len(run) == 3 and tokens[run[1].start].text == "-" and tokens[run[2].start].glued:
            whole = Item("word", run[0].start, run[2].end)
            if zone_of(whole, tokens):
                made.append(whole)
                at += 3
                continue
        made.append(items[at])
        at += 1
    return made


def _addressed(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """``Monsieur, …`` and ``Madame, Monsieur,`` that open a letter address its reader and are no patient."""
    at = 0
    while at < len(items) and (
        items[at].kind in ("comma", "filler", "line") or _is_address(items[at], tokens)
    ):
        at += 1
    named = [place for place in range(at) if _is_address(items[place], tokens)]
    person = at < len(items) and (
        items[at].path.startswith("patient.") or items[at].kind in ("age", "number")
    )
    if named and items[named[-1] + 1 : named[-1] + 2] and (len(named) > 1 or not person):
        for place in named:
            if items[place + 1].kind in ("comma", "line", "stop"):
                items[place].kind, items[place].value, items[place].path = "filler", "filler", ""
    return items


def _is_address(item: Item, tokens: Sequence[Token]) -> bool:
    return item.path == _SEX and tokens[item.end - 1].folded in listed("addressed")


def _pronouns(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    """A French "elle" after a tooth, a feminine noun, is that tooth ("sur la 47 aucun crochet, elle est fragile")."""
    tooth = False
    ended = 0
    for item in items:
        if item.kind in ("number", "name"):
            tooth, ended = True, 0
        elif item.path.startswith("patient.") and tokens[item.start].folded != _SHE:
            tooth = False
        ended += item.kind in SENTENCE
        if item.path == _SEX and tokens[item.start].folded == _SHE and tooth and ended < _TWO_ENDS:
            item.kind = item.value = "filler"
            item.path = ""
    return items


def _without_conditions(items: list[Item]) -> list[Item]:
    """Findings under a condition ("if the floor is high"), or of somebody else, are none."""
    conditional = inside = False
    part: list[Item] = []
    for item in [*items, Item("stop", 0, 0)]:
        ends = item.kind in ("hard", "stop", "line")
        conditional = (conditional or item.kind == "condition") and not ends
        inside = (inside or item.kind == "open") and item.kind != "close" and not ends
        if (
            conditional and item.kind == "fact" and not inside
        ):  # "if there is room (floor 9 mm)": in brackets it is known
            item.kind = "word"
        if ends or item.kind == "comma":
            _of_others(part)
            part = []
        else:
            part.append(item)
    return items


def _of_others(part: Sequence[Item]) -> None:
    """What is said of somebody else ("mother allergic to nickel"), or was ("used to grind"), is no finding."""
    another = any(item.kind == "another" for item in part)
    formerly = any(item.kind == "formerly" for item in part)
    for item in part:
        person = item.kind == "fact" and item.path.startswith(("patient.", "occlusion."))
        if person and (another or (formerly and item.path != "patient.allergy")):
            item.kind = "word"


@cache
def _shape(path: str) -> Shape | None:
    shape: Shape | None = case_shape()
    for step in path.split("."):
        while shape is not None and shape.kind in ("list", "map"):
            shape = shape.item
        if shape is None:
            return None
        fields = shape.fields or next((one.fields for one in shape.choices if one.fields), {})
        shape = fields.get(step)
    return shape


def _is_measured(path: str) -> bool:
    shape = _shape(path)
    if shape is None:
        return False
    return any(one.kind in ("number", "whole") for one in (shape, *shape.choices))


def _facts(items: list[Item], tokens: Sequence[Token]) -> list[Item]:
    made = list(items)
    at = 0
    while at < len(made):
        item = made[at]
        _with_more_allergens(made, at, tokens)
        heading = item.match.of("heading") if item.match is not None else None
        if (
            item.kind in ("heading", "opposing", "fact", "role", "word")
            and item.match is not None
            and heading is not None
        ):
            paths = [one.identifier for one in item.match.meanings if one.kind == "heading"]
            for path in dict.fromkeys(paths):
                # a guide plane in an order is one that is wanted, the field one that is prepared
                if "." not in path or path.startswith(("prescription.", "design.", "outcome.", _PLANES)):
                    continue
                found = _beside(made, at, tokens, path)
                if found is not None:
                    first, last, fact = found
                    if item.kind == "fact" and item.path != fact.path and first == at < last:
                        fact.start, first = item.end, at + 1  # "deep bite, 5 mm" says both
                    made[first : last + 1] = [fact]
                    if fact.extra.get("far"):
                        item.kind = "filler"
                    else:
                        at = first
                    break
        if item.kind == "measure" and (found := _bare_depth(made, at, tokens)) is not None:
            first, last, fact = found
            made[first : last + 1] = [fact]
            at = first
        at += 1
    return made


def _bare_depth(items: list[Item], at: int, tokens: Sequence[Token]) -> tuple[int, int, Item] | None:
    """``0.25 mm mid-buccal``: the depth of a gauge beside a place on a tooth, without the word for an undercut."""
    depth = _depth(items[at], tokens)
    if depth not in _GAUGES.values():
        return None
    for step in (1, -1):
        place = at + step
        while 0 <= place < len(items) and items[place].kind in ("filler", "on"):
            if zone_of(items[place], tokens):
                break
            place += step
        if not 0 <= place < len(items) or not (zone := zone_of(items[place], tokens)):
            continue
        first, last = min(at, place), max(at, place)
        fact = _made(f"abutments.undercuts_mm.{zone}", depth, items[first : last + 1])
        fact.extra["unnamed"] = True
        return first, last, fact
    return None


def _beside(items: list[Item], at: int, tokens: Sequence[Token], path: str) -> tuple[int, int, Item] | None:
    """The first and last item that a field and its value cover, and the fact that they make."""
    kind = lx.kind_of(path)
    if path == _ALLERGY:
        return _allergies(items, at, tokens)
    if path == "abutments.undercuts_mm":
        return _undercut(items, at, tokens)
    if not kind and _is_measured(path):
        return _measured(items, at, tokens, path)
    if not kind:
        return None
    after = _following(items, at)
    skipped = [
        place
        for place in range(at + 1, after)
        if items[place].kind == "filler" or items[place - 1].kind == "colon"  # "sourire : haut"
    ]
    for first in (after, *skipped):  # "Lachlinie: mittel", where "mittel" may also say nothing
        for length in (3, 2, 1):
            run = items[first : first + length]
            value = _value(kind, run, tokens, length)
            if value is not None and (kind != "flag" or items[at + 1].kind == "colon"):
                return at, first + length - 1, _made(path, value, items[at : first + length])
    if (place := _past_teeth(items, after, path)) is not None:
        for length in (3, 2, 1):
            value = _value(kind, items[place : place + length], tokens, length)
            if value is not None:
                return _apart(path, value, items, place, length)
    for length in (3, 2, 1):
        first = at - length
        while first >= 0 and items[first].kind == "filler":
            break
        value = _value(kind, items[max(first, 0) : at], tokens, length) if first >= 0 else None
        if value is not None and kind != "flag":
            return first, at, _made(path, value, items[first : at + 1])
    return None


def _past_teeth(items: list[Item], after: int, path: str) -> int | None:
    """The place behind teeth that stand between a field and its value ("Kronenhöhe 14: 6 mm", "ridge 15-16 firm")."""
    if not path.startswith(("abutments.", "spans.")) or path == _SEATS:
        return None
    place = after
    while place < len(items) and items[place].kind in ("number", "to", "and", "comma"):
        if items[place].kind == "number" and int(items[place].value) <= _MOST_DEGREE:
            return None
        place += 1
    if place == after or items[after].kind != "number" or items[place - 1].kind != "number":
        return None
    while place < len(items) and items[place].kind in ("colon", "filler", "on"):
        place += 1
    return place


def _apart(path: str, value: Any, items: list[Item], place: int, length: int) -> tuple[int, int, Item]:
    """A fact where its value stands, its name apart from it."""
    fact = _made(path, value, items[place : place + length])
    fact.extra["far"] = True
    return place, place + length - 1, fact


def _following(items: list[Item], at: int) -> int:
    """The place of the first item after a field's name that may be its value."""
    after = at + 1
    while after < len(items) and (
        items[after].kind in ("colon", "arch", "quadrant", "open")
        or (items[after].kind in ("filler", "on", "to", "from") and after - at < _NEAR_WORDS)
    ):
        after += 1
    return after


def _value(kind: str, run: list[Item], tokens: Sequence[Token], length: int) -> str | None:
    if len(run) < length or any(
        one.kind in ("hard", "line", "stop", "comma", "colon", "number", "open") for one in run
    ):
        return None
    words = [token.meant or token.text for one in run for token in tokens[one.start : one.end]]
    text = " ".join(words)
    if len(text) < 2 and kind != "sex":
        return None
    return lx.lookup(kind, text)


def _made(path: str, value: Any, run: list[Item]) -> Item:
    return Item("fact", run[0].start, run[-1].end, value, None, path)


def _measured(items: list[Item], at: int, tokens: Sequence[Token], path: str) -> tuple[int, int, Item] | None:
    shape = _shape(path)
    whole = shape is not None and any(one.kind == "whole" for one in (shape, *shape.choices))
    after = at + 1
    steps = 0
    while (
        after < len(items)
        and steps < _NEAR_WORDS
        and items[after].kind in ("colon", "filler", "before", "on", "mark", "open", "to", "from", "and")
        and not (whole and _is_roman(items[after], tokens))
    ):
        after, steps = after + 1, steps + 1
    measured = at > 0 and not whole and items[at - 1].kind == "measure" and after > at + 1
    if after < len(items) and not (measured and items[at + 1].kind != "colon"):  # "15 mm wide and 5 mm high"
        value = _amount(items[after], tokens, whole)
        if value is not None:
            return at, after, _made(path, value, items[at : after + 1])
    if not whole and (place := _past_teeth(items, after, path)) is not None and place < len(items):
        value = _amount(items[place], tokens, whole)
        if value is not None:
            return _apart(path, value, items, place, 1)
    before = at - 1
    while before >= 0 and items[before].kind in ("filler", "on", "from"):
        before -= 1
    if before >= 0:
        graded = before > 0 and items[before - 1].kind == "before"
        value = _amount(items[before], tokens, whole, before_name=not graded)
        if value is not None:
            return before, at, _made(path, value, items[before : at + 1])
    return None if whole else _far(items, at, tokens, path)


def _far(items: list[Item], at: int, tokens: Sequence[Token], path: str) -> tuple[int, int, Item] | None:
    """A field with the only measure of its sentence, apart from its name ("10 mm from the gum to the raised floor")."""
    if path not in _ALONE_IN_SENTENCE:
        return None
    first = last = at
    while first > 0 and items[first - 1].kind not in SENTENCE:
        first -= 1
    while last + 1 < len(items) and items[last + 1].kind not in SENTENCE:
        last += 1
    measures = [
        i for i in range(first, last + 1) if items[i].kind == "measure" and _amount(items[i], tokens, False)
    ]
    if len(measures) != 1:
        return None
    only = measures[0]
    fact = _made(path, _amount(items[only], tokens, False), [items[only]])
    fact.extra["far"] = True
    return only, only, fact


def _is_roman(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether a single capital letter is a degree ("mobility I") and no pronoun."""
    written = tokens[item.start].text
    return item.end - item.start == 1 and written.isupper() and written.lower() in _ROMAN


def _amount(
    item: Item, tokens: Sequence[Token], whole: bool, before_name: bool = False
) -> float | int | None:
    if item.start and tokens[item.start - 1].text in _BOUNDS:
        return None
    if item.kind == "measure" and item.extra.get("unit") in (
        "mm",
        "cm",
        "Millimeter",
        "millimètres",
        "milímetros",
    ):
        return float(item.value) * (10 if item.extra["unit"] == "cm" else 1)
    if whole and item.kind == "number" and item.value <= 3 and not before_name:
        return int(item.value)
    if whole and not before_name and (item.kind == "word" or _is_roman(item, tokens)):
        return (
            int(tokens[item.start].text)
            if tokens[item.start].is_number
            else _ROMAN.get(tokens[item.start].folded)
        )
    return None


def _allergies(items: list[Item], at: int, tokens: Sequence[Token]) -> tuple[int, int, Item] | None:
    found: list[str] = []
    last, position = at, _following(items, at)
    told = _value("flag", items[position : position + 1], tokens, 1)
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
        return at, position, _made(_ALLERGY, "none", items[at : position + 1])
    while position < len(items):
        pair = _value("allergen", items[position : position + 2], tokens, 2)
        if pair is not None and items[position + 1].kind == "word":
            found, last, position = [*found, pair], position + 1, position + 2
            continue
        values = _allergens(items[position], tokens)
        parted = items[position].kind == "filler" and items[position - 1].kind == "comma"
        if values:
            found, last = [*found, *values], position
        elif found and items[position].kind in ("negation", "nor"):
            pass  # "neither nickel nor palladium"
        elif parted or items[position].kind not in ("and", "comma", "or", "filler", "to", "on", "from"):
            break
        position += 1
    if found:
        last += items[last + 1 : last + 2] != [] and items[last + 1].kind == "close"
        return at, last, _made(_ALLERGY, list(dict.fromkeys(found)), items[at : last + 1])
    return _allergens_before(items, at, tokens)


def _with_more_allergens(items: list[Item], at: int, tokens: Sequence[Token]) -> None:
    """An allergy that a phrase states, with what is named after it ("allergy to nickel and cobalt")."""
    item = items[at]
    joined = items[at + 1 : at + 2] and items[at + 1].kind in ("and", "to")
    if item.kind != "fact" or item.path != _ALLERGY or item.value == "none" or not joined:
        return
    named = item.value if isinstance(item.value, list) else [str(item.value)]
    more = _allergies(items, at, tokens)
    if more is not None and more[0] == at:
        fact = _made(_ALLERGY, list(dict.fromkeys([*named, *more[2].value])), items[at : more[1] + 1])
        items[at : more[1] + 1] = [fact]


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
    return (first, at, _made(_ALLERGY, values, items[first : at + 1])) if values else None


def _allergens(item: Item, tokens: Sequence[Token]) -> list[str]:
    """What an item names as a cause of allergy: the material itself, or what an alloy holds."""
    value = _value("allergen", [item], tokens, 1)
    if value is not None:
        return [value]
    return list(lx.document("order")["allergens_in"].get(item.value, ())) if item.kind == "alloy" else []


def _is_depth(item: Item, tokens: Sequence[Token]) -> bool:
    """Whether a measure is a depth; hundredths without a unit, or with an inch sign, are inches, a gauge each."""
    return _depth(item, tokens) is not None


def _depth(item: Item, tokens: Sequence[Token]) -> float | None:
    """A depth in millimetres: of 0.010, 0.020 and 0.030 inches the gauge (0.25, 0.50, 0.75 mm)."""
    sign = item.end < len(tokens) and tokens[item.end].text in ('"', "″", "”")
    unit = str(item.extra.get("unit"))
    if sign or unit in ("inch", "inches", "in") or (unit == "mm" and item.value < _LEAST_DEPTH):
        return _GAUGES.get(round(float(item.value), 3))
    return float(item.value) if unit == "mm" else None


def _undercut(items: list[Item], at: int, tokens: Sequence[Token]) -> tuple[int, int, Item] | None:
    """An undercut needs its zone and its depth, both within a few words."""
    low, high = max(0, at - 3), min(len(items), at + 5)
    zone = depth = None
    for index in (*range(at + 1, high), *range(at - 1, low - 1, -1)):
        item = items[index]
        if item.kind in ("hard", "line", "stop"):
            continue
        if depth is None and item.kind == "measure" and _is_depth(item, tokens):
            depth = index
        if zone is None and zone_of(item, tokens):
            zone = index
    if zone is None or depth is None:
        return None
    first, last = min(at, zone, depth), max(at, zone, depth)
    if any(items[i].kind in ("hard", "line", "stop", "number") for i in range(first, last + 1)):
        return None
    name = _value("zone", [items[zone]], tokens, 1)
    path = f"abutments.undercuts_mm.{name}"
    return first, last, _made(path, _depth(items[depth], tokens), items[first : last + 1])
