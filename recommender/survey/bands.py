"""Bands round the undercuts of a crown, by cause: where the margin runs, how the cast is tilted, how rough the
surface is."""

from dataclasses import dataclass

import numpy as np

from recommender.survey.arrays import Floats
from recommender.survey.crown import CENTRES, CrownSurface
from recommender.survey.margins import Margin
from recommender.survey.settings import settings
from recommender.survey.undercuts import Wall, horizontal_axes, wall, zone_undercuts

_DRAWS = 48


@dataclass(frozen=True)
class Bands:
    """By zone (mm): ``low``, ``value``, ``high``, and the standard deviation that each cause adds."""

    low: Floats
    value: Floats
    high: Floats
    margin: Floats
    tilt: Floats
    surface: Floats


def undercut_bands(
    surface: CrownSurface, margin: Margin, up: Floats, laid: Wall, roughness_mm: float
) -> Bands:
    """The band of every zone that holds nine in ten true values, for a path ``up`` in the crown's frame.

    The margin is moved as a whole and as it wavers round the crown, so that the deepest place of a zone is sought
    under each of many possible margins: a maximum over a ragged line errs deep, and the band says so.
    """
    figures = settings()["bands"]
    value = zone_undercuts(laid)
    moved = np.array([zone_undercuts(laid, lift) for lift in margin.spread_mm * wavers()])
    moved = np.where(np.isfinite(moved), moved, value)
    shift = np.nan_to_num(moved.mean(axis=0) - value)
    spread = np.nan_to_num(moved.std(axis=0))
    tilt = np.nan_to_num(_by_tilt(surface, margin, up, value, figures["tilt_sd_deg"]))
    rough = max(roughness_mm, figures["least_roughness_mm"])
    face = np.full(len(value), np.hypot(figures["surface_factor"] * rough, figures["method_mm"]))
    sd = figures["cover_sds"] * np.sqrt(spread**2 + tilt**2 + face**2)
    middle = value + np.minimum(shift, 0.0) / 2
    return Bands(
        np.maximum(middle - sd, 0.0),
        value,
        np.maximum(value + sd + np.maximum(shift, 0.0), 0.0),
        spread,
        tilt,
        face,
    )


def _by_tilt(surface: CrownSurface, margin: Margin, up: Floats, value: Floats, sd_deg: float) -> Floats:
    step = np.tan(np.radians(sd_deg))
    axes = horizontal_axes(up)
    changes = []
    for axis in axes:
        pair = []
        for sign in (-1.0, 1.0):
            other = up + sign * step * axis
            laid = wall(surface, margin, other / np.linalg.norm(other))
            pair.append(np.abs(zone_undercuts(laid) - value))
        changes.append(np.maximum(*pair))
    result: Floats = np.sqrt(changes[0] ** 2 + changes[1] ** 2)
    return result


def wavers() -> Floats:
    """Margins (draws, columns) in units of their standard deviation: raised as a whole, tilted, and wavering twice
    round.

    Fixed draws, each with its opposite, so that a scan always gives the same band.
    """
    rng = np.random.default_rng(1)
    amounts = rng.normal(size=(_DRAWS // 2, 5))
    amounts = np.vstack([amounts, -amounts])
    shapes = np.vstack([
        np.ones_like(CENTRES), np.sqrt(2) * np.cos(CENTRES), np.sqrt(2) * np.sin(CENTRES),
        np.sqrt(2) * np.cos(2 * CENTRES), np.sqrt(2) * np.sin(2 * CENTRES),
    ])  # fmt: skip
    shares = np.sqrt(np.array([0.4, 0.2, 0.2, 0.1, 0.1]))
    result: Floats = (amounts * shares) @ shapes
    return result
