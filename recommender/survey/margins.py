"""The gum margin as a closed line round a crown: found by dynamic programming on the unrolled wall, or as a person
marked it."""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from recommender.survey.arrays import Floats, Ints
from recommender.survey.crown import CENTRES, COLUMNS, CrownSurface, round_ring
from recommender.survey.settings import settings

_ROW_MM, _SHIFT = 0.15, 5


@dataclass(frozen=True)
class Margin:
    """``points`` (columns, 3) in the crown's frame; ``spread_mm`` how uncertain it is (standard deviation);
    ``source``: found or confirmed."""

    points: Floats
    spread_mm: float
    source: str

    def height_along(self, up: Floats, azimuth: Floats) -> Floats:
        """Height of the margin along a path (in the crown's frame) at azimuths."""
        return round_ring(self.points @ up, azimuth)


def find_margin(surface: CrownSurface, crown_length: float) -> Floats:
    """Height by column of the likeliest gum margin.

    A closed path of greatest concavity on the unrolled wall, held by a prior from the published ``crown_length``
    (mm), without which it runs into the vestibule.
    """
    image, known, rows = _unrolled(surface)
    cost = -np.clip(image, -0.5, 2.0)
    prior = settings()["margin"]
    x, y = np.abs(surface.local[:, 0]), np.abs(surface.local[:, 1])
    within = (x < surface.frame.half[0]) & (y < surface.frame.half[1])
    top = float(np.percentile(surface.local[within, 2], 99)) if within.sum() > 20 else float(rows[-1])
    sine = np.sin(CENTRES)
    share = np.where(sine > 0, prior["facial_share"], prior["lingual_share"])
    expected = top - crown_length * (share * np.abs(sine) + (1 - np.abs(sine)) * prior["proximal_share"])
    cost = cost + prior["weight"] * 0.5 * ((rows[None] - expected[:, None]) / prior["spread_mm"]) ** 2
    cost[:, rows > top - prior["least_crown_mm"]] += 3.0
    cost[~known & (ndimage.gaussian_filter1d(known.astype(float), 3, axis=1) < 0.2)] += 1.0
    cost[np.abs(np.cos(CENTRES)) > 0.8] *= 0.35
    heights: Floats = rows[_closed_path(cost)] + _ROW_MM / 2
    return heights


def _unrolled(surface: CrownSurface) -> tuple[Floats, np.ndarray, Floats]:
    """Greatest concavity by column and height, spread a little; where there is any; heights of the rows."""
    half = surface.frame.half
    rho = np.hypot(surface.local[:, 0] / half[0], surface.local[:, 1] / half[1])
    z = surface.local[:, 2]
    top = np.percentile(z, 99.5) if len(z) else surface.frame.centre[2]
    rows = np.arange(top - 12, top + _ROW_MM, _ROW_MM)
    row = np.clip(((z - rows[0]) / _ROW_MM).astype(np.int64), 0, len(rows) - 1)
    used = (rho > 0.55) & (rho < 1.45)
    flat = np.full(COLUMNS * len(rows), -np.inf)
    np.maximum.at(flat, surface.column[used] * len(rows) + row[used], surface.concavity[used])
    grid = flat.reshape(COLUMNS, len(rows))
    known = np.isfinite(grid)
    total, weight = _spread(np.where(known, grid, 0.0)), _spread(known.astype(float))
    return np.where(weight > 0.05, total / np.maximum(weight, 0.05), 0.0), known, rows


def _spread(image: Floats) -> Floats:
    rows = ndimage.gaussian_filter1d(image, 1.0, axis=1)
    result: Floats = ndimage.gaussian_filter1d(rows, 1.0, axis=0, mode="wrap")
    return result


def _closed_path(cost: Floats) -> Ints:
    """The cheapest closed path: three turns round the ring, of which the middle one is kept."""
    columns, rows = cost.shape
    shifts = np.arange(-_SHIFT, _SHIFT + 1)
    penalty = 0.35 * 0.35 * (np.abs(shifts) * _ROW_MM / 0.35) ** 1.5
    turns = np.tile(np.arange(columns), 3)
    best = cost[0].copy()
    came = np.zeros((len(turns), rows), np.int64)
    padded = np.full(rows + 2 * _SHIFT, np.inf)
    # row r of it: the best up to r - shift, for every shift
    before = np.lib.stride_tricks.sliding_window_view(padded, len(shifts))[:, ::-1]
    own = np.arange(rows)
    for step in range(1, len(turns)):
        padded[_SHIFT : _SHIFT + rows] = best
        options = before + penalty
        chosen = options.argmin(axis=1)
        came[step] = own - shifts[chosen]
        best = options[own, chosen] + cost[turns[step]]
    path = np.zeros(len(turns), np.int64)
    row = int(best.argmin())
    for step in range(len(turns) - 1, -1, -1):
        path[step] = row
        row = int(came[step, row])
    return path[columns : 2 * columns]


def on_surface(surface: CrownSurface, heights: Floats, spread_mm: float, source: str) -> Margin:
    """A margin from its height by column, laid on the wall of the crown."""
    level = heights[surface.column]
    near = (np.abs(surface.local[:, 2] - level) < 0.3) & (surface.inner > 0.45) & (surface.inner < 1.3)
    near &= surface.outward > -0.2
    count = np.bincount(surface.column[near], minlength=COLUMNS)
    mean = np.bincount(surface.column[near], surface.radius[near], COLUMNS) / np.maximum(count, 1)
    across = np.hypot(np.cos(CENTRES) * surface.frame.half[0], np.sin(CENTRES) * surface.frame.half[1])
    radius = np.where(count < 2, across * 0.95, mean)
    points = np.column_stack([surface.directions() * radius[:, None], heights])
    return Margin(points, spread_mm, source)


def marked(surface: CrownSurface, points: Floats, found: Floats) -> Margin:
    """A margin through points that a person marked (n, 3, level frame).

    Many points are a traced line and taken as they are. Of few, each is as unsteady as a hand: their difference from
    the found margin is fitted with two harmonics, held by how far the found margin usually lies off, so that the line
    neither cuts corners between the points nor follows every tremor.
    """
    limits = settings()["margin"]
    local = surface.frame.local(points)
    azimuth = np.arctan2(local[:, 1] / surface.frame.half[1], local[:, 0] / surface.frame.half[0])
    order = np.argsort(azimuth, kind="stable")
    azimuth, heights = azimuth[order], local[order, 2]
    if len(points) >= limits["dense_points"]:
        level = np.interp(CENTRES, azimuth, heights, period=2 * np.pi)
        return on_surface(surface, level, limits["dense_spread_mm"], "confirmed")
    shapes = _harmonics(azimuth)
    prior = np.diag(1.0 / np.array(limits["found_harmonics_mm"]) ** 2)
    weight = 1.0 / limits["clicked_spread_mm"] ** 2
    covariance = np.linalg.inv(weight * shapes.T @ shapes + prior)
    fit = covariance @ shapes.T @ (heights - round_ring(found, azimuth)) * weight
    everywhere = _harmonics(CENTRES)
    known = float(np.mean(((everywhere @ covariance) * everywhere).sum(axis=1)))
    spread = float(np.sqrt(known + limits["found_wobble_mm"] ** 2))
    return on_surface(surface, found + everywhere @ fit, spread, "confirmed")


def _harmonics(azimuth: Floats) -> Floats:
    columns = [np.ones_like(azimuth)]
    for term in (1, 2):
        columns += [np.cos(term * azimuth), np.sin(term * azimuth)]
    return np.column_stack(columns)
