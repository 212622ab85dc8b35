"""The whole invented cast as one function of space: crowns, gum, ridges, palate with rugae and torus."""

from functools import cached_property

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.spatial import cKDTree

from recommender.survey.arrays import Floats, Ints, unit
from recommender.survey.generate.crowns import Crown
from recommender.survey.generate.plan import Gap, Layout, Plan
from recommender.survey.lines import lengths

FAR = 9.0
_CELL_MM, _STEP_MM = 0.4, 0.02
_WEB_MM = 0.25  # a scanner joins two neighbours at their contact by a web of about this width
_GUM_BLEND_MM = 1.2
_WALLS_MM = (
    6.2,
    6.0,
)  # how far the alveolar process reaches to the facial and to the lingual of the arch line


class GeneratedArch:
    """An invented arch: ``crowns``, ``gaps``, ``value`` (negative inside the cast) and the closed-form heights of its
    surface."""

    def __init__(self, plan: Plan) -> None:
        layout = Layout(plan)
        self.plan = plan
        self.arch = plan.arch
        self.curve: Floats = layout.curve
        self.gaps: list[Gap] = layout.gaps
        self.crowns: list[Crown] = layout.crowns
        self.palate = Palate(self.curve, plan) if plan.arch == "maxilla" and plan.palate else None

    @property
    def standing(self) -> list[int]:
        """The teeth that stand, from the viewer's left to right."""
        return [crown.tooth for crown in self.crowns]

    def crown(self, tooth: int) -> Crown:
        """One crown by its number."""
        return next(crown for crown in self.crowns if crown.tooth == tooth)

    @cached_property
    def _nearest(self) -> tuple[Floats, Ints]:
        """Corner and indices of a grid over the arch: the point of the arch line that is nearest to each node."""
        low, high = self.curve.min(axis=0) - 20, self.curve.max(axis=0) + 20
        axes = [np.arange(low[axis], high[axis] + _CELL_MM, _CELL_MM) for axis in range(2)]
        nodes = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
        thinned = cKDTree(self.curve[::10])
        index = np.minimum(thinned.query(nodes.reshape(-1, 2))[1] * 10, len(self.curve) - 1)
        return low, index.reshape(nodes.shape[:2]).astype(np.int64)

    @cached_property
    def _tangents(self) -> Floats:
        steps = np.diff(self.curve, axis=0)
        return unit(np.vstack([steps, steps[-1:]]))

    @cached_property
    def _along(self) -> Floats:
        return lengths(self.curve)

    def along_and_across(self, points: Floats) -> tuple[Floats, Floats]:
        """Place along the arch line and distance to its outside (mm) of points seen from above."""
        low, grid = self._nearest
        node = np.rint((points[:, :2] - low) / _CELL_MM).astype(np.int64)
        node = np.clip(node, 0, np.array(grid.shape) - 1)
        nearest = grid[node[:, 0], node[:, 1]]
        for _ in range(3):
            forward = ((points[:, :2] - self.curve[nearest]) * self._tangents[nearest]).sum(1)
            nearest = np.clip(nearest + np.rint(forward / _STEP_MM).astype(np.int64), 0, len(self.curve) - 1)
        offset = points[:, :2] - self.curve[nearest]
        tangent = self._tangents[nearest]
        along = self._along[nearest] + (offset * tangent).sum(1)
        across = offset[:, 1] * tangent[:, 0] - offset[:, 0] * tangent[:, 1]
        return along, across

    def _gum_top(self, points: Floats, along: Floats, across: Floats) -> Floats:
        base = -0.2 - 0.10 * across**2
        for gap in self.gaps:
            inside = _step((along - gap.start) / 0.6) * _step((gap.end - along) / 0.6)
            base = base + inside * gap.ridge
        top, weights = 0.02 * base, np.full(len(points), 0.02)
        for crown in self.crowns:
            near = np.flatnonzero(crown.near(points, 13.0))
            local = crown.local(points[near])
            local[:, 2] = 0.8
            radius, half = crown.radius(local)
            away = np.maximum((radius - 1) * half, 0.0)
            scallop = np.cos(2 * np.arctan2(local[:, 1], local[:, 0]))
            height = crown.centre[2] + crown.gum[0] + crown.gum[1] * scallop
            weight = np.exp(-((away / 1.3) ** 2))
            top[near] += weight * (height - 0.55 * away)
            weights[near] += weight
        result: Floats = top / weights
        return result

    def gum_value(self, points: Floats) -> Floats:
        """Negative inside gum and ridge."""
        along, across = self.along_and_across(points)
        z = points[:, 2]
        top = (z - self._gum_top(points, along, across)) * 0.8
        overhang = np.zeros(len(points))
        for tooth, depth in self.plan.tissue.items():
            place = self.along_and_across(self.crown(tooth).centre[None])[0][0]
            overhang += depth * np.exp(-(((along - place) / 4.0) ** 2))
        facial = (
            _WALLS_MM[0] - overhang * _step(-(z + 3.0) / 0.45) + 0.06 * np.clip(-z, 0, 20) * (overhang < 0.05)
        )
        lingual = _WALLS_MM[1] + 0.10 * np.clip(-z, 0, 20)
        side = np.maximum(across - facial, -across - lingual)
        share = np.clip(0.5 + 0.5 * (top - side) / _GUM_BLEND_MM, 0, 1)
        value: Floats = side * (1 - share) + top * share + _GUM_BLEND_MM * share * (1 - share)
        return value

    def value(self, points: Floats) -> Floats:
        """Negative inside the cast, about a distance in mm near its surface."""
        result: Floats = np.full(len(points), FAR)
        for crown in self.crowns:
            near = np.flatnonzero(crown.near(points, 11.0))
            if not len(near):
                continue
            new, old = crown.value(points[near]), result[near]
            share = np.clip(0.5 + 0.5 * (old - new) / _WEB_MM, 0, 1)
            result[near] = old * (1 - share) + new * share - _WEB_MM * share * (1 - share)
        result = np.minimum(result, self.gum_value(points))
        if self.palate is not None:
            across = self.along_and_across(points)[1]
            vault = (points[:, 2] - self.palate.height(points[:, 0], points[:, 1])) * 0.6
            inside = (across < -2) & (points[:, 1] > self.palate.end)
            result = np.minimum(result, np.where(inside, vault, FAR))
        return result

    def surface_heights(
        self, places: Floats, low: float = -14.0, high: float = 16.0, step: float = 0.1
    ) -> Floats:
        """Height of the highest surface over each (x, y), by search from above and bisection; NaN where there is
        none."""
        heights = np.full(len(places), np.nan)
        open_places = np.arange(len(places))
        level = high
        while level > low and len(open_places):
            at = np.column_stack([places[open_places], np.full(len(open_places), level)])
            hit = self.value(at) < 0
            found = open_places[hit]
            if len(found):
                below, above = np.full(len(found), level), np.full(len(found), level + step)
                for _ in range(14):
                    middle = (below + above) / 2
                    inside = self.value(np.column_stack([places[found], middle])) < 0
                    below, above = np.where(inside, middle, below), np.where(inside, above, middle)
                heights[found] = (below + above) / 2
                open_places = open_places[~hit]
            level -= step
        return heights


