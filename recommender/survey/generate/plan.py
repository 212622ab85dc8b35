"""From a few numbers to the crowns of an invented arch: published sizes, contacts, crowding, drift, spaces."""

import math
from dataclasses import dataclass, field

import numpy as np

from recommender.domain.dentition import ARCH_ORDER, position, quadrant
from recommender.survey.arrays import Floats, unit
from recommender.survey.dimensions import crown_size
from recommender.survey.generate.crowns import Crown, Side
from recommender.survey.lines import evenly, lengths

_TAIL_MM, _STEP_MM = 14.0, 0.02
# Width and depth of the arch at the second molars: middle of the published adult ranges of arch_form.csv.
_WIDTH_DEPTH = {"maxilla": (52.0, 44.0), "mandible": (46.5, 39.0)}


@dataclass(frozen=True)
class Plan:
    """What an invented arch is to be like; the same plan gives the same arch.

    ``crowding``, ``drift`` and ``spaces`` run from 0 (none) to about 1 (marked); ``tissue`` gives the depth in mm of
    an overhang of the gum below a tooth; ``torus_mm`` the height of a palatal torus; ``mirrored`` turns left and
    right round.
    """

    arch: str
    missing: tuple[int, ...] = ()
    seed: int = 0
    crowding: float = 0.0
    drift: float = 0.0
    spaces: float = 0.0
    third_molars: bool = False
    palate: bool = True
    torus_mm: float = 0.0
    tissue: dict[int, float] = field(default_factory=dict)
    tilt_sd_deg: float = 4.0
    size_sd: float = 0.05
    ridge_mm: float = -2.0


@dataclass(frozen=True)
class Gap:
    """A space along the arch line: from, to, and how high its ridge stands (mm)."""

    start: float
    end: float
    ridge: float
    teeth: tuple[int, ...]


def image_order(arch: str) -> tuple[int, ...]:
    """The teeth of an arch from the left to the right of a viewer who looks down on them."""
    order = ARCH_ORDER[arch]
    return order if arch == "maxilla" else order[::-1]


def arch_curve(width: float, depth: float) -> Floats:
    """Points every 0.02 mm along an arch of the given width and depth (mm), from the viewer's left to right.

    The beta function that Braun et al. 1998 (Angle Orthodontist 68) fitted to adult arches, its exponent 0.8, with
    straight ends behind the last molars.
    """
    x = np.linspace(-width / 2, width / 2, 4000)
    left, right = np.clip(x / width + 0.5, 0, 1), np.clip(0.5 - x / width, 0, 1)
    line = np.column_stack([x, 3.0314 * depth * left**0.8 * right**0.8])
    run = np.linspace(0.05, _TAIL_MM, 280)[:, None]
    start = line[0] + unit(line[0] - line[25]) * run
    end = line[-1] + unit(line[-1] - line[-26]) * run
    return evenly(np.vstack([start[::-1], line, end]), _STEP_MM)


