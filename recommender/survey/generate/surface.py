"""The surface of an invented arch as triangles: naive surface nets (Gibson 1998) on a narrow band, then drawn onto
the surface."""

from collections.abc import Callable

import numpy as np
from scipy import ndimage

from recommender.survey.arrays import Bools, Floats, Ints
from recommender.survey.generate.arch import GeneratedArch
from recommender.survey.mesh import Mesh, compact, largest_piece

_COARSE = 4
Value = Callable[[Floats], Floats]


def arch_mesh(arch: GeneratedArch, edge_mm: float = 0.22) -> Mesh:
    """An open scan of the arch as a scanner would leave it (points in the level frame, mm), without noise."""
    line = arch.curve
    lowest = -8.5 if arch.palate is None else min(-8.5, -arch.palate.depth - 1.0)
    low = np.array([line[:, 0].min() - 9, min(line[:, 1].min(), 0.0) - 2.0, lowest])
    high = np.array(
        [line[:, 0].max() + 9, line[:, 1].max() + 9, max(crown.height for crown in arch.crowns) + 3.5]
    )
    mesh = surface_of(arch.value, low, high, edge_mm)
    centres = mesh.points[mesh.faces].mean(axis=1)
    across = arch.along_and_across(centres)[1]
    palate = arch.palate is not None
    floor = np.where(across > 0, -6.5, -99.0 if palate else -8.0)
    keep = (centres[:, 2] > low[2] + 1.2 * edge_mm) & ((centres[:, 2] > floor) | ((across < -2) & palate))
    keep &= (np.abs(centres[:, 0]) < high[0] - 2 * edge_mm) & (centres[:, 1] > low[1] + 2 * edge_mm)
    return largest_piece(compact(mesh.points, mesh.faces[keep]))


def surface_of(value: Value, low: Floats, high: Floats, edge_mm: float) -> Mesh:
    """Where ``value`` is zero in a box, as a mesh with its normals pointing to positive values."""
    grid = _sampled(value, low, high, edge_mm)
    points, faces = _surface_nets(grid)
    points = low + points * edge_mm
    for _ in range(2):
        points = _drawn_on(value, points, edge_mm)
    return Mesh(points, faces)


def _sampled(value: Value, low: Floats, high: Floats, step: float) -> Floats:
    """Values on a grid: exact near the surface, the sign elsewhere from a grid four times as coarse."""
    shape = tuple(int(n) for n in np.ceil((high - low) / step / _COARSE) * _COARSE + 1)
    coarse_axes = [low[axis] + np.arange(0, shape[axis], _COARSE) * step for axis in range(3)]
    mesh = np.stack(np.meshgrid(*coarse_axes, indexing="ij"), axis=-1)
    coarse = value(mesh.reshape(-1, 3)).reshape(mesh.shape[:3])
    near = np.abs(coarse) < 1.4 * _COARSE * step
    near = ndimage.binary_dilation(near, iterations=1)
    fine = np.kron(coarse[:-1, :-1, :-1], np.ones((_COARSE,) * 3, np.float32)).astype(np.float32)
    mark = np.kron(near[:-1, :-1, :-1], np.ones((_COARSE,) * 3, bool))
    index = np.argwhere(mark)
    fine[mark] = value(low + index * step)
    result: Floats = fine
    return result


def _surface_nets(grid: Floats) -> tuple[Floats, Ints]:
    inside = grid < 0
    cells = np.zeros(tuple(n - 1 for n in grid.shape), np.uint8)
    corners = [(i, j, k) for i in (0, 1) for j in (0, 1) for k in (0, 1)]
    for i, j, k in corners:
        cells += inside[i : grid.shape[0] - 1 + i, j : grid.shape[1] - 1 + j, k : grid.shape[2] - 1 + k]
    active = np.argwhere((cells > 0) & (cells < 8))
    number = np.full(cells.shape, -1, np.int64)
    number[tuple(active.T)] = np.arange(len(active))
    values = {corner: grid[tuple((active + corner).T)] for corner in corners}
    total, count = np.zeros((len(active), 3)), np.zeros(len(active))
    for first in corners:
        for axis in range(3):
            if first[axis]:
                continue
            i, j, k = (1 if a == axis else first[a] for a in range(3))
            start, end = values[first], values[i, j, k]
            cut = (start < 0) != (end < 0)
            place = np.tile(np.array(first, float), (int(cut.sum()), 1))
            place[:, axis] += start[cut] / (start[cut] - end[cut])
            total[cut] += place
            count[cut] += 1
    points = active + total / count[:, None]
    return points, np.vstack([_quads(inside, number, axis) for axis in range(3)])


def _quads(inside: Bools, number: Ints, axis: int) -> Ints:
    """Two triangles for every grid edge along ``axis`` that the surface cuts, joining the four cells round it."""
    lower = np.take(inside, range(inside.shape[axis] - 1), axis)
    upper = np.take(inside, range(1, inside.shape[axis]), axis)
    edges = np.argwhere(lower != upper)
    a, b = (axis + 1) % 3, (axis + 2) % 3
    within = (edges[:, a] > 0) & (edges[:, b] > 0)
    within &= (edges[:, a] < number.shape[a]) & (edges[:, b] < number.shape[b])
    edges = edges[within]
    outward = lower[tuple(edges.T)]
    ring = []
    for step_a, step_b in ((-1, -1), (0, -1), (0, 0), (-1, 0)):
        cell = edges.copy()
        cell[:, a] += step_a
        cell[:, b] += step_b
        ring.append(number[tuple(cell.T)])
    quad = np.stack(ring, axis=1)
    quad = np.where(outward[:, None], quad, quad[:, ::-1])
    return np.vstack([quad[:, [0, 1, 2]], quad[:, [0, 2, 3]]])


def _drawn_on(value: Value, points: Floats, edge_mm: float) -> Floats:
    at = value(points)
    step = 1e-3
    slope = np.stack([(value(points + np.eye(3)[axis] * step) - at) / step for axis in range(3)], axis=1)
    move = (at / np.maximum((slope**2).sum(1), 0.05))[:, None] * slope
    length = np.linalg.norm(move, axis=1, keepdims=True)
    result: Floats = points - move * np.minimum(1.0, 0.4 * edge_mm / np.maximum(length, 1e-9))
    return result
