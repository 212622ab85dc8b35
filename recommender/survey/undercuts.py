"""Undercut, survey line and crown height of one crown for a path of placement.

The undercut of a point of the wall is the least, over all horizontal directions, of the greatest reach of what stands
higher less the point's own reach: how far a rod that comes down along the path stays away from it (method 1).
"""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from recommender.survey.arrays import Bools, Floats
from recommender.survey.crown import CENTRES, COLUMNS, CrownSurface
from recommender.survey.margins import Margin
from recommender.survey.zones import ZONES, zone_index

ABOVE_MARGIN_MM = 1.0
DIRECTIONS = 72
_ROW_MM, _LOWEST, _HIGHEST = 0.1, -0.5, 13.0
_STEEP = 0.45
ROWS = np.arange(_LOWEST, _HIGHEST, _ROW_MM) + _ROW_MM / 2
ZONE_OF_COLUMN = zone_index(np.cos(CENTRES), np.sin(CENTRES))


@dataclass(frozen=True)
class Wall:
    """The wall of a crown laid flat for one path: by column and by height above the margin (``ROWS``, mm).

    ``depth`` the undercut and ``slope`` the share of the normal along the path, NaN where there is no surface;
    ``shut`` columns that a neighbour covers; ``margin`` and ``top`` heights along the path.
    """

    depth: Floats
    slope: Floats
    shut: Bools
    margin: Floats
    top: float


def horizontal_axes(up: Floats) -> Floats:
    """Two axes across a path given in the crown's frame, the first near mesial, the second near facial."""
    mesial = np.array([1.0, 0.0, 0.0]) - up * up[0]
    mesial /= np.linalg.norm(mesial)
    facial = np.array([0.0, 1.0, 0.0]) - up * up[1]
    facial -= mesial * float(facial @ mesial)
    return np.stack([mesial, facial / np.linalg.norm(facial)])


def depths(points: Floats, reference: Floats, up: Floats, directions: int = DIRECTIONS) -> Floats:
    """Undercut (mm) of points below the reach of ``reference`` points, both in the crown's frame, for a path ``up``."""
    turns = np.linspace(0, 2 * np.pi, directions, endpoint=False)
    axes, height = horizontal_axes(up), reference @ up
    order = np.argsort(-height)  # of points equally high the last counts, so their order does not
    place = np.searchsorted(-height[order], -(points @ up), side="right") - 1
    taken, none = np.maximum(place, 0), place < 0
    # single precision is a thousandth of what a scan resolves; direction by direction, so that what is looked at stays
    # in the nearest memory
    reach_x, reach_y = np.ascontiguousarray((reference[order] @ axes.T).T, dtype=np.float32)
    own_x, own_y = np.ascontiguousarray((points @ axes.T).T, dtype=np.float32)
    least = np.full(len(points), np.inf, dtype=np.float32)
    for cosine, sine in np.column_stack([np.cos(turns), np.sin(turns)]).astype(np.float32):
        above = np.maximum.accumulate(cosine * reach_x + sine * reach_y)[taken]
        above -= cosine * own_x + sine * own_y
        np.minimum(least, above, out=least)
    least[none] = 0.0
    result: Floats = np.maximum(least, 0.0).astype(np.float64)
    return result


def wall(surface: CrownSurface, margin: Margin, up: Floats) -> Wall:
    """The wall for a path ``up`` in the crown's frame."""
    points, azimuth = surface.local, surface.azimuth
    height = points @ up
    over = height - margin.height_along(up, azimuth)
    slope = surface.normals @ up
    tooth = ~surface.hidden & (over > -0.1) & (surface.inner < 1.14)
    side = tooth & (surface.outward > 0.2) & (surface.inner > 0.5)
    depth = np.zeros(len(points))
    steep = np.flatnonzero(side & (slope < _STEEP))
    if len(steep) > 20:
        depth[steep] = depths(
            points[steep], _averaged(surface, np.flatnonzero(tooth & (surface.inner > 0.35)), over), up
        )
    depth_image, slope_image = _images(surface, side, over, depth, slope)
    crown = height[(surface.inner < 1.0) & ~surface.hidden]
    top = float(np.percentile(crown, 99.7)) if len(crown) else float("nan")
    return Wall(depth_image, slope_image, _shut(surface, side, over), margin.points @ up, top)


