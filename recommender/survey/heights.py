"""Height images: the highest surface of a mesh over each cell of a grid. For finding teeth and for clearances;
never for undercuts,
where a grid misjudges steep walls."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import ndimage

from recommender.survey.arrays import Bools, Floats
from recommender.survey.errors import ScanError
from recommender.survey.mesh import Mesh

_MOST_WORK = 1e8  # cells looked at; a jaw at 0.2 mm needs about a million


@dataclass(frozen=True)
class HeightImage:
    """``heights`` (nx, ny) in mm, NaN where there is no surface; cell (i, j) is centred on ``low + (i + 0.5, j
    + 0.5) * cell``."""

    heights: Floats
    low: Floats
    cell: float

    @property
    def found(self) -> Bools:
        """Where there is a surface."""
        return np.isfinite(self.heights)

    def filled(self, value: float) -> Floats:
        """Heights with ``value`` where there is no surface."""
        return np.where(self.found, self.heights, value)

    def at(self, places: Floats, order: Literal[0, 1] = 0) -> Floats:
        """Heights at (n, 2) places, the nearest cell's (order 0) or interpolated (1); NaN outside."""
        index = (places - self.low) / self.cell - 0.5
        result: Floats = ndimage.map_coordinates(
            self.heights, np.moveaxis(index, -1, 0), order=order, mode="constant", cval=float("nan")
        )
        return result

    def grid(self) -> tuple[Floats, Floats]:
        """x and y of the cells, each (nx, ny)."""
        x = self.low[0] + (np.arange(self.heights.shape[0]) + 0.5) * self.cell
        y = self.low[1] + (np.arange(self.heights.shape[1]) + 0.5) * self.cell
        first, second = np.meshgrid(x, y, indexing="ij")
        return first, second


def height_image(mesh: Mesh, cell: float, box: tuple[Floats, Floats] | None = None) -> HeightImage:
    """The highest z over each cell centre, exact on the triangles.

    Cells are laid symmetrically about the origin, so that a mirrored mesh gives the mirrored image.
    """
    low, high = box if box is not None else (mesh.points[:, :2].min(0) - 1, mesh.points[:, :2].max(0) + 1)
    start = np.floor(np.asarray(low) / cell) * cell
    count = np.ceil((np.asarray(high) - start) / cell).astype(int)
    image = np.full(int(count[0]) * int(count[1]), -np.inf)
    corners = mesh.points[mesh.faces]
    a = (corners[:, :, 0] - start[0]) / cell - 0.5
    b = (corners[:, :, 1] - start[1]) / cell - 0.5
    _fill(image, a, b, corners[:, :, 2], (int(count[0]), int(count[1])))
    image[np.isneginf(image)] = np.nan
    return HeightImage(image.reshape(int(count[0]), int(count[1])), start, cell)


def _fill(image: Floats, a: Floats, b: Floats, z: Floats, count: tuple[int, int]) -> None:
    first_a, last_a = np.ceil(a.min(1) - 1e-9).astype(np.int64), np.floor(a.max(1) + 1e-9).astype(np.int64)
    first_b, last_b = np.ceil(b.min(1) - 1e-9).astype(np.int64), np.floor(b.max(1) + 1e-9).astype(np.int64)
    area = (b[:, 1] - b[:, 2]) * (a[:, 0] - a[:, 2]) + (a[:, 2] - a[:, 1]) * (b[:, 0] - b[:, 2])
    seen = (last_a >= first_a) & (last_b >= first_b) & (last_a >= 0) & (last_b >= 0)
    seen &= (first_a < count[0]) & (first_b < count[1]) & (np.abs(area) > 1e-12)
    faces = np.flatnonzero(seen)
    span = np.maximum(last_a - first_a, last_b - first_b)[faces] + 1
    if (span.astype(np.float64) ** 2).sum() > _MOST_WORK:
        raise ScanError("the scan has too many large triangles lying over each other")
    for size in np.unique(2 ** np.ceil(np.log2(np.maximum(span, 1))).astype(int)):
        chosen = faces[(span > (0 if size == 1 else size // 2)) & (span <= size)]
        steps = np.arange(size * size)
        for part in (
            np.array_split(steps, max(1, len(steps) * len(chosen) // 2_000_000))
            if size > 4
            else steps[:, None]
        ):
            face = np.repeat(chosen, len(part))
            offset = np.tile(part, len(chosen))
            i, j = first_a[face] + offset // size, first_b[face] + offset % size
            inside = (i <= last_a[face]) & (j <= last_b[face])
            inside &= (i >= 0) & (j >= 0) & (i < count[0]) & (j < count[1])
            face, i, j = face[inside], i[inside], j[inside]
            first = (
                (b[face, 1] - b[face, 2]) * (i - a[face, 2]) + (a[face, 2] - a[face, 1]) * (j - b[face, 2])
            ) / area[face]
            second = (
                (b[face, 2] - b[face, 0]) * (i - a[face, 2]) + (a[face, 0] - a[face, 2]) * (j - b[face, 2])
            ) / area[face]
            third = 1 - first - second
            hit = (first >= -1e-9) & (second >= -1e-9) & (third >= -1e-9)
            face = face[hit]
            value = first[hit] * z[face, 0] + second[hit] * z[face, 1] + third[hit] * z[face, 2]
            np.maximum.at(image, i[hit] * count[1] + j[hit], value)
