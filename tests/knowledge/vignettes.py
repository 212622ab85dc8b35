"""The textbook situations of ``test_vignettes``: invented cases, the expectation and its source beside each.

Undercut depths are nominal where a source names only the place. Sources marked ``from memory`` were not
looked up again.
"""

from dataclasses import dataclass
from typing import Any

OUHSC = "University of Oklahoma College of Dentistry, RPD review questions"
MCCRACKEN = "Carr AB, Brown DT. McCracken's RPD, 12th ed. 2011 (from memory)"
STEWART = "Phoenix RD et al. Stewart's Clinical RPD, 4th ed. 2008 (from memory)"
KROL = "Krol AJ. Dent Clin North Am 1973;17:631-649"
KRATOCHVIL = "Kratochvil FJ. J Prosthet Dent 1963;13:114-124"
ELIASON = "Eliason CM. J Prosthet Dent 1983;49:25-27"
TRAN = "Tran C et al. J Prosthet Dent 2009;102:286-289"
ROTATION = "Jacobson TE, Krol AJ. J Prosthet Dent 1982;48:370-376 (from memory)"
ALLERGY = "Rees TD. Open Pathol J 2011;5:13-22; Wiltshire WA et al. Quintessence Int 1996;27:513-520"
HABIT = "common practice, no source"

ZONES = ("mesiofacial", "midfacial", "distofacial", "mesiolingual", "midlingual", "distolingual")
CLASS_I = [36, 37, 46, 47]
SEEN = {"aesthetic_priority": "high", "smile_line": "high", "last_tooth_in_smile": 16}
FLOOR = {
    "depth_mm": 9, "torus": "none", "lingual_tilt": False, "lingual_frenum": "low", "tissue_undercut": False,
    "spaces_between_anteriors": False, "open_cervical_embrasures": False, "future_loss_likely": False,
}  # fmt: skip
PALATE = {"torus": "none", "rugae": "average", "vault": "average", "tissue_undercut": False, "length_mm": 48}


def tooth(number: int, /, **more: Any) -> dict[str, Any]:
    """A sound, upright, surveyed tooth; zones given by name, anything else overrides."""
    zones = {zone: more.pop(zone, 0.0) for zone in ZONES}
    zones |= {zone: more.pop(zone) for zone in ("mesial", "distal") if zone in more}
    return {
        "tooth": number, "undercuts_mm": zones, "crown_height_mm": 8, "mobility": 0, "bone_support": "good",
        "disease": "none", "restoration": "sound", "tilt": "none", "tissue_undercut": False,
        "frenum_near": False, "vestibule_depth_mm": 8, **more,
    }  # fmt: skip


@dataclass(frozen=True)
class Vignette:
    """``first``: one of these leads. ``order``: usable, in this order. ``shut``: advised against or excluded."""

    name: str
    source: str
    decision: tuple[str, int]
    arch: str
    missing: list[int]
    fields: dict[str, Any]
    first: frozenset[str] = frozenset()
    order: tuple[str, ...] = ()
    shut: frozenset[str] = frozenset()


def v(
    name: str, source: str, at: str, arch: str, missing: list[int], *,
    first: str = "", order: str = "", shut: str = "", **fields: Any,
) -> Vignette:  # fmt: skip
    kind, _, number = at.partition(" ")
    return Vignette(
        name, source, (kind, int(number or 0)), arch, missing, fields,
        frozenset(first.split()), tuple(order.split()), frozenset(shut.split()),
    )  # fmt: skip


UP, LOW = "maxilla", "mandible"
RESTS = "mesial distal mesial_distal embrasure cingulum incisal long onlay"
TEETH = "resin_tooth_lattice resin_tooth_metal_base tube_tooth metal_backed_facing reinforced_resin"
