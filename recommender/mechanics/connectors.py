"""Major connectors: whether there is room, how stiff they are beside each other, what they cover and weigh.

Millimetres, newtons, grams, square centimetres. Lengths come from the arch geometry, sections from
``shared/mechanics.yaml``. Stiffness is that of a simple frame, one side held and the other pressed down by
its base; it serves to compare the connectors of one arch and is no prediction of newtons per millimetre.
"""

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from recommender.mechanics.alloys import material
from recommender.mechanics.arch import ArchGeometry, Point, arch_scale, place_teeth
from recommender.mechanics.bands import Band, as_band
from recommender.mechanics.figures import figure_band, figures, remembered
from recommender.mechanics.sections import (
    area_mm2,
    second_moment_across_mm4,
    second_moment_mm4,
    torsion_constant_mm4,
)

_REFERENCE_GPA = 210.0
_POISSON = 0.3
_FLOOR_ROWS = {"incisor": "CONN-044", "premolar": "CONN-045"}


@dataclass(frozen=True, slots=True)
class Member:
    """One part of a connector (mm): its length, the length of the ring it is bent along, its section."""

    run: str
    place: str
    kind: str
    length: float
    ring: float
    width: float
    thickness: float


@dataclass(frozen=True, slots=True)
class ConnectorGeometry:
    """Comparable figures of one connector on the mean arch.

    ``stiffness``: beside the stiffest of the same arch (0-1), usual sections within casting tolerance;
    ``covered_cm2`` and ``weight_g`` (in cobalt-chromium) over the whole range of sections in use.
    """

    stiffness: Band
    covered_cm2: Band
    weight_g: Band


def room_left_mm(connector: str, where: str, room_mm: Band | float) -> Band | None:
    """Room over what a connector needs; ``where`` is ``floor sulcus crown palate behind_torus``.

    ``None`` for a connector that needs no room of that kind.
    """
    needed = figures("connectors")["room"].get(connector, {}).get(where)
    return None if needed is None else as_band(room_mm) - figure_band(needed)


def grade(left_mm: Band) -> Band:
    """How well something fits, 0 to 1 and never a cliff, from the band of room left over.

    0 where even the least need is not met, 1 where the greatest is, in between as the room lies between them.
    The band is that of the neighbouring half millimetre, about what a probe can tell.
    """

    def share(shift: float) -> float:
        span = left_mm.high - left_mm.low
        if span == 0:
            return 1.0 if left_mm.low + shift >= 0 else 0.0
        return min(max((left_mm.high + shift) / span, 0.0), 1.0)

    return Band(share(-0.5), share(0.0), share(0.5))


@remembered()
def connector_geometry(arch: str, connector: str) -> ConnectorGeometry | None:
    """Stiffness, cover and weight of a connector on the mean arch; ``None`` for one that crosses no arch."""
    blocks = figures("connectors")[arch]
    if connector not in blocks:
        return None
    stiffest = max(_stiffness(_members(arch, name, 1)) for name in blocks)
    tolerance = float(figures("connectors")["tolerance_mm"])
    own = [
        _stiffness(_members(arch, connector, 1, change)) / stiffest for change in (-tolerance, 0.0, tolerance)
    ]
    scale = arch_scale(arch)
    covered = [_covered_mm2(arch, connector, end) / 100 for end in range(3)]
    density = material("cobalt_chromium").density_g_cm3
    vault = figure_band(figures("connectors")["vault"] if arch == "maxilla" else 1.0)
    weights = [
        sum(area_mm2(m.kind, m.thickness, m.width) * m.length for m in _members(arch, connector, end)) / 1000
        for end in range(3)
    ]
    return ConnectorGeometry(
        stiffness=Band(min(own), own[1], max(own)).clamp(0.0, 1.0),
        covered_cm2=Band(*covered) * scale.power(2) * vault,
        weight_g=Band(*weights) * density * scale * vault,
    )


def _members(arch: str, connector: str, end: int, thicker: float = 0.0) -> tuple[Member, ...]:
    """The parts with their sections at the least (0), usual (1) or greatest (2) figures."""
    lengths = _mean_lengths(arch)
    members = []
    for part in figures("connectors")[arch][connector]:
        members.append(
            Member(
                part["run"],
                part.get("place", "front"),
                part["kind"],
                lengths[part["run"]],
                lengths["labial" if part["run"] == "labial" else "lingual"],
                float(part["width"][end]),
                float(part["thickness"][end]) + thicker,
            )
        )
    return tuple(members)


@remembered()
def _mean_lengths(arch: str) -> dict[str, float]:
    return run_lengths(place_teeth(arch))


