"""Lines of points: resampling, smoothing, and looking at an image along one."""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from recommender.survey.arrays import Floats, unit
from recommender.survey.heights import HeightImage

STEP_MM = 0.1


def lengths(line: Floats) -> Floats:
    """Length along a line up to each of its points."""
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])


def evenly(line: Floats, step: float = STEP_MM) -> Floats:
    """A line of points resampled at equal steps along its length."""
    along = lengths(line)
    wanted = np.arange(0.0, along[-1], step)
    return np.column_stack([np.interp(wanted, along, line[:, axis]) for axis in range(line.shape[1])])


def smooth(line: Floats, steps: float) -> Floats:
    """A line with each coordinate smoothed over that many points."""
    result: Floats = ndimage.gaussian_filter1d(line, steps, axis=0, mode="nearest")
    return result


@dataclass(frozen=True)
class Straightened:
    """An image along a line: ``values`` (points of the line, places across), ``across`` in mm (to the left of the
    line positive), the line's tangents and left normals."""

    values: Floats
    across: Floats
    tangents: Floats
    normals: Floats


def straightened(image: Floats, frame: HeightImage, line: Floats, reach: float, step: float) -> Straightened:
    """Values of an image (laid like ``frame``) along a line, up to ``reach`` mm to either side."""
    tangents = unit(np.gradient(line, axis=0))
    tangents = unit(ndimage.gaussian_filter1d(tangents, 15, axis=0))
    normals = np.column_stack([-tangents[:, 1], tangents[:, 0]])
    across = np.arange(-reach, reach + step / 2, step)
    places = line[:, None] + across[None, :, None] * normals[:, None]
    index = (places - frame.low) / frame.cell - 0.5
    values = ndimage.map_coordinates(image, [index[..., 0], index[..., 1]], order=1, mode="nearest")
    return Straightened(values, across, tangents, normals)