def _averaged(surface: CrownSurface, chosen: np.ndarray, over: Floats) -> Floats:
    """Points of a crown averaged over small cells, so that noise does not push its reach outward."""
    turn = ((surface.azimuth[chosen] + np.pi) / (2 * np.pi) * 96).astype(np.int64)
    cell = turn * 64 + np.clip(((over[chosen] + 1) / 0.35).astype(np.int64), 0, 63)
    count = np.bincount(cell)
    filled = count > 0
    return np.column_stack([
        np.bincount(cell, surface.local[chosen, axis])[filled] / count[filled] for axis in range(3)
    ])  # fmt: skip


def _images(surface: CrownSurface, side: Bools, over: Floats, *values: Floats) -> list[Floats]:
    row = np.floor((over - _LOWEST) / _ROW_MM).astype(np.int64)
    used = side & (row >= 0) & (row < len(ROWS))
    cell = surface.column[used] * len(ROWS) + row[used]
    # a coarse scan has fewer points than cells, so each speaks for more of them
    spread = (0.8, 1.5) if surface.mesh.edge_mm < 0.45 else (1.3, 3.0)
    weight = _spread(np.bincount(cell, minlength=COLUMNS * len(ROWS)).astype(float), spread)
    images = []
    for value in values:
        total = _spread(np.bincount(cell, value[used], COLUMNS * len(ROWS)), spread)
        images.append(np.where(weight > 0.03, total / np.maximum(weight, 1e-9), np.nan))
    return images


def _spread(flat: Floats, spread: tuple[float, float]) -> Floats:
    image = flat.reshape(COLUMNS, len(ROWS))
    image = ndimage.gaussian_filter1d(image, spread[0], axis=0, mode="wrap")
    result: Floats = ndimage.gaussian_filter1d(image, spread[1], axis=1, mode="constant")
    return result


def _shut(surface: CrownSurface, side: Bools, over: Floats) -> Bools:
    covered = surface.hidden & (surface.inner < 1.1) & (over > 0.5)
    share = np.bincount(surface.column[covered], minlength=COLUMNS)
    return surface.shut_columns() | (
        share > 0.5 * np.maximum(np.bincount(surface.column[side], minlength=COLUMNS), 1)
    )


def zone_undercuts(laid: Wall, lift: Floats | float = 0.0) -> Floats:
    """Deepest undercut by zone at least 1 mm above the margin; ``lift`` moves the margin up by column (mm). NaN: not
    measured."""
    least = np.broadcast_to(ABOVE_MARGIN_MM + np.asarray(lift, dtype=float), (COLUMNS,))
    known = np.isfinite(laid.depth)
    counted = known & (ROWS[None] >= least[:, None] - 0.02)
    deepest = np.where(counted, laid.depth, -np.inf).max(axis=1)
    usable = (known.sum(axis=1) >= 8) & np.isfinite(deepest) & ~laid.shut
    return np.array([
        float(deepest[m].max()) if (m := usable & (z == ZONE_OF_COLUMN)).any() else np.nan for z in range(len(ZONES))
    ])  # fmt: skip


def survey_line(laid: Wall) -> Floats:
    """Height of the survey line above the margin by column: the highest place at which the wall turns inward; 0 where
    it never does."""
    line = np.full(COLUMNS, np.nan)
    for column in range(COLUMNS):
        slope = laid.slope[column]
        seen = np.flatnonzero(np.isfinite(slope))
        if len(seen) < 8:
            continue
        rows = seen[(ROWS[seen] > 0) & (ROWS[seen] < ROWS[seen[-1]] - 0.4)]
        inward = rows[slope[rows] < 0]
        if not len(rows):
            continue
        if not len(inward):
            line[column] = 0.0
            continue
        last = int(inward[-1])
        after = slope[last + 1] if last + 1 < len(slope) else np.nan
        cut = slope[last] / (slope[last] - after) if after > 0 else 0.0
        line[column] = ROWS[last] + _ROW_MM * cut
    return line


def by_zones(columns: Floats, shut: Bools) -> Floats:
    """Median by zone of a value by column, over columns that are not shut; NaN where there is none."""
    usable = np.isfinite(columns) & ~shut
    zones = [usable & (zone == ZONE_OF_COLUMN) for zone in range(len(ZONES))]
    return np.array([float(np.median(columns[own])) if own.any() else np.nan for own in zones])
