"""Height images: the highest surface of a mesh over each cell of a grid. For finding teeth and for clearances; never
for undercuts, where a grid misjudges steep walls."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import ndimage

from recommender.survey.arrays import Bools, Floats, Ints
from recommender.survey.errors import ScanError
from recommender.survey.mesh import Mesh

_MOST_WORK = 1e8  # cells looked at; a jaw at 0.2 mm needs about a million
_AT_ONCE = 2_000_000
_SMALL = 3  # cells that a triangle of a scan spans at most


@dataclass(frozen=True)
class HeightImage:
    """``heights`` (nx, ny) in mm, NaN where there is no surface; cell (i, j) is centred on ``low + (i + 0.5, j + 0.5)
    * cell``."""

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
    faces = np.ascontiguousarray(mesh.faces.T)
    x, y, height = mesh.columns
    a, b, z = (axis[faces] for axis in ((x - start[0]) / cell - 0.5, (y - start[1]) / cell - 0.5, height))
    _fill(image, a, b, z, (int(count[0]), int(count[1])))
    image[np.isneginf(image)] = np.nan
    return HeightImage(image.reshape(int(count[0]), int(count[1])), start, cell)


def _fill(image: Floats, a: Floats, b: Floats, z: Floats, count: tuple[int, int]) -> None:
    """Raise the image to triangles whose corners lie at ``a`` and ``b`` (cells) and at height ``z``, (3, n) each."""
    first_a, last_a = _cells_between(a)
    first_b, last_b = _cells_between(b)
    area = (b[1] - b[2]) * (a[0] - a[2]) + (a[2] - a[1]) * (b[0] - b[2])
    seen = (last_a >= first_a) & (last_b >= first_b) & (last_a >= 0) & (last_b >= 0)
    seen &= (first_a < count[0]) & (first_b < count[1]) & (np.abs(area) > 1e-12)
    faces = np.flatnonzero(seen)
    span = np.maximum(last_a - first_a, last_b - first_b)[faces] + 1
    small = faces[span <= _SMALL]
    for step in range(_SMALL * _SMALL):
        i, j = first_a[small] + step // _SMALL, first_b[small] + step % _SMALL
        inside = (i <= last_a[small]) & (j <= last_b[small])
        _put(image, a, b, z, area, small[inside], i[inside], j[inside], count)
    large = faces[span > _SMALL]
    rows = (np.minimum(last_a, count[0] - 1) - np.maximum(first_a, 0) + 1)[large]
    if rows.sum() > _MOST_WORK / 10:
        raise ScanError("the scan has too many large triangles lying over each other")
    work = 0
    for part in _batches(large, rows):
        work += _fill_rows(image, a, b, z, area, part, first_a, last_a, count)
        if work > _MOST_WORK:
            raise ScanError("the scan has too many large triangles lying over each other")


def _cells_between(corners: Floats) -> tuple[Ints, Ints]:
    """The first and the last cell centre between the least and the greatest of three corners, (3, n)."""
    least = np.minimum(np.minimum(corners[0], corners[1]), corners[2])
    greatest = np.maximum(np.maximum(corners[0], corners[1]), corners[2])
    return np.ceil(least - 1e-9).astype(np.int64), np.floor(greatest + 1e-9).astype(np.int64)


def _batches(faces: Ints, rows: Ints) -> list[Ints]:
    """The faces in parts of so many rows each that what is worked out at once stays small."""
    return [
        np.asarray(part)
        for part in np.array_split(faces, max(1, int(rows.sum() // _AT_ONCE) + 1))
        if len(part)
    ]


def _fill_rows(
    image: Floats, a: Floats, b: Floats, z: Floats, area: Floats, faces: Ints, first_a: Ints, last_a: Ints,
    count: tuple[int, int],
) -> int:  # fmt: skip
    """Row by row, so that a long thin triangle, as in the base of a cast, costs what it covers and not what it spans;
    how many cells were looked at."""
    start, end = np.maximum(first_a[faces], 0), np.minimum(last_a[faces], count[0] - 1)
    rows = np.maximum(end - start + 1, 0)
    face = np.repeat(faces, rows)
    i = np.repeat(start, rows) + _counted(rows)
    low, high = np.full(len(face), np.inf), np.full(len(face), -np.inf)
    for corner in range(3):
        a0, a1 = a[corner, face], a[corner - 1, face]
        b0, b1 = b[corner, face], b[corner - 1, face]
        with np.errstate(all="ignore"):
            share = (i - a0) / (a1 - a0)
        at = np.where((share >= -1e-9) & (share <= 1 + 1e-9), b0 + share * (b1 - b0), np.nan)
        low, high = np.fmin(low, at), np.fmax(high, at)
    known = high >= low
    first = np.where(known, np.clip(np.ceil(np.where(known, low, 0.0) - 1e-9), 0, count[1]), 1).astype(
        np.int64
    )
    last = np.where(known, np.clip(np.floor(np.where(known, high, 0.0) + 1e-9), -1, count[1] - 1), 0).astype(
        np.int64
    )
    width = np.maximum(last - first + 1, 0)
    for part in np.array_split(np.arange(len(face)), max(1, int(width.sum() // _AT_ONCE) + 1)):
        own = width[part]
        j = np.repeat(first[part], own) + _counted(own)
        _put(image, a, b, z, area, np.repeat(face[part], own), np.repeat(i[part], own), j, count)
    return int(width.sum())


def _counted(lengths: Ints) -> Ints:
    """0, 1, 2 … within each of the stretches of these lengths."""
    ends = np.cumsum(lengths)
    result: Ints = np.arange(int(ends[-1]) if len(ends) else 0) - np.repeat(ends - lengths, lengths)
    return result


def _put(
    image: Floats,
    a: Floats,
    b: Floats,
    z: Floats,
    area: Floats,
    face: Ints,
    i: Ints,
    j: Ints,
    count: tuple[int, int],
) -> None:
    """Raise the cells (i, j) to the planes of their faces, where they lie within them."""
    within = (i >= 0) & (j >= 0) & (i < count[0]) & (j < count[1])
    face, i, j = face[within], i[within], j[within]
    a2, b2 = a[2, face], b[2, face]
    da, db = i - a2, j - b2
    first = ((b[1, face] - b2) * da + (a2 - a[1, face]) * db) / area[face]
    second = ((b2 - b[0, face]) * da + (a[0, face] - a2) * db) / area[face]
    third = 1 - first - second
    hit = (first >= -1e-9) & (second >= -1e-9) & (third >= -1e-9)
    face = face[hit]
    value = first[hit] * z[0, face] + second[hit] * z[1, face] + third[hit] * z[2, face]
    np.maximum.at(image, i[hit] * count[1] + j[hit], value)
