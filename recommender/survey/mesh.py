"""A triangle mesh and what follows from it point by point: normals, edges, smoothing, concavity."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from scipy import sparse
from scipy.sparse import csgraph

from recommender.survey.arrays import Floats, Ints, unit

_LONG_EDGES = 6.0  # times the median edge


@dataclass(frozen=True)
class Mesh:
    """``points`` (n, 3) in mm and ``faces`` (m, 3), indices of points, anticlockwise seen from outside."""

    points: Floats
    faces: Ints

    @cached_property
    def edge_mm(self) -> float:
        """Median length of an edge."""
        return float(
            np.sqrt(np.median(self._squared(self.faces.ravel(), np.roll(self.faces, -1, axis=1).ravel())))
        )

    def _squared(self, start: Ints, end: Ints) -> Floats:
        """Squared distances between points, axis by axis, so that little memory is taken at once."""
        total = np.zeros(len(start))
        for axis in self.columns:
            total += (axis[start] - axis[end]) ** 2
        return total

    @cached_property
    def columns(self) -> tuple[Floats, Floats, Floats]:
        """x, y and z of the points, each in one piece of memory."""
        x, y, z = np.ascontiguousarray(self.points.T)
        return x, y, z

    @cached_property
    def face_normals(self) -> Floats:
        """Normal of every face, its length twice the face's area."""
        first, second, third = np.ascontiguousarray(self.faces.T)
        a, b = ([axis[corner] - axis[first] for axis in self.columns] for corner in (second, third))
        return np.column_stack([
            a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0],
        ])  # fmt: skip

    @cached_property
    def normals(self) -> Floats:
        """Unit normal at every point, from the faces round it weighted by area."""
        summed = np.zeros_like(self.points)
        across = np.ascontiguousarray(self.face_normals.T)
        for corner in np.ascontiguousarray(self.faces.T):
            for axis in range(3):
                summed[:, axis] += np.bincount(corner, across[axis], len(self.points))
        return unit(summed)

    @cached_property
    def neighbours(self) -> Any:
        """Sparse matrix (n, n) of which points share an edge, scaled so that it takes the mean of neighbours.

        Edges far longer than usual are left out: the triangles of a base or of a filled hole say nothing of the
        surface beside them. A point with no other edge is its own neighbour.
        """
        count = len(self.points)
        start = self.faces.ravel().astype(np.int32)
        end = np.roll(self.faces, -1, axis=1).ravel().astype(np.int32)
        short = self._squared(start, end) < (_LONG_EDGES * self.edge_mm) ** 2
        start, end = start[short], end[short]
        joined = sparse.coo_matrix(
            (np.ones(len(start), np.float32), (start, end)), shape=(count, count)
        ).tocsr()
        joined = joined + joined.T
        joined.data[:] = 1.0
        degree = np.asarray(joined.sum(axis=1)).ravel()
        alone = degree == 0
        if alone.any():
            joined = joined + sparse.diags(alone.astype(np.float32))
        return sparse.diags(1.0 / np.maximum(degree, 1.0)) @ joined

    @cached_property
    def concavity(self) -> Floats:
        """Mean inward bend at every point (1/mm, positive in a groove), spread over the nearest neighbours."""
        start = self.faces.ravel()
        end = np.roll(self.faces, -1, axis=1).ravel()
        length, forth, back = (np.zeros(len(start)) for _ in range(3))
        for axis, normal in zip(self.columns, np.ascontiguousarray(self.normals.T), strict=True):
            step = axis[end] - axis[start]
            length += step**2
            forth += normal[start] * step
            back -= normal[end] * step
        length = 2.0 / np.maximum(length, 1e-8)
        count = len(self.points)
        value = np.bincount(start, forth * length, count) + np.bincount(end, back * length, count)
        edges = np.bincount(start, minlength=count) + np.bincount(end, minlength=count)
        value = value / np.maximum(edges, 1)
        for _ in range(2):
            value = 0.4 * value + 0.6 * (self.neighbours @ value)
        result: Floats = value
        return result

    def moved(self, rotation: Floats, origin: Floats | None = None) -> "Mesh":
        """The mesh turned by a (3, 3) matrix about ``origin``, which becomes the origin; mirrored if it mirrors."""
        points = self.points if origin is None else self.points - origin
        faces = self.faces if np.linalg.det(rotation) > 0 else np.ascontiguousarray(self.faces[:, ::-1])
        moved = Mesh(points @ rotation.T, faces)
        # what a movement leaves as it is
        moved.__dict__.update({
            name: self.__dict__[name] for name in ("edge_mm", "neighbours") if name in self.__dict__
        })  # fmt: skip
        return moved

    def smoothed(self, reach_mm: float) -> "Mesh":
        """The mesh without detail finer than about ``reach_mm``, not shrunk (Taubin 1995, signal processing of
        surfaces)."""
        rounds = int(np.clip(round(2 * (reach_mm / max(self.edge_mm, 1e-6)) ** 2), 1, 30))
        points = self.points
        for _ in range(rounds):
            points = points + 0.5 * (self.neighbours @ points - points)
            points = points - 0.52 * (self.neighbours @ points - points)
        smooth = Mesh(points, self.faces)
        smooth.__dict__["neighbours"] = self.neighbours
        return smooth


