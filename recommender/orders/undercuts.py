"""Undercuts: a depth in millimetres or inches and the zone of the tooth that it is measured at."""

from collections.abc import Sequence

from recommender.orders.degrees import zone_of
from recommender.orders.field_values import fact_of, value_of
from recommender.orders.items import Item
from recommender.orders.text import Token

# Below this many millimetres no gauge is made: such a figure is in inches.
_LEAST_DEPTH = 0.05
# Undercut gauges in inches and in millimetres (common practice, no source).
_GAUGES = {0.01: 0.25, 0.02: 0.5, 0.03: 0.75}


def bare_depth(items: list[Item], at: int, tokens: Sequence[Token]) -> tuple[int, int, Item] | None:
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
        fact = fact_of(f"abutments.undercuts_mm.{zone}", depth, items[first : last + 1])
        fact.extra["unnamed"] = True
        return first, last, fact
    return None


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


def undercut_beside(items: list[Item], at: int, tokens: Sequence[Token]) -> tuple[int, int, Item] | None:
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
    name = value_of("zone", [items[zone]], tokens, 1)
    path = f"abutments.undercuts_mm.{name}"
    return first, last, fact_of(path, _depth(items[depth], tokens), items[first : last + 1])
