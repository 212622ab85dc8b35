"""The line through the middle of the teeth, from a height image."""

from collections.abc import Sequence

import numpy as np
from scipy import ndimage
from scipy.interpolate import UnivariateSpline

from recommender.survey.arrays import Floats, unit
from recommender.survey.errors import ScanError
from recommender.survey.heights import HeightImage
from recommender.survey.levelling import crests
from recommender.survey.lines import STEP_MM, evenly, smooth, straightened

_TAIL_MM = 6.0
_SECTOR_DEG = 2.0
# What lies further (mm) from the fitted line than this is left out of the next fit: only the farthest at first, since
# a first fit is drawn to long ridges behind and would throw out front teeth that stand alone.
_LEFT_OUT_MM = (8.0, 5.0, 3.0, 2.0)


def arch_line(image: HeightImage, anchors: Sequence[Floats] = ()) -> Floats:
    """Points (n, 2) every 0.1 mm along the row of teeth, from the viewer's left to right; ``anchors`` are places on
    it.

    Raises ``ScanError`` where no row of teeth is found.
    """
    weight = _tooth_weight(image, anchors)
    line = _polar_line(image, weight)
    for _ in range(3):
        seen = straightened(weight, image, line, 7.0, 0.25)
        mass = seen.values.sum(axis=1)
        centre = (seen.values * seen.across).sum(axis=1) / np.maximum(mass, 1e-6)
        trust = np.clip(mass / max(float(np.percentile(mass, 75)), 1e-6), 0, 1.2)
        moved = ndimage.gaussian_filter1d(centre * trust, 22) / (ndimage.gaussian_filter1d(trust, 22) + 0.05)
        line = evenly(smooth(line + seen.normals * moved[:, None], 12))
    mass = straightened(weight, image, line, 5.0, 0.25).values.sum(axis=1) * 0.25
    on = np.flatnonzero(mass > 0.8)
    if len(on) < 100:
        raise ScanError("no row of teeth stands out of the scan")
    line = line[max(on[0] - 15, 0) : on[-1] + 15]
    run = np.arange(STEP_MM, _TAIL_MM, STEP_MM)[:, None]
    start, end = unit(line[0] - line[30]), unit(line[-1] - line[-31])
    return np.vstack([(line[0] + start * run)[::-1], line, line[-1] + end * run])


def _tooth_weight(image: HeightImage, anchors: Sequence[Floats]) -> Floats:
    """How like the top of a tooth each cell is, 0 to 1: near the highest around it, standing out, at the level of the
    crests."""
    cell, found = image.cell, image.found
    lowest_of_all = float(np.nanmin(image.heights))
    filled = image.filled(lowest_of_all)
    highest = ndimage.maximum_filter(filled, int(7 / cell))
    lowest = ndimage.minimum_filter(image.filled(1e3), int(9 / cell))
    crest = crests(image)
    level = (
        np.percentile(image.heights[crest], 60)
        if crest.sum() > 50
        else np.percentile(image.heights[found], 97)
    )
    roof = ndimage.gaussian_filter(ndimage.maximum_filter(filled, int(11 / cell)), 2 / cell)
    like = np.clip(1 + (filled - roof) / 4.0, 0, 1.2) * found * np.clip(1 - (level - 2.5 - roof) / 5.0, 0, 1)
    like = ndimage.gaussian_filter(
        like * (ndimage.maximum_filter(highest - lowest, int(4 / cell)) > 3.0), 0.5 / cell
    )
    label, count = ndimage.label(like > 0.25)
    area = ndimage.sum_labels(like > 0.25, label, range(1, count + 1)) * cell**2
    weight = np.where(np.isin(label, 1 + np.flatnonzero(area > 10)), np.clip(like - 0.25, 0, 1), 0.0)
    if anchors:
        x, y = image.grid()
        for place in anchors:
            near = np.exp(-(((x - place[0]) ** 2 + (y - place[1]) ** 2) / (2 * 1.5**2)))
            weight = np.maximum(weight, 3.0 * near)
    if weight.sum() <= 0:
        raise ScanError("no row of teeth stands out of the scan")
    return weight


def _polar_line(image: HeightImage, weight: Floats) -> Floats:
    """A smooth line in polar form about a point inside the arch."""
    x, y = image.grid()
    centre_x = float((weight * x).sum() / weight.sum())
    low, high = np.percentile(y[weight > 0.15], [1, 99])
    centre = np.array([centre_x, low + 0.28 * (high - low)])
    turn = np.arctan2(y - centre[1], x - centre[0])
    turn = np.degrees(np.where(turn < -np.pi / 2, turn + 2 * np.pi, turn))
    sector = np.round(turn / _SECTOR_DEG).astype(int)
    # the cells that count, by sector
    cells = np.flatnonzero(weight > 0.02)
    cells = cells[np.argsort(sector.ravel()[cells], kind="stable")]
    starts = np.searchsorted(sector.ravel()[cells], np.arange(-32, 124))
    own_weight = weight.ravel()[cells]
    own_radius = np.hypot(x.ravel()[cells] - centre[0], y.ravel()[cells] - centre[1])
    dense_turn, dense_radius = np.zeros(0), np.zeros(0)
    for attempt in range(3):
        rows = []
        for index, start, end in zip(range(-32, 123), starts[:-1], starts[1:], strict=True):
            held, radius = own_weight[start:end], own_radius[start:end]
            if attempt:
                near = np.abs(radius - np.interp(index * _SECTOR_DEG, dense_turn, dense_radius)) < 7.0
                held, radius = held[near], radius[near]
            if held.sum() < 0.5:
                continue
            own = held * np.clip(radius, 5, None)
            order = np.argsort(radius, kind="stable")
            share = np.cumsum(own[order]) / own.sum()
            inner, outer = np.interp([0.2, 0.8], share, radius[order])
            rows.append((index * _SECTOR_DEG, (inner + outer) / 2, min(held.sum() * image.cell**2, 6.0)))
        if len(rows) < 12:
            raise ScanError("no row of teeth stands out of the scan")
        at, reach, trust = np.array(rows).T
        good = np.ones(len(at), bool)
        for least in _LEFT_OUT_MM:
            if good.sum() < 8:
                raise ScanError("no row of teeth stands out of the scan")
            spline = UnivariateSpline(
                at[good], reach[good], w=np.sqrt(trust[good]) / 1.2, k=3, s=good.sum() * 0.9
            )
            error = np.abs(reach - spline(at))
            good = error < max(least, 2.5 * float(np.median(error[good])))
        dense_turn = np.linspace(at.min(), at.max(), 1500)
        dense_radius = spline(dense_turn)
    angle = np.radians(dense_turn)
    line = np.column_stack(
        [centre[0] + dense_radius * np.cos(angle), centre[1] + dense_radius * np.sin(angle)]
    )
    return evenly(line[::-1])
