"""The numbers of the mechanics behind a rule, as statements with their bands.

Bands stay bands, "about 3 to 33 N" and never one bare number, since published figures differ widely.
"""

from collections.abc import Iterator, Mapping

from recommender.domain.statement import Quantity, Statement, quantity, say
from recommender.facts.values import Fact, Scope

# Fact: unit in which it is said, and decimals. Its sentence is ``computed.`` and the fact's name.
_SAID = {
    "arm.force_n": ("N", 1),
    "arm.stress_ratio": ("", 1),
    "arm.visible_share": ("", 2),
    "arm.tip_travel_mm": ("mm", 2),
    "connector.room_left_mm": ("mm", 1),
    "connector.stiffness": ("", 2),
    "connector.covered_cm2": ("cm2", 1),
    "connector.weight_g": ("g", 1),
    "lever.arm_mm": ("mm", 0),
    "lever.ratio": ("", 1),
}
# What is left over a space: the fact that tells the room that was measured.
_ROOMS = {"space.left_mm": "span.clearance_mm", "space.depth_left_mm": "span.facial_depth_mm"}
COMPUTED = tuple(name + "." for name in ("arm", "space", "connector", "lever"))


def computed(facts: Mapping[str, Fact], scope: Scope) -> Iterator[Statement]:
    """What was computed among the facts behind a rule, one statement a fact.

    ``scope`` is where the rule was evaluated: it tells the room that was measured.
    """
    for name, fact in facts.items():
        if name in _SAID and (fact.low is not None or fact.high is not None):
            unit, digits = _SAID[name]
            yield say(f"computed.{name}", band=Quantity(fact.low, fact.high, unit, digits))
        elif name in _ROOMS and fact.low is not None and fact.high is not None:
            room = scope.fact(_ROOMS[name]).low
            if room is not None:
                needed = Quantity(room - fact.high, room - fact.low, "mm", 1)
                yield say(f"computed.{name}", needed=needed, room=quantity(room, "mm"))
