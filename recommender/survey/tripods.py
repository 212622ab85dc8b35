"""Tripod points: three far-apart places of the tissue at one height along the path."""

import numpy as np
from scipy import ndimage

from recommender.survey.arrays import Bools, Floats
from recommender.survey.directions import right_sign
from recommender.survey.locating import Located
from recommender.survey.result import Tripod

_FLAT, _LAYER_MM, _EDGE_MM = 0.6, 0.15, 2.0


def _tissue(place: Located) -> Bools:
    """Points of the mesh that lie on tissue: away from the edge of the scan and from the teeth."""
    image, points = place.image, place.mesh.points
    inside = ndimage.binary_erosion(image.found, iterations=int(_EDGE_MM / image.cell))
    cell = np.floor((points[:, :2] - image.low) / image.cell).astype(np.int64)
    cell = np.clip(cell, 0, np.array(inside.shape) - 1)
    tissue: Bools = inside[cell[:, 0], cell[:, 1]]
    for frame in place.frames:
        local = frame.local(points)
        tissue &= np.hypot(local[:, 0] / (frame.half[0] + 1), local[:, 1] / (frame.half[1] + 1)) > 1
    return tissue


def tripod_of(place: Located, up: Floats, arch: str) -> Tripod | None:
    """The tripod for a path of the level frame, or ``None`` where the tissue has no three such places.

    The height is the one at which three places lie farthest apart, among those at which there is tissue that faces
    the surveyor.
    """
    mesh = place.mesh
    along = mesh.points @ up
    facing = (mesh.normals @ up > _FLAT) & _tissue(place)
    candidates = along[facing]
    if len(candidates) < 3:
        return None
    best: tuple[float, Floats] | None = None
    for height in np.percentile(candidates, [15, 25, 35, 45]):
        layer = mesh.points[facing & (np.abs(along - height) < _LAYER_MM)]
        if len(layer) < 3:
            continue
        corners = np.array([
            layer[np.argmax(layer[:, 1])], layer[np.argmin(layer[:, 0] + 0.5 * layer[:, 1])],
            layer[np.argmax(layer[:, 0] - 0.5 * layer[:, 1])],
        ])  # fmt: skip
        area = float(np.linalg.norm(np.cross(corners[1] - corners[0], corners[2] - corners[0])) / 2)
        if best is None or area > best[0] + 1e-6:
            best = (area, corners)
    if best is None or best[0] < 20.0:
        return None
    # to the patient's left, to the front, up: from the middle of the arch at the last molars, as the format has it
    left = -right_sign(arch)
    points = tuple((round(float(left * x), 1), round(float(y), 1), round(float(z), 1)) for x, y, z in best[1])
    return Tripod(points, tuple(round(float(point[2]), 1) for point in best[1]))