class Layout:
    """Where the crowns of a plan stand: places on the arch line, gaps, and crowns in order from the viewer's left."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self._random = np.random.default_rng(plan.seed)
        last = 8 if plan.third_molars else 7
        self.order = [tooth for tooth in image_order(plan.arch) if position(tooth) <= last]
        self._scale = 1 + self._random.normal(0, plan.size_sd / 2)
        width, depth = _WIDTH_DEPTH[plan.arch]
        self.curve = arch_curve(width * self._scale, depth * self._scale)
        self._widths = {
            tooth: crown_size(tooth).mesiodistal
            * self._scale
            * (1 + self._random.normal(0, plan.size_sd / 2))
            for tooth in self.order
        }
        self._middle = float(lengths(self.curve)[np.argmax(self.curve[:, 1])])
        self._places = self._place()
        self.gaps = self._gaps()
        self.crowns = [self._crown(tooth) for tooth in self.order if tooth not in plan.missing]

    def _place(self) -> dict[int, tuple[float, float]]:
        plan, rng = self.plan, self._random
        room = {}
        for tooth in self.order:
            share = 1.0
            if tooth in plan.missing:
                share -= plan.drift * rng.uniform(0.2, 0.5)
            elif plan.crowding and position(tooth) <= 3:
                share -= plan.crowding * rng.uniform(0.08, 0.16)
            room[tooth] = self._widths[tooth] * share
        open_after = {
            tooth: plan.spaces * abs(rng.normal(0, 0.6)) if tooth not in plan.missing else 0.0
            for tooth in self.order
        }
        left, right = quadrant(self.order[0]), quadrant(self.order[-1])
        places: dict[int, tuple[float, float]] = {}
        at = self._middle
        for tooth in (t for t in self.order if quadrant(t) == right):
            places[tooth] = (at, at + room[tooth])
            at += room[tooth] + open_after[tooth]
        at = self._middle
        for tooth in (t for t in reversed(self.order) if quadrant(t) == left):
            places[tooth] = (at - room[tooth], at)
            at -= room[tooth] + open_after[tooth]
        return places

    def _gaps(self) -> list[Gap]:
        gaps: list[Gap] = []
        for tooth in self.order:
            if tooth not in self.plan.missing:
                continue
            start, end = self._places[tooth]
            if gaps and abs(gaps[-1].end - start) < 0.3:
                gaps[-1] = Gap(gaps[-1].start, end, gaps[-1].ridge, (*gaps[-1].teeth, tooth))
            else:
                gaps.append(Gap(start, end, self.plan.ridge_mm + self._random.normal(0, 0.4), (tooth,)))
        return gaps

    def _crown(self, tooth: int) -> Crown:
        plan, rng = self.plan, self._random
        start, end = self._places[tooth]
        kind, size = position(tooth), crown_size(tooth)
        index = int(np.searchsorted(lengths(self.curve), (start + end) / 2))
        along = unit(self.curve[index + 5] - self.curve[index - 5])
        outward = np.array([-along[1], along[0]])
        mesial = along if end <= self._middle + 1e-6 else -along
        rotation, offset = rng.normal(0, 2.5), 0.0
        if plan.crowding and kind <= 3:
            rotation += plan.crowding * rng.uniform(8, 22) * rng.choice([-1, 1])
            offset = plan.crowding * rng.uniform(-1.2, 1.0)
        tip = rng.normal(0, plan.tilt_sd_deg * 0.6)
        beside = [
            gone for gone in plan.missing if quadrant(gone) == quadrant(tooth) and abs(gone - tooth) == 1
        ]
        if plan.drift and beside:
            tip += plan.drift * rng.uniform(4, 12) * (1 if tooth - 1 in beside else -1)
            rotation += plan.drift * rng.uniform(-8, 8)
        lean = rng.normal(0, plan.tilt_sd_deg) + _lean_deg(plan.arch, kind)
        axes = _axes(np.append(mesial, 0.0), np.append(outward, 0.0), rotation, tip, lean)
        centre = np.append(self.curve[index] + outward * offset, rng.normal(0, 0.25))
        faciolingual = size.faciolingual * self._scale * (1 + rng.normal(0, plan.size_sd / 2))
        height = size.length * (1 + rng.normal(0, plan.size_sd)) - 1.0
        form = _form(rng, plan.arch, kind, self._widths[tooth], faciolingual, height)
        return Crown(tooth, centre, axes, height, *form)


def _lean_deg(arch: str, kind: int) -> float:
    """Usual facial (+) or lingual (-) lean of a kind of tooth: common practice, no source."""
    if kind <= 3:
        return 12.0 if arch == "maxilla" else 5.0
    return -10.0 if arch == "mandible" and kind >= 6 else 0.0


def _turned(vector: Floats, axis: Floats, degrees: float) -> Floats:
    angle = math.radians(degrees)
    along = axis * float(axis @ vector) * (1 - math.cos(angle))
    return np.asarray(vector * math.cos(angle) + np.cross(axis, vector) * math.sin(angle) + along)


def _axes(mesial: Floats, facial: Floats, rotation: float, tip: float, lean: float) -> Floats:
    up = np.array([0.0, 0.0, 1.0])
    mesial, facial = _turned(mesial, up, rotation), _turned(facial, up, rotation)
    axis = unit(up + math.tan(math.radians(tip)) * mesial + math.tan(math.radians(lean)) * facial)
    mesial = unit(mesial - axis * float(axis @ mesial))
    facial = unit(facial - axis * float(axis @ facial) - mesial * float(mesial @ facial))
    return np.stack([mesial, facial, axis])


Form = tuple[
    tuple[Side, Side, Side, Side],
    float,
    tuple[tuple[float, float, float, float], ...],
    float,
    tuple[float, float],
]


def _form(rng: np.random.Generator, arch: str, kind: int, width: float, depth: float, height: float) -> Form:
    """Sides, power, cusps, fossa and gum of a kind of tooth. Contours lie where the textbooks put them: facial in the
    gingival or middle third, lingual of back teeth in the middle, contacts in the occlusal or middle third (Ash
    and Nelson)."""

    def between(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    if kind <= 2:
        edge = depth * 0.5 - 0.55
        sides = (
            Side(width / 2, height * between(0.6, 0.75), between(0.7, 1.1), 0.35),
            Side(width / 2, height * between(0.5, 0.65), between(0.7, 1.1), 0.6),
            Side(depth / 2, height * between(0.2, 0.3), between(0.25, 0.5), edge, 1.5),
            Side(depth / 2, height * between(0.2, 0.3), between(0.25, 0.5), edge, 1.35),
        )
        return sides, 2.3, (), -0.15, (0.5, 1.1)
    if kind == 3:
        edge = depth * 0.5 - 0.8
        sides = (
            Side(width / 2, height * between(0.55, 0.7), between(0.7, 1.1), 0.9),
            Side(width / 2, height * between(0.5, 0.6), between(0.7, 1.1), 1.1),
            Side(depth / 2, height * between(0.25, 0.35), between(0.3, 0.7), edge, 1.5),
            Side(depth / 2, height * between(0.25, 0.35), between(0.3, 0.6), edge, 1.4),
        )
        return sides, 2.2, ((0.0, 0.0, 0.9, 0.9),), 0.0, (0.5, 1.0)
    sides = (
        Side(width / 2, height * between(0.55, 0.7), between(0.5, 1.0), 0.45),
        Side(width / 2, height * between(0.5, 0.65), between(0.5, 1.0), 0.5),
        Side(depth / 2, height * between(0.25, 0.42), between(0.25, 0.8), between(0.9, 1.4)),
        Side(depth / 2, height * between(0.4, 0.55), between(0.3, 0.9), between(0.8, 1.3)),
    )
    if kind >= 6:
        cusps = (
            (width * 0.2, depth * 0.26, 1.5, 1.1), (-width * 0.22, depth * 0.26, 1.4, 1.1),
            (width * 0.2, -depth * 0.26, 1.6, 1.1), (-width * 0.22, -depth * 0.26, 1.1, 1.0),
        )  # fmt: skip
        return sides, 2.6, cusps, 0.9, (0.5, 0.7)
    inner = 1.3 if arch == "maxilla" else 0.8
    return sides, 2.4, ((0.0, depth * 0.25, 1.6, 1.1), (0.0, -depth * 0.25, inner, 1.0)), 0.5, (0.5, 0.7)
