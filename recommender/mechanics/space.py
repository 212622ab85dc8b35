"""Room for a replacement tooth, layer by layer, and for a rest.

Millimetres throughout. The layers, with their least, usual and generous thickness, come from
``shared/tables/space.csv`` and ``shared/mechanics.yaml``; what the trade needs in sum is not published, so
every answer is a band and says at which layer room runs out first.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from recommender.mechanics.bands import Band, as_band, exact
from recommender.mechanics.figures import figure_band, figures, remembered
from recommender.mechanics.tables import band

NOTHING_FAILS = "none"


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of a build-up and its thickness (mm)."""

    name: str
    thickness_mm: Band


@dataclass(frozen=True, slots=True)
class Budget:
    """What a build-up needs and what is left of the room.

    ``left_mm`` is negative where room is lacking. ``fails_at`` holds, for the thinnest, the usual and the
    thickest layers, the layer at which the room is used up, or ``none``.
    """

    layers: tuple[Layer, ...]
    needed_mm: Band
    left_mm: Band
    fails_at: tuple[str, str, str]


def _layers(block: Sequence[Any]) -> tuple[Layer, ...]:
    return tuple(
        Layer(entry["layer"], band("space", entry["row"]) if "row" in entry else figure_band(entry["mm"]))
        for entry in block
    )


@remembered()
def layers_of(replacement: str) -> tuple[Layer, ...]:
    """The layers over the ridge, from the ridge up; ``KeyError`` for a type that the vocabulary lacks."""
    return _layers(figures("replacement_layers")[replacement])


@remembered()
def layers_in_depth(replacement: str) -> tuple[Layer, ...]:
    """The layers from the lingual forward to the facial; empty for a type without a facing."""
    return _layers(figures("replacement_depth").get(replacement, ()))


def budget(room_mm: Band | float, layers: Sequence[Layer]) -> Budget:
    """Hold a stack of layers against the room there is."""
    room = as_band(room_mm)
    needed = sum((layer.thickness_mm for layer in layers), exact(0.0))
    # The thickest stack meets the least room, the thinnest the most.
    ends = (
        _first_to_fail(room.high, [layer.thickness_mm.low for layer in layers], layers),
        _first_to_fail(room.typical, [layer.thickness_mm.typical for layer in layers], layers),
        _first_to_fail(room.low, [layer.thickness_mm.high for layer in layers], layers),
    )
    return Budget(tuple(layers), needed, room - needed, ends)


def _first_to_fail(room: float, thicknesses: Sequence[float], layers: Sequence[Layer]) -> str:
    used = 0.0
    for layer, thickness in zip(layers, thicknesses, strict=True):
        used += thickness
        if used > room + 1e-9:
            return layer.name
    return NOTHING_FAILS


@remembered(1 << 13)
def vertical_budget(replacement: str, clearance_mm: Band | float) -> Budget:
    """The vertical room from the ridge crest to the opposing tooth against one type of replacement tooth."""
    return budget(clearance_mm, layers_of(replacement))


def facing_takes_contact(arch: str, anterior: bool, contacts: frozenset[str] | None) -> bool | None:
    """Whether the bite or a glide lands on a bonded facing; ``None`` where contacts were not recorded.

    An upper front facing meets the lower teeth only at its edge, in a glide; its closing contact falls on the
    cast backing. A lower front facing is bitten on its facial surface. On back teeth the cast surface takes
    the bite, and a glide reaches the facing at its cusps in the lower arch, where the facial cusps work
    (common practice, no source).
    """
    if contacts is None:
        return None
    glides = bool(contacts & {"protrusive", "lateral"})
    if arch == "maxilla":
        return anterior and glides
    return glides or (anterior and "closing" in contacts)


@remembered(1 << 13)
def depth_budget(
    replacement: str, facial_depth_mm: Band | float, under_contact: bool | None, deep_overbite: bool | None
) -> Budget | None:
    """Front-to-back room for a facing; ``None`` for a type that has none.

    A facing that takes a contact is made thicker, and with a deep overbite it gets a metal edge in front of
    it. What was not recorded widens the need over both cases.
    """
    layers = layers_in_depth(replacement)
    if not layers:
        return None
    block = figures("replacement_depth")
    facing = layers[-1].thickness_mm
    under = figure_band(block["facing_under_contact"])
    if under_contact is None:
        facing = facing.hull(under)
    elif under_contact:
        facing = under
    build = [*layers[:-1], Layer(layers[-1].name, facing)]
    edge = figure_band(block["metal_edge"])
    if under_contact is not False and deep_overbite is not False:
        sure = under_contact is True and deep_overbite is True
        build.append(Layer("metal", edge if sure else exact(0.0).hull(edge)))
    return budget(facial_depth_mm, build)
