"""Invented cases that come about by fixed mechanisms: what the acceptability is held against besides stored cases.

Nothing here is read from ``shared/plausible/``, and nothing here is learned from it: a few hidden traits of a patient
(age, care, periodontal course, force, build of the face) lead to losses, drift, tilt and crown geometry, and what a
designer records is read off that. So fields go together in ways that the plausible values, one parent a field, do not
know. All figures are judgements (common practice, no source), set once and never adjusted to an outcome; the cases are
evidence of nothing about patients.
"""

from collections.abc import Iterator
from typing import Any

import numpy as np

from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER, is_anterior, position, side_of, tooth_type
from recommender.domain.reader import read_value

TITLE = "Invented, by fixed mechanisms"
GAUGES = (0.0, 0.1, 0.25, 0.5, 0.75)
# How readily a tooth is lost, by position from the midline.
_LOSS = {1: 0.10, 2: 0.12, 3: 0.07, 4: 0.22, 5: 0.30, 6: 0.48, 7: 0.38, 8: 0.0}
_SIDES = {"mesio": "mesial", "mid": "", "disto": "distal"}


def invented_cases(count: int, seed: int = 1, prefix: str = "made") -> Iterator[Case]:
    """``count`` cases, the same for the same seed; none of them has a design."""
    number = made = 0
    while made < count:
        chance = np.random.default_rng([seed, number])
        number += 1
        arch = _arch(chance, f"{prefix}-{seed}-{number:05d}")
        if arch is not None:
            made += 1
            yield arch


def _arch(chance: np.random.Generator, case_id: str) -> Case | None:
    traits = _Traits(chance)
    arch = "mandible" if chance.random() < 0.55 else "maxilla"
    order = ARCH_ORDER[arch]
    missing = [t for t in order if position(t) < 8 and chance.random() < _LOSS[position(t)] * traits.losses]
    standing = [t for t in order if position(t) < 8 and t not in missing]
    if not 1 <= len(missing) <= 9 or len(standing) < 4 or not any(not is_anterior(t) for t in standing):
        return None
    spaces = _spaces(order, missing)
    months = {space[0]: int(np.clip(chance.exponential(70), 2, 240)) for space in spaces}
    beside = {
        t
        for space in spaces
        for t in (_step(order, space[0], -1), _step(order, space[-1], 1))
        if t in standing
    }
    named = sorted(
        {*beside, *(t for t in (order[4], order[11], order[2], order[13]) if t in standing)}, key=order.index
    )
    value: dict[str, Any] = {
        "format": 1,
        "id": case_id,
        "title": TITLE,
        "arch": arch,
        "missing": missing,
        "absent": [t for t in order if position(t) == 8],
        "patient": traits.patient(arch),
        "occlusion": traits.occlusion(arch),
        "records": {"mounting": "articulated", "tilt_ap_deg": 0, "tilt_lateral_deg": 0},
        "spans": [traits.space(space, months[space[0]], order) for space in spaces],
        "abutments": [traits.tooth(t, order, spaces, months) for t in named],
        **traits.jaw(arch),
    }
    return read_value(value, case_id)


def _step(order: tuple[int, ...], tooth: int, by: int) -> int | None:
    place = order.index(tooth) + by
    return order[place] if 0 <= place < len(order) else None


def _spaces(order: tuple[int, ...], missing: list[int]) -> list[list[int]]:
    spaces: list[list[int]] = []
    for tooth in missing:
        if spaces and _step(order, spaces[-1][-1], 1) == tooth:
            spaces[-1].append(tooth)
        else:
            spaces.append([tooth])
    return spaces


def _gauge(depth: float) -> float:
    """The deepest gauge that touches."""
    return max(gauge for gauge in GAUGES if gauge <= max(0.0, depth) + 0.02)


def _half(value: float, low: float, high: float) -> float:
    return float(np.clip(round(2 * value) / 2, low, high))