def run_lengths(geometry: ArchGeometry) -> dict[str, float]:
    """Length of every run on that arch (mm).

    ``cross``: from gum margin to gum margin at the second premolars; ``side``: front to rear member, both
    sides; ``fork``: round the front from one side to the other; ``lingual``, ``labial``, ``cingulum``: round
    the lower teeth from second premolar to second premolar, the last from canine to canine.
    """
    start = {"maxilla": (10, 20), "mandible": (40, 30)}[geometry.arch]
    row = [*(start[0] + index for index in range(5, 0, -1)), *(start[1] + index for index in range(1, 6))]
    lingual = [geometry[tooth].lingual for tooth in row]
    facial = [geometry[tooth].facial for tooth in row]
    across = _distance(geometry[row[0]].lingual, geometry[row[-1]].lingual)
    molar = [geometry[side + 6].lingual for side in start]
    deep = (lingual[4][1] + lingual[5][1]) / 2 - (molar[0][1] + molar[1][1]) / 2
    return {
        "cross": across,
        "sheet": across,
        "side": 2 * deep * float(figures("connectors")["side_share"]),
        "fork": 2 * deep + across / 2,
        "lingual": _path(lingual),
        "apron": _path(lingual[2:8]),
        "labial": _path(facial),
        "cingulum": _path(lingual[2:8]),
    }


def _distance(first: Point, second: Point) -> float:
    return math.hypot(first[0] - second[0], first[1] - second[1])


def _path(points: list[Point]) -> float:
    return sum(_distance(a, b) for a, b in pairwise(points))


def _stiffness(members: tuple[Member, ...]) -> float:
    """Newtons at one base for a millimetre, the other side held; members side by side add."""
    block = figures("connectors")
    shear = _REFERENCE_GPA / (2 * (1 + _POISSON))
    cross = [m for m in members if m.run in ("cross", "sheet")]
    total = 0.0
    if cross:
        bending, twisting = 0.0, 0.0
        step = float(block["frame_step_mm"]) if len(cross) > 1 else 0.0
        for member in cross:
            cube = 3000 * _REFERENCE_GPA / member.length**3
            bending += cube * _sheet_moment(member, block)
            twist = 1000 * shear * float(torsion_constant_mm4(member.kind, member.thickness, member.width))
            twisting += twist / member.length
            twisting += cube * second_moment_across_mm4(member.kind, member.thickness, member.width) * step**2
        total += 1 / (1 / bending + float(block["base_lever_mm"]) ** 2 / twisting)
    for member in members:
        if member.run == "fork":
            total += _fork(member, block, shear)
        elif member.run in ("lingual", "labial", "cingulum", "apron"):
            total += _half_ring(member, shear)
    return total


def _sheet_moment(member: Member, block: Any) -> float:
    """Second moment of a cross member; a thin sheet gains by the rise of its curved section.

    A parabolic strip of width w and rise f has ``w t (4/45) f^2`` beside its ``w t^3/12``; ``f = w^2/(8 R)``.
    """
    plain = float(second_moment_mm4(member.kind, member.thickness, member.width))
    if member.kind != "rectangle":
        return plain
    strip = min(member.width, float(block["strip_share"]) * member.length)
    rise = strip**2 / (8 * float(block["palate_radius_mm"][member.place]))
    return plain + member.width * member.thickness * 4 / 45 * rise**2


def _fork(member: Member, block: Any, shear: float) -> float:
    """A tuning fork: two legs bend, and the bridge between them twists (``2 l^3/3EI + l^2 b/GJ``)."""
    leg, bridge = (float(block["fork"][part]) * member.length for part in ("leg", "bridge"))
    bent = 2 * leg**3 / (3000 * _REFERENCE_GPA * _sheet_moment(member, block))
    torsion = float(torsion_constant_mm4(member.kind, member.thickness, member.width))
    return 1 / (bent + leg**2 * bridge / (1000 * shear * torsion))


def _half_ring(member: Member, shear: float) -> float:
    """A half ring held at one end, pressed down at the other: ``R^3 (pi/2EI + 3pi/2GJ)`` (Roark)."""
    radius = member.ring / math.pi
    upright = second_moment_across_mm4(member.kind, member.thickness, member.width)
    torsion = float(torsion_constant_mm4(member.kind, member.thickness, member.width))
    bent = math.pi / 2 / (1000 * _REFERENCE_GPA * upright)
    twisted = 3 * math.pi / 2 / (1000 * shear * torsion)
    return 1 / (radius**3 * (bent + twisted))


def _covered_mm2(arch: str, connector: str, end: int) -> float:
    """Tissue under the parts: width by length, the whole palate for a complete plate."""
    if connector in ("complete_plate", "metal_resin_plate"):
        return _palate_mm2(arch)
    return sum(m.width * m.length for m in _members(arch, connector, end) if m.run != "cingulum")


@remembered()
def _palate_mm2(arch: str) -> float:
    """Area inside the lingual faces of the teeth from second molar to second molar."""
    geometry = place_teeth(arch)
    inner = [place.lingual for tooth, place in geometry.places.items() if tooth % 10 <= 7]
    ring = zip(inner, [*inner[1:], inner[0]], strict=True)
    return abs(math.fsum(a[0] * b[1] - b[0] * a[1] for a, b in ring)) / 2
