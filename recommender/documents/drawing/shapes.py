"""Parts of a drawing as plain values, and the few operations on outlines that all of them share."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiLineString, Polygon
from shapely.geometry import Point as Spot
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from recommender.mechanics.arch import Point

Curve = NDArray[np.float64]
Path = Sequence[Point] | Curve
EMPTY = Polygon()
_STEP = 0.45
_CAP = np.linspace(0.0, math.pi, 7)[1:-1]


@dataclass(frozen=True, slots=True, eq=False)
class DrawnPart:
    """One part in arch coordinates (mm): what a test measures is what is printed.

    ``kind`` and ``detail`` say what it is (a rest and its site, an arm and its assembly, a connector and which);
    ``area`` is its outline; ``path`` the middle line of an arm or bar from its origin to its end, or the line itself
    of a part without width; ``lines`` what is drawn inside the outline. ``decision`` names the decision of the case
    that the part belongs to, as ``explain --for`` names it (``retainer:14``, ``connector``).
    """

    kind: str
    teeth: tuple[int, ...]
    detail: str = ""
    area: BaseGeometry = EMPTY
    path: tuple[Point, ...] = ()
    lines: tuple[Path, ...] = ()
    decision: str = ""

    @property
    def shape(self) -> BaseGeometry:
        """The part as one shape: its area, or its line where it has no width."""
        if not self.area.is_empty:
            return self.area
        if self.path:
            return LineString(self.path) if len(self.path) > 1 else Spot(self.path[0])
        return MultiLineString([np.asarray(line) for line in self.lines])


def polygons(shape: BaseGeometry, least_mm2: float = 0.05) -> list[Polygon]:
    """The polygons in a shape of any kind, without slivers and pinholes."""
    if isinstance(shape, Polygon):
        if shape.is_empty or shape.area < least_mm2:
            return []
        if any(Polygon(ring).area < least_mm2 for ring in shape.interiors):
            shape = Polygon(
                shape.exterior, [ring for ring in shape.interiors if Polygon(ring).area >= least_mm2]
            )
        return [shape]
    return [polygon for part in getattr(shape, "geoms", ()) for polygon in polygons(part, least_mm2)]


def largest(shape: BaseGeometry) -> BaseGeometry:
    """The biggest polygon of a shape, or an empty one."""
    found = polygons(shape)
    return max(found, key=lambda polygon: polygon.area) if found else EMPTY


def strokes(shape: BaseGeometry, least_mm: float = 0.3) -> list[Curve]:
    """The lines in a shape of any kind, joined where they meet."""
    from shapely.ops import linemerge

    parts = [part for part in getattr(shape, "geoms", [shape]) if part.geom_type == "LineString"]
    parts += [part for part in getattr(shape, "geoms", [shape]) if part.geom_type == "LinearRing"]
    if len(parts) > 1:
        merged = linemerge(parts)
        parts = list(getattr(merged, "geoms", [merged]))
    return [np.array(part.coords) for part in parts if part.length >= least_mm]


def opened(shape: BaseGeometry, radius: float) -> BaseGeometry:
    """The shape with its outward corners rounded; it never grows."""
    return shape.buffer(-radius, quad_segs=5).buffer(radius, quad_segs=5)


def closed(shape: BaseGeometry, radius: float) -> BaseGeometry:
    """The shape with its inward corners filled; it never shrinks."""
    return shape.buffer(radius, quad_segs=5).buffer(-radius, quad_segs=5)


def resampled(points: Path, step: float = _STEP) -> Curve:
    """A line at equal steps of about ``step`` mm."""
    line = np.asarray(points, dtype=np.float64)
    lengths = np.hypot(*np.diff(line, axis=0).T)
    keep = np.concatenate(([True], lengths > 1e-9))
    line, along = line[keep], np.concatenate(([0.0], np.cumsum(lengths[lengths > 1e-9])))
    if len(line) < 2:
        return line
    count = max(2, math.ceil(along[-1] / step) + 1)
    at = np.linspace(0.0, along[-1], count)
    return np.column_stack((np.interp(at, along, line[:, 0]), np.interp(at, along, line[:, 1])))


def eased(points: Path, times: int = 3) -> Curve:
    """A line with its corners cut (Chaikin), its ends and its directions there kept."""
    line = np.asarray(points, dtype=np.float64)
    for _ in range(times):
        a, b = line[:-1], line[1:]
        cut = np.empty((2 * len(a), 2))
        cut[0::2], cut[1::2] = 0.75 * a + 0.25 * b, 0.25 * a + 0.75 * b
        line = np.vstack((line[:1], cut, line[-1:]))
    return line


def rounded(points: Path, radius: float) -> Curve:
    """A line with its corners rounded to a radius where there is room; its ends and directions there are kept."""
    row = np.asarray(points, dtype=np.float64)
    found = [row[:1]]
    for before, corner, after in zip(row[:-2], row[1:-1], row[2:], strict=True):
        a, b = before - corner, after - corner
        long_a, long_b = float(np.hypot(*a)), float(np.hypot(*b))
        if long_a < 1e-6 or long_b < 1e-6:
            continue
        cosine = float(np.clip(a @ b / (long_a * long_b), -1.0, 1.0))
        half = math.acos(cosine) / 2
        reach = min(radius / max(math.tan(half), 0.05), long_a * 0.49, long_b * 0.49)
        first, last = corner + a / long_a * reach, corner + b / long_b * reach
        t = np.linspace(0.0, 1.0, 8)[:, None]
        found.append((1 - t) ** 2 * first + 2 * t * (1 - t) * corner + t**2 * last)
    return np.vstack((*found, row[-1:]))


def curve(points: Path, steps: int = 4) -> Curve:
    """A smooth line through points (Catmull-Rom)."""
    row = np.asarray(points, dtype=np.float64)
    if len(row) < 3:
        return row
    knots = np.vstack((2 * row[0] - row[1], row, 2 * row[-1] - row[-2]))
    place = np.linspace(0, len(row) - 1, (len(row) - 1) * steps + 1)
    low = np.minimum(place.astype(int), len(row) - 2)
    t = (place - low)[:, None]
    a, b, c, d = knots[low], knots[low + 1], knots[low + 2], knots[low + 3]
    return np.asarray(
        0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
    )


def normals(line: Curve) -> Curve:
    """Unit normals of an open line, to the left of its direction."""
    along = np.gradient(line, axis=0)
    length = np.hypot(along[:, 0], along[:, 1])[:, None]
    along = along / np.where(length == 0, 1.0, length)
    return np.column_stack((-along[:, 1], along[:, 0]))


def ribbon(points: Path, width: float | Callable[[Curve], Curve], end: float | None = None) -> BaseGeometry:
    """A strip along a line with round ends: ``width`` mm wide, or from ``width`` to ``end``, or by a function of the
    share of the line (0 to 1)."""
    line = resampled(points)
    if len(line) < 2:
        return EMPTY
    share = np.linspace(0.0, 1.0, len(line))
    if callable(width):
        half = np.asarray(width(share)) / 2
    else:
        half = (width + ((width if end is None else end) - width) * share) / 2
    side = normals(line)
    left, right = line + side * half[:, None], line - side * half[:, None]
    head = _cap(line[-1], side[-1], half[-1])
    tail = _cap(line[0], -side[0], half[0])
    shape = Polygon(np.vstack((left, head, right[::-1], tail)))
    if shape.is_valid:
        return shape
    # A tight bend folds the edge over itself: pieces, each sound.
    segments = [
        LineString(line[k : k + 2]).buffer(float(half[k] + half[k + 1]) / 2, quad_segs=4)
        for k in range(len(line) - 1)
    ]
    return unary_union(segments)


def _cap(at: Curve, side: Curve, half: float) -> Curve:
    forward = np.array([side[1], -side[0]])
    return np.asarray(at + half * (np.cos(_CAP)[:, None] * side + np.sin(_CAP)[:, None] * forward))


def tuples(line: Path) -> tuple[Point, ...]:
    """A line as plain points."""
    return tuple((round(float(x), 3), round(float(y), 3)) for x, y in line)