class _Traits:
    """The hidden traits of one patient, and what follows from them."""

    def __init__(self, chance: np.random.Generator) -> None:
        self.chance = chance
        self.age = float(np.clip(chance.gamma(22, 2.9), 28, 88))
        self.care = chance.normal()
        self.course = 0.03 * (self.age - 62) - 0.6 * self.care + 0.8 * chance.normal()
        self.force = chance.normal() - 0.01 * (self.age - 60)
        self.height = chance.normal()
        self.bulge = 0.30 + 0.08 * chance.normal()
        self.losses = float(np.exp(0.35 * self.course - 0.2 * self.care))

    def _words(self, trait: float, *limits: tuple[float, str]) -> str:
        return next(word for limit, word in limits if trait < limit)

    def patient(self, arch: str) -> dict[str, Any]:
        lips = 0.7 * self.height - 0.02 * (self.age - 60) + 0.7 * self.chance.normal()
        found: dict[str, Any] = {
            "age": round(self.age),
            "hygiene": self._words(-self.care, (0.2, "good"), (1.4, "fair"), (99, "poor")),
            "caries_risk": self._words(
                -self.care + 0.8 * self.chance.normal(), (0.3, "low"), (1.5, "moderate"), (99, "high")
            ),
            "aesthetic_priority": self._words(
                0.02 * (60 - self.age) + self.chance.normal(), (-0.6, "low"), (0.7, "moderate"), (99, "high")
            ),
            "gag_reflex": bool(self.chance.random() < 0.06),
            "dexterity": "limited" if self.chance.random() < 0.3 * (self.age > 75) else "good",
        }
        if arch == "maxilla":
            found["smile_line"] = self._words(-lips, (-1.2, "high"), (0.9, "average"), (99, "low"))
            found["last_tooth_in_smile"] = 13 + int(np.clip(round(1.7 + 0.7 * self.chance.normal()), 0, 4))
        else:
            found["lower_display"] = self._words(
                -lips + 0.02 * (self.age - 60), (-1.1, "none"), (0.8, "edges"), (99, "crowns")
            )
        return found

    def occlusion(self, arch: str) -> dict[str, Any]:
        opposing = "natural" if self.course < 1.2 else "removable_partial"
        if arch == "mandible" and self.chance.random() < 0.12 + 0.1 * (self.course > 0.8):
            opposing = "complete_denture"
        bite = 2.8 - 1.2 * self.height + self.chance.normal()
        return {
            "opposing": opposing,
            "overbite": self._words(bite, (-0.4, "open"), (4.8, "normal"), (99, "deep")),
            "load": self._words(self.force, (-1.3, "light"), (0.9, "normal"), (99, "heavy")),
        }

    def space(self, teeth: list[int], months: int, order: tuple[int, ...]) -> dict[str, Any]:
        open_end = order.index(teeth[0]) <= 1 or order.index(teeth[-1]) >= 14
        resorbed = 0.5 * self.course + 0.012 * months + 0.6 * self.chance.normal() + 0.4 * open_end
        found: dict[str, Any] = {
            "teeth": teeth,
            "clearance_mm": _half(7.4 + 0.7 * self.height - 0.006 * months + self.chance.normal(), 3, 11),
            "ridge": self._words(
                resorbed + 0.5 * self.chance.normal(),
                (1.9, "firm"),
                (2.5, "displaceable"),
                (3.1, "flat"),
                (99, "knife_edge"),
            ),
            "ridge_loss": self._words(resorbed, (0.7, "none"), (2.3, "moderate"), (99, "severe")),
            "months_since_extraction": months,
            "tissue_undercut": bool(self.chance.random() < 0.07),
        }
        if any(map(is_anterior, teeth)):
            found["facial_depth_mm"] = _half(5.8 - 0.4 * resorbed + self.chance.normal(), 2, 10)
        return found

    def _drift(
        self, tooth: int, order: tuple[int, ...], spaces: list[list[int]], months: dict[int, int]
    ) -> float:
        """Degrees toward mesial: teeth behind a space lean into it with time, those before it hardly at all."""
        degrees = 1.5 * self.chance.normal()
        right = side_of(tooth) == "right"
        for space in spaces:
            years = months[space[0]] / 12
            behind = _step(order, space[0], -1) if right else _step(order, space[-1], 1)
            before = _step(order, space[-1], 1) if right else _step(order, space[0], -1)
            if tooth == behind:
                degrees += (
                    (16 if position(tooth) > 5 else 7)
                    * (1 - np.exp(-years / 5))
                    * self.chance.lognormal(0, 0.5)
                )
            elif tooth == before:
                degrees -= 2 * (1 - np.exp(-years / 5)) * self.chance.lognormal(0, 0.5)
        return float(degrees)

    def tooth(
        self, tooth: int, order: tuple[int, ...], spaces: list[list[int]], months: dict[int, int]
    ) -> dict[str, Any]:
        chance, kind = self.chance, tooth_type(tooth)
        mesial = self._drift(tooth, order, spaces, months)
        lower_back = tooth // 10 > 2 and kind in ("premolar", "molar")
        facial = (-5 if lower_back else 1) + 3.5 * chance.normal()  # degrees toward the cheek
        turned = 6 * chance.normal()
        lost = self.course + 0.8 * chance.normal()
        crown = {"incisor": 8.9, "canine": 9.4, "premolar": 7.6, "molar": 6.6}[kind] + 0.8 * chance.normal()
        reach = 0.4 * crown  # from the bulge to where the tip lies, in mm
        bulge = (
            self.bulge
            + (0.06 if kind == "molar" else -0.05 if kind == "incisor" else 0)
            + 0.12 * chance.normal()
        )

        def depth(toward: float, zone: str, share: float) -> float:
            lean = np.tan(
                np.radians({"mesial": mesial, "distal": -mesial, "": 0.0}[_SIDES[zone]] * 0.5 + toward)
            )
            return share * bulge + reach * float(lean) * 0.5 + 0.07 * chance.normal()

        zones = {f"{zone}facial": _gauge(depth(facial, zone, 0.9)) for zone in _SIDES}
        zones |= {f"{zone}lingual": _gauge(depth(-facial, zone, 0.7)) for zone in _SIDES}
        height = 0.5 - facial / 60 + 0.11 * chance.normal()
        inner = 0.5 + facial / 60 + 0.11 * chance.normal()
        bone = self._words(lost, (1.2, "good"), (2.6, "reduced"), (99, "poor"))
        loose = lost + 0.4 * self.force + 0.7 * chance.normal()
        lean = max(abs(mesial), abs(facial + (5 if lower_back else 0)), abs(turned))
        tilt = "none"
        if lean >= 9:
            tilt = (
                ("mesial" if mesial > 0 else "distal")
                if lean == abs(mesial)
                else "rotated"
                if lean == abs(turned)
                else ("facial" if facial > 0 else "lingual")
            )
        ends = ["cingulum", "incisal"] if kind in ("incisor", "canine") else ["mesial", "distal"]
        found: dict[str, Any] = {
            "tooth": tooth,
            "undercuts_mm": zones,
            "crown_height_mm": _half(crown, 4, 12),
            "contour_height": self._words(height, (0.3, "gingival"), (0.7, "middle"), (99, "occlusal")),
            "contour_height_lingual": self._words(
                inner, (0.3, "gingival"), (0.7, "middle"), (99, "occlusal")
            ),
            "recession_mm": _half(0.6 + 0.7 * max(lost, 0) + 0.5 * chance.normal(), 0, 6),
            "mobility": int(self._words(loose, (1.7, "0"), (2.9, "1"), (4.1, "2"), (99, "3"))),
            "bone_support": bone,
            "disease": "none" if chance.random() > 0.02 + 0.03 * (self.care < -1) else "caries",
            "restoration": self._words(
                -self.care * 0.5 + chance.normal(),
                (0.3, "sound"),
                (1.2, "filled"),
                (2.1, "crowned"),
                (99, "endodontic"),
            ),
            "rest_seats": [ends[0]] if chance.random() < 0.12 else [],
            "guiding_planes": [],
            "rest_clearance_mm": dict.fromkeys(
                ends, _half(1.4 + 0.25 * self.height + 0.3 * chance.normal(), 0.5, 2)
            ),
            "tilt": tilt,
            "vestibule_depth_mm": _half(6.8 - 0.4 * max(lost, 0) + 1.3 * chance.normal(), 2, 11),
            "tissue_undercut": bool(chance.random() < 0.08),
            "frenum_near": bool(chance.random() < (0.12 if position(tooth) in (3, 4) else 0.03)),
            "preparable": bool(chance.random() < 0.93),
        }
        if kind in ("premolar", "molar"):
            found["embrasure_clearance_mm"] = {
                end: round(float(np.clip(1.0 + 0.35 * chance.normal(), 0.2, 2.2)), 1)
                for end in ("mesial", "distal")
            }
        return found

    def jaw(self, arch: str) -> dict[str, Any]:
        chance = self.chance
        torus = chance.random()
        if arch == "maxilla":
            return {
                "palate": {
                    "torus": "none" if torus < 0.84 else "small" if torus < 0.96 else "large",
                    "vault": self._words(
                        self.height + chance.normal(), (-1.2, "shallow"), (1.3, "average"), (99, "deep")
                    ),
                    "tissue_undercut": False,
                    "future_loss_likely": bool(self.course > 2.0),
                }
            }
        return {
            "floor": {
                "depth_mm": _half(
                    8.4 + 0.6 * self.height - 0.4 * max(self.course, 0) + 1.3 * chance.normal(), 3, 14
                ),
                "torus": "none" if torus < 0.93 else "small" if torus < 0.98 else "large",
                "lingual_frenum": "high" if chance.random() < 0.1 else "low",
                "lingual_tilt": bool(chance.random() < 0.05),
                "future_loss_likely": bool(self.course > 2.0),
            }
        }
