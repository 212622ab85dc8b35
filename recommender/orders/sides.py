"""Sides named by one named before ("on that side", "on the other side")."""

from recommender.orders.items import Item

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
    return items