class Palate:
    """Vault, rugae and torus of an invented upper arch: height below the cervical plane over (x, y)."""

    def __init__(self, curve: Floats, plan: Plan) -> None:
        rng = np.random.default_rng(plan.seed + 50_000)
        front = float(curve[:, 1].max())
        self.end = -6.0
        self.depth = float(rng.uniform(11, 18))
        self.ruga = float(rng.choice([0.25, 0.6, 1.1]))
        self.torus = plan.torus_mm
        self._rows = np.linspace(curve[:, 1].min(), front - 1, 60)
        self._halves = np.array([self._half(curve, row) for row in self._rows])
        self._line = np.array([-20.0, 0.0, 14.0, front - 14, front - 6, front])
        self._depths = np.array([0.8, 1.0, 1.0, 0.75, 3.0 / self.depth, 1.0 / self.depth]) * self.depth
        self._profile = PchipInterpolator(self._line, self._depths)
        self._rugae = [(front - 9 - 3.6 * index, self.ruga * rng.uniform(0.85, 1.15)) for index in range(4)]

    @staticmethod
    def _half(curve: Floats, row: float) -> float:
        near = np.abs(curve[:, 1] - row) < 0.6
        return max(float(np.abs(curve[near, 0]).max()) - 4.5, 2.0) if near.any() else 22.0

    def height(self, x: Floats, y: Floats) -> Floats:
        """z of the palate."""
        half = np.interp(y, self._rows, self._halves)
        depth = self._profile(np.clip(y, self._line[0], self._line[-1]))
        aside = np.abs(x)
        z: Floats = -depth * (1 - np.clip(aside / np.maximum(half, 1), 0, 1) ** 2.2)
        for place, high in self._rugae:
            line = place - 0.25 * aside + 0.6 * np.sin(aside)
            window = _step((aside - 1.8) / 0.4) * _step((9.5 - aside) / 0.4)
            z = z + high * window * np.exp(-(((y - line) / 0.75) ** 2))
        if self.torus:
            z = z + self.torus * np.exp(-((x / 5.0) ** 2) - ((y - 10.0) / 9.0) ** 2)
        return z


def _step(x: Floats) -> Floats:
    value: Floats = 1.0 / (1.0 + np.exp(-np.clip(x, -60, 60)))
    return value
