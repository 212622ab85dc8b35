"""Invented houses: policies by which a laboratory might choose, written from what lies before a technician. They know
nothing of scores, criteria, rules or precedents; only what the program calls blocked is no choice.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from recommender.domain.case import Case
from recommender.domain.findings import Abutment

Pick = Callable[["Before", list[str]], list[str]]


@dataclass(frozen=True, slots=True)
class Before:
    """What lies before the technician at one decision."""

    case: Case
    tooth: int
    abutment: Abutment | None
    extension: bool
    beside: bool
    front: bool
    given: str = ""

    @property
    def molar(self) -> bool:
        """Whether the tooth is a molar."""
        return self.tooth % 10 >= 6

    @property
    def canine(self) -> bool:
        """Whether the tooth is a canine."""
        return self.tooth % 10 == 3

    def mm(self, name: str, otherwise: float) -> float:
        """A measure of the tooth, or what the house takes it for."""
        value = getattr(self.abutment, name, None) if self.abutment else None
        return otherwise if value is None else _plain(value)

    def patient(self, name: str) -> object:
        """A field of the patient."""
        return getattr(self.case.patient, name, None) if self.case.patient else None


@dataclass(frozen=True, slots=True)
class House:
    """Preferences in order, by kind of decision; the first that is not blocked is taken."""

    name: str
    retainer: Callable[[Before], list[str]]
    rest: Callable[[Before], list[str]]
    connector: Callable[[Before], list[str]]
    replacement: Callable[[Before], list[str]]


def _plain(mm: object) -> float:
    """A measure as a number, the middle of an interval; 0 where there is none."""
    value = getattr(mm, "value", mm)
    return float(value) if isinstance(value, (int, float)) else 0.0


def _bars(b: Before) -> list[str]:
    if not b.beside:
        return ["rest_only", "embrasure"]
    if b.extension:
        shallow = b.mm("vestibule_depth_mm", 8) < 6 or (b.abutment is not None and b.abutment.tissue_undercut)
        return ["rpa", "combination"] if shallow else ["i_bar", "t_bar", "rpa"]
    return ["i_bar", "t_bar", "circumferential"] if not b.molar else ["circumferential", "ring"]


def _circlets(b: Before) -> list[str]:
    if not b.beside:
        return ["embrasure", "rest_only"]
    if b.extension:
        return ["combination", "reverse_circumferential"]
    return ["ring", "circumferential"] if b.molar and b.case.arch == "mandible" else ["circumferential", "combination"]


def _hidden(b: Before) -> list[str]:
    seen = b.front or b.tooth % 10 == 4
    if seen and b.patient("aesthetic_priority") == "high":
        return ["lingual_retention", "proximal_undercut", "rpa", "i_bar", "combination"]
    if seen:
        return ["rpa", "i_bar", "combination"]
    return ["back_action", "circumferential"] if b.beside else ["none", "rest_only"]


def _sparing(b: Before) -> list[str]:
    if b.mm("mobility", 0) >= 1 or (b.abutment is not None and b.abutment.bone_support in ("reduced", "poor")):
        return ["combination", "rest_only"]
    if not b.beside:
        return ["none", "rest_only"]
    return ["rpa", "reverse_circumferential"] if b.extension else ["half_and_half", "circumferential"]


def _wire(b: Before) -> list[str]:
    if not b.beside:
        return ["none"]
    return ["combination", "circumferential"] if not b.molar else ["circumferential", "extended_arm"]


def _rests(order: Sequence[str], front: Sequence[str]) -> Callable[[Before], list[str]]:
    def pick(b: Before) -> list[str]:
        if b.given == "none":
            return ["none"]
        return list(front if b.front else order)

    return pick


def _plates(b: Before) -> list[str]:
    upper = ["complete_plate", "metal_resin_plate", "palatal_strap"]
    return [*upper, "linguoplate", "interrupted_linguoplate", "lingual_bar"]


def _open(b: Before) -> list[str]:
    floor = b.case.floor.depth_mm if b.case.floor else None
    sites = [getattr(floor, site, None) for site in ("incisor", "canine", "premolar", "molar")]
    depth = min((_plain(mm) for mm in (floor, *sites) if _plain(mm) > 0), default=9.0)
    lower = ["lingual_bar", "sublingual_bar"] if depth >= 8 else ["sublingual_bar", "linguoplate"]
    return ["palatal_strap", "anteroposterior_strap", *lower]


def _u(b: Before) -> list[str]:
    gags = b.patient("gag_reflex") is True
    upper = ["u_shaped" if gags else "palatal_bar", "anteroposterior_bar", "palatal_strap"]
    return [*upper, "cingulum_bar", "lingual_bar"]


def _resin(b: Before) -> list[str]:
    return ["resin_tooth_lattice", "reinforced_resin"]


def _metal(b: Before) -> list[str]:
    if b.tooth % 10 <= 3:
        return ["metal_backed_facing", "tube_tooth", "resin_tooth_metal_base", "resin_tooth_lattice"]
    if b.extension:
        return ["resin_base_metal_occlusal", "resin_tooth_lattice"]
    return ["resin_tooth_metal_base", "metal_tooth", "resin_tooth_lattice"]


def _tubes(b: Before) -> list[str]:
    return ["resin_tooth_lattice"] if b.extension else ["tube_tooth", "reinforced_resin", "resin_tooth_metal_base"]


# Where nothing of a house's own list can be made.
ELSE = ("circumferential", "combination", "rest_only", "lingual_bar", "palatal_strap", "resin_tooth_lattice", "mesial")
_NEAR = _rests(["mesial", "distal", "mesial_distal", "embrasure"], ["cingulum", "incisal"])
_FAR = _rests(["distal", "mesial", "embrasure", "long"], ["cingulum", "mesial"])
_LONG = _rests(["long", "mesial_distal", "mesial", "distal"], ["incisal", "cingulum"])

HOUSES: tuple[House, ...] = (
    House("bars", _bars, _NEAR, _open, _resin),
    House("circlets", _circlets, _FAR, _plates, _metal),
    House("hidden", _hidden, _NEAR, _u, _tubes),
    House("sparing", _sparing, _LONG, _plates, _resin),
    House("wire", _wire, _FAR, _open, _metal),
)
