"""The numbers of the mechanics in words, for a sentence of the explanation.

Bands are spoken as bands: "about 3 to 33 N", never one bare number, since published figures differ widely.
"""

from collections.abc import Mapping

from recommender.facts.values import Fact, Scope

# Fact: how it is spoken, and decimals.
_SPOKEN = {
    "arm.force_n": ("computed pull to withdraw the arm {band} N", 1),
    "arm.stress_ratio": ("computed peak stress {band} times what the alloy bears", 1),
    "arm.visible_share": ("computed share of metal in view {band}", 2),
    "arm.tip_travel_mm": ("computed rise of the tip as the base sinks {band} mm", 2),
    "connector.room_left_mm": ("room left over {band} mm", 1),
    "connector.stiffness": ("computed stiffness {band} of the stiffest for this arch", 2),
    "connector.covered_cm2": ("tissue covered {band} cm2", 1),
    "connector.weight_g": ("weight {band} g in cobalt-chromium", 1),
    "lever.arm_mm": ("lever {band} mm", 0),
    "lever.ratio": ("lever {band} times that of the pull on the base", 1),
}
_ROOMS = {
    "space.left_mm": ("span.clearance_mm", "the layers need {band} mm; {room} mm are there"),
    "space.depth_left_mm": (
        "span.facial_depth_mm",
        "front to back the layers need {band} mm; {room} mm are there",
    ),
}
COMPUTED = tuple(name + "." for name in ("arm", "space", "connector", "lever"))


def band_words(low: float | None, high: float | None, decimals: int) -> str:
    """A band as people say it: ``3 to 33``, ``at least 3``, ``at most 33``, or one number where it has no width."""
    first = None if low is None else _plain(low, decimals)
    last = None if high is None else _plain(high, decimals)
    if first is None:
        return f"at most {last}" if last is not None else "not known"
    if last is None:
        return f"at least {first}"
    return first if first == last else f"{first} to {last}"


def _plain(value: float, decimals: int) -> str:
    """Rounded, without a minus sign before zero."""
    return f"{round(value, decimals) + 0.0:.{decimals}f}"


def computed_words(facts: Mapping[str, Fact], scope: Scope) -> str:
    """What was computed among the facts behind a rule, as one clause; empty where nothing was.

    ``scope`` is where the rule was evaluated: it tells the room that was measured.
    """
    clauses = []
    for name, fact in facts.items():
        if name in _SPOKEN and (fact.low is not None or fact.high is not None):
            pattern, decimals = _SPOKEN[name]
            clauses.append(pattern.format(band=band_words(fact.low, fact.high, decimals)))
        elif name in _ROOMS and fact.low is not None and fact.high is not None:
            measured, pattern = _ROOMS[name]
            room = scope.fact(measured).low
            if room is not None:
                needed = band_words(room - fact.high, room - fact.low, 1)
                clauses.append(pattern.format(band=needed, room=_plain(room, 1)))
    return "; ".join(clauses)
