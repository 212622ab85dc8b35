"""Which way an arm runs round its tooth: sides, surfaces, and the turn at which its tip comes to lie."""

from dataclasses import dataclass

from recommender.domain.dentition import opposite
from recommender.domain.options import Option

START = 0.1  # an arm leaves the rest a little off the contact, as a share of the surface
LONGEST = 1.86


@dataclass(frozen=True, slots=True)
class Held:
    """A retainer as the drawing needs it: its tooth, its assembly, and the side (near) from which it comes."""

    tooth: int
    option: Option
    near: str
    zone: str | None = None
    partner: int | None = None

    @property
    def far(self) -> str:
        return opposite(self.near)


def turn(side: str, surface: str, share: float) -> float:
    """The turn round a crown at a share of a surface, from the ``mesial`` or ``distal`` side on (may pass 1)."""
    if side == "mesial":
        return 2 * share if surface == "facial" else 4 - 2 * share
    return 2 - 2 * share if surface == "facial" else 2 + 2 * share


ZONE_TURNS = {
    "mesiofacial": 0.45, "midfacial": 1.0, "distofacial": 1.55,
    "distolingual": 2.45, "midlingual": 3.0, "mesiolingual": 3.55, "mesial": 0.0, "distal": 2.0,
}  # fmt: skip

# Where a tip comes to lie, a little nearer to the line angle than the mark of its zone.
TIP_TURNS = ZONE_TURNS | {"mesiofacial": 0.3, "distofacial": 1.7, "distolingual": 2.3, "mesiolingual": 3.7}


def course(held: Held) -> tuple[str, str]:
    """The side from which a suprabulge arm starts and the surface along which it sets out.

    The catalogue's course holds unless the design engages a zone that lies the other way.
    """
    arm = held.option.arm
    if arm is None:
        raise ValueError(f"{held.option.id} has no arm")
    side = held.near if arm.origin == "near" else held.far
    surface = arm.surface
    zone = held.zone or ""
    on = zone.removeprefix("mesio").removeprefix("disto").removeprefix("mid")
    if on not in ("facial", "lingual") or surface == "proximal" or "tip_on_neighbour" in held.option.parts:
        return side, surface
    if arm.reach <= 1:
        surface = on
        if zone.startswith("mesio"):
            side = "distal"
        elif zone.startswith("disto"):
            side = "mesial"
    elif "strut" in held.option.parts:
        # A ring ends on the surface opposite to that on which it starts.
        surface = "lingual" if on == "facial" else "facial"
    return side, surface


def end_turn(start: float, nominal: float, zone: str | None) -> float:
    """The turn at which an arm ends: at its zone, reached in the arm's own direction, else where the form ends."""
    at = TIP_TURNS.get(zone or "")
    if at is None:
        return nominal
    ahead = 1.0 if nominal > start else -1.0
    reached = [at + 4 * k for k in (-2, -1, 0, 1, 2) if (at + 4 * k - start) * ahead > 0.3]
    return min(reached, key=lambda end: abs(end - nominal))


def doubles_back(option: Option) -> bool:
    """Whether an arm turns back to an undercut below its own origin."""
    arm = option.arm
    return (
        arm is not None
        and option.tip is not None
        and arm.reach > 1
        and option.tip.zones[0] == f"{arm.origin}_{arm.surface}"
        and "strut" not in option.parts
    )
