"""The survey of an invented crown in closed form, for any path of placement.

A gauge is a rod that comes down along the path; a point is undercut by how far the rod's nearest free place lies
outside it: the least, over all horizontal directions, of the greatest reach of what stands higher, less the point's
own reach.
"""

from dataclasses import dataclass

import numpy as np

from recommender.survey.arrays import Bools, Floats
from recommender.survey.directions import level_axes
from recommender.survey.generate.arch import GeneratedArch
from recommender.survey.generate.crowns import Crown
from recommender.survey.zones import ZONES, zone_index

ABOVE_MARGIN_MM = 1.0


@dataclass(frozen=True)
class CrownTruth:
    """By zone, in the order of ``ZONES``: undercut (mm; NaN where a neighbour shuts the zone), heights along the path
    of survey line and gum margin, and the height of the crown's top."""

    undercut: Floats
    survey_line: Floats
    margin: Floats
    top: float


def margin_heights(arch: GeneratedArch, crown: Crown, angles: Floats) -> Floats:
    """Height in the crown's frame at which the gum meets the wall, for parameter angles."""
    low: Floats = np.full(len(angles), -2.0)
    high: Floats = np.full(len(angles), crown.height * 0.8)
    for _ in range(36):
        middle = (low + high) / 2
        free = arch.gum_value(crown.world(crown.wall(angles, middle))) > 0
        high, low = np.where(free, middle, high), np.where(free, low, middle)
    return np.asarray((low + high) / 2)


def margin_ring(arch: GeneratedArch, crown: Crown, count: int = 72) -> Floats:
    """Points (count, 3) of the gum margin in the level frame."""
    angles = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return crown.world(crown.wall(angles, margin_heights(arch, crown, angles)))


def true_overhang(
    arch: GeneratedArch, crown: Crown, from_mm: float = 0.5, deepest_mm: float = 7.0, lowest: float = -6.4
) -> float:
    """How far the gum below the middle of the facial margin lies inside what stands above it (mm), cast level.

    The profile of the surface in the mid-facial plane, from ``from_mm`` to ``deepest_mm`` below the margin and not
    below ``lowest``, where the scan ends: the depth of an overhang as planned is rounded off by the shoulder above
    it.
    """
    facial = crown.axes[1][:2] / np.linalg.norm(crown.axes[1][:2])
    margin = crown.world(
        crown.wall(np.array([np.pi / 2]), margin_heights(arch, crown, np.array([np.pi / 2])))
    )[0]
    rows = np.arange(margin[2] - from_mm, max(margin[2] - deepest_mm, lowest), -0.1)
    reach = np.arange(-2.0, 12.0, 0.05)
    flat = margin[:2] + reach[:, None] * facial
    points = np.concatenate([np.column_stack([flat, np.full(len(reach), row)]) for row in rows])
    inside = arch.value(points).reshape(len(rows), len(reach)) < 0
    outermost = reach[len(reach) - 1 - inside[:, ::-1].argmax(axis=1)]
    return float((np.maximum.accumulate(outermost) - outermost).max())