def compact(points: Floats, faces: Ints) -> Mesh:
    """A mesh of the points that the faces use."""
    used = np.zeros(len(points), dtype=bool)
    used[faces] = True
    return Mesh(points[used], (np.cumsum(used) - 1)[faces])


def largest_piece(mesh: Mesh) -> Mesh:
    """The connected piece with the most points."""
    label = csgraph.connected_components(mesh.neighbours, directed=False)[1]
    largest = np.bincount(label).argmax()
    return compact(mesh.points, mesh.faces[label[mesh.faces[:, 0]] == largest])


def without_scraps(mesh: Mesh, least_share: float) -> Mesh:
    """The mesh without loose pieces that have less than a share of the points of the largest one.

    What hangs on it by long edges alone, as the walls of a base do, counts as loose.
    """
    label = csgraph.connected_components(mesh.neighbours, directed=False)[1]
    size = np.bincount(label)
    kept = (size >= least_share * size.max())[label]
    if kept.all():
        return mesh
    faces = mesh.faces[kept[mesh.faces].all(axis=1)]
    return compact(mesh.points, faces) if len(faces) else mesh


def welded(points: Floats, faces: Ints) -> Mesh:
    """Equal points made one (STL repeats each) and triangles without three different corners dropped."""
    first, index = _alike(points.astype(np.float32) + np.float32(0.0))
    joined = index[faces]
    different = (
        (joined[:, 0] != joined[:, 1]) & (joined[:, 1] != joined[:, 2]) & (joined[:, 0] != joined[:, 2])
    )
    return compact(points[first], joined[different])


def _alike(points: Any) -> tuple[Ints, Ints]:
    """Of (n, 3) single-precision points the first of each that are equal, and for every point which of these it is."""
    keys = np.ascontiguousarray(points).view(np.uint32).astype(np.uint64)
    mixed = _mixed(keys)
    order = np.argsort(mixed, kind="stable")
    new = np.ones(len(order), dtype=bool)
    new[1:] = mixed[order[1:]] != mixed[order[:-1]]
    first: Ints = order[new].astype(np.int64)
    index = np.empty(len(order), dtype=np.int64)
    index[order] = np.cumsum(new) - 1
    if not (keys[first[index]] == keys).all():  # two points that differ were mixed to the same number
        _, first, index = np.unique(points, axis=0, return_index=True, return_inverse=True)
    return first, index.ravel()


def _mixed(keys: Any) -> Any:
    """One number of 64 bits for the three words of each point."""
    mixed = keys[:, 0] * np.uint64(0x9E3779B97F4A7C15) ^ keys[:, 1] * np.uint64(0xC2B2AE3D27D4EB4F)
    return (mixed ^ mixed >> np.uint64(29)) * np.uint64(0xBF58476D1CE4E5B9) ^ keys[:, 2]