class TrueSurvey:
    """The closed-form survey of one crown; made once, asked for many paths. ``shut``: see ``contact_lines``."""

    def __init__(
        self, arch: GeneratedArch, crown: Crown, shut: Bools | None = None, angles: int = 360, levels: int = 120,
        directions: int = 180,
    ) -> None:  # fmt: skip
        self.crown = crown
        self.angles = np.linspace(0, 2 * np.pi, angles, endpoint=False)
        self.gum = margin_heights(arch, crown, self.angles)
        rim = crown.rim(self.angles)
        self.zone = zone_index(*rim)
        self.shut = np.zeros(angles, bool) if shut is None else shut
        self._z = np.linspace(-0.5, crown.height, levels)
        self._walls = crown.world(
            crown.wall(self.angles[:, None], np.broadcast_to(self._z, (angles, levels)))
        )
        self._gum_points = crown.world(crown.wall(self.angles, self.gum))
        self._turns = np.linspace(0, 2 * np.pi, directions, endpoint=False)

    def outline(self) -> Floats:
        """The wall at the facial height of contour, in the level frame (angles, 3)."""
        return self.crown.world(
            self.crown.wall(self.angles, np.full(len(self.angles), self.crown.sides[2].contour))
        )

    def at(self, up: Floats) -> CrownTruth:
        """The survey for a path of placement (unit vector of the level frame)."""
        undercut, (extent, contact, contact_height), margin = self._undercut(level_axes(up))
        return CrownTruth(
            undercut, self._line(extent, contact, contact_height),
            np.array([np.median(margin[self.zone == z]) for z in range(len(ZONES))]), self._top(level_axes(up)[2]),
        )  # fmt: skip

    def undercuts(self, up: Floats) -> Floats:
        """The undercuts of ``at`` alone."""
        return self._undercut(level_axes(up))[0]

    def _undercut(self, axes: Floats) -> tuple[Floats, tuple[Floats, Floats, Floats], Floats]:
        """Undercut by zone; reach, where, and how high along the path; height of the margin by angle."""
        horizontal = np.cos(self._turns)[:, None] * axes[0] + np.sin(self._turns)[:, None] * axes[1]
        local = horizontal @ self.crown.axes.T
        sections = np.linspace(-1.0, self.crown.height, 320)
        extent, contact = self.crown.reach(local[:, None, :], sections[None, :])
        extent = extent + (horizontal @ self.crown.centre)[:, None]
        contact_height = contact @ (self.crown.axes @ axes[2]) + self.crown.centre @ axes[2]
        height = self._walls @ axes[2]
        margin = self._gum_points @ axes[2]
        counted = height >= margin[:, None] + ABOVE_MARGIN_MM
        depth = np.zeros(height.shape)
        depth[counted] = self._depths(
            extent, contact_height, height[counted], self._walls[counted] @ horizontal.T
        )
        undercut = np.array([
            float(np.where(counted[m], depth[m], 0.0).max()) if (m := (self.zone == z) & ~self.shut).any() else np.nan
            for z in range(len(ZONES))
        ])  # fmt: skip
        return undercut, (extent, contact, contact_height), margin

    @staticmethod
    def _depths(extent: Floats, contact_height: Floats, height: Floats, reach: Floats) -> Floats:
        """Undercut of wall points (n,) from the running reach of all that stands at least as high."""
        grid = np.arange(height.min() - 0.1, max(height.max(), contact_height.max()) + 0.1, 0.02)
        running = np.empty((len(extent), len(grid)))
        for row, (widest, at) in enumerate(zip(extent, contact_height, strict=True)):
            order = np.argsort(-at, kind="stable")
            place = np.searchsorted(-at[order], -grid, side="right") - 1
            best = np.maximum.accumulate(widest[order])
            running[row] = np.where(place >= 0, best[np.maximum(place, 0)], -1e9)
        index = np.clip(((height - grid[0]) / 0.02), 0, len(grid) - 1.001)
        lower = index.astype(np.int64)
        share = index - lower
        depth: Floats = np.full(height.shape, np.inf)
        for row in range(len(extent)):
            above = running[row, lower] * (1 - share) + running[row, lower + 1] * share
            depth = np.minimum(depth, above - reach[:, row])
        result: Floats = np.maximum(depth, 0.0)
        return result

    def _line(self, extent: Floats, contact: Floats, contact_height: Floats) -> Floats:
        rows = np.arange(len(extent))
        best = np.argmax(extent, axis=1)
        points = contact[rows, best]
        a, b = self.crown.halves(points[:, 0], points[:, 1], points[:, 2])
        zone = zone_index(points[:, 0] / a, points[:, 1] / b)
        heights = contact_height[rows, best]
        return np.array([
            float(np.median(heights[zone == z])) if (zone == z).any() else np.nan for z in range(len(ZONES))
        ])  # fmt: skip

    def _top(self, up: Floats) -> float:
        radius, turn = np.sqrt(np.linspace(0, 1, 30)), np.linspace(0, 2 * np.pi, 60)
        a, b = self.crown.halves(np.cos(turn), np.sin(turn), np.full(60, self.crown.height))
        x, y = radius[:, None] * np.cos(turn) * a, radius[:, None] * np.sin(turn) * b
        points = np.stack([x, y, self.crown.top(x, y)], axis=-1).reshape(-1, 3)
        return float((self.crown.world(points) @ up).max())
