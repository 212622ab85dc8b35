"""The arch as a drawing needs it: outlines as polygons, and smooth lines along the teeth to measure from.

Millimetres in the coordinates of ``mechanics.arch`` (x to the patient's left, y forward). A *station* runs along
the arch from the patient's right third molar (0) to the left one (16): tooth number ``i`` of the row occupies
stations ``i`` to ``i + 1``. A *turn* runs round one tooth in quarters: 0 mesial, 1 facial, 2 distal, 3 lingual.
"""

import math
from collections.abc import Iterable
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring, unary_union

from recommender.domain.dentition import ARCH_ORDER, position, side_of
from recommender.mechanics.arch import ArchGeometry, Point, ToothPlace

Curve = NDArray[np.float64]

_PER_STATION = 16
_BEYOND = 1.5
_EASE_UP_TO_MM = 8.0
_EASE_PER_MM = (
    0.25  # stations to either side over which a line is averaged, for each mm that it lies further in
)
_QUARTER = 9
_WIDTH_STEP = 0.08


class Frame:
    """One arch with its standing teeth; every shape of a drawing is built on it."""

    def __init__(self, geometry: ArchGeometry, standing: Iterable[int]) -> None:
        self.geometry = geometry
        self.arch = geometry.arch
        self.order = ARCH_ORDER[geometry.arch]
        self.standing = frozenset(standing)
        self._offsets: dict[tuple[str, float, float], Curve] = {}
        self._outlines = {tooth: Polygon(place.outline) for tooth, place in geometry.places.items()}

    def place(self, tooth: int) -> ToothPlace:
        return self.geometry[tooth]

    def outline(self, tooth: int) -> Polygon:
        """The crown seen from the occlusal side."""
        return self._outlines[tooth]

    @cached_property
    def standing_crowns(self) -> BaseGeometry:
        """All standing crowns together."""
        return unary_union([self._outlines[tooth] for tooth in sorted(self.standing)])

    def others(self, *teeth: int) -> BaseGeometry:
        """All standing crowns but these."""
        return unary_union([self._outlines[t] for t in sorted(self.standing) if t not in teeth])

    # -- stations along the arch -------------------------------------------------------------------------

    def station(self, tooth: int, site: str = "middle") -> float:
        """Where along the arch a tooth stands: its middle, or its ``mesial`` or ``distal`` contact."""
        index = float(self.order.index(tooth))
        if site not in ("mesial", "distal"):
            return index + 0.5
        forward = site == "mesial" if side_of(tooth) == "right" else site == "distal"
        return index + 1.0 if forward else index

    def lingual_point(self, station: float, inward_mm: float = 0.0, eased_mm: float | None = None) -> Point:
        """A point ``inward_mm`` to the lingual of the line along the lingual faces.

        The line's bends are eased as befits metal ``eased_mm`` (or ``inward_mm``) away from the teeth.
        """
        return self._at("lingual", station, inward_mm, inward_mm if eased_mm is None else eased_mm)

    def facial_point(self, station: float, outward_mm: float = 0.0) -> Point:
        """A point ``outward_mm`` to the facial of the line along the facial faces."""
        return self._at("facial", station, -outward_mm, 0.0)

    def lingual_band(self, first: float, last: float, near_mm: float, far_mm: float) -> Polygon:
        """The strip between two distances to the lingual of the teeth, from station to station."""
        stations = _steps(first, last)
        ease = max(near_mm, far_mm)
        inner = [self.lingual_point(s, near_mm, ease) for s in stations]
        outer = [self.lingual_point(s, far_mm, ease) for s in reversed(stations)]
        return _sound(Polygon([*inner, *outer]))

    def facial_band(self, first: float, last: float, near_mm: float, far_mm: float) -> Polygon:
        """The strip between two distances to the facial of the teeth, from station to station."""
        stations = _steps(first, last)
        inner = [self.facial_point(s, near_mm) for s in stations]
        outer = [self.facial_point(s, far_mm) for s in reversed(stations)]
        return _sound(Polygon([*inner, *outer]))

    def ridge_band(self, first: float, last: float, lingual_mm: float, facial_mm: float) -> Polygon:
        """The ridge from station to station, ``lingual_mm`` and ``facial_mm`` beyond the faces of its teeth."""
        stations = _steps(first, last)
        inner = [self.lingual_point(s, lingual_mm) for s in stations]
        outer = [self.facial_point(s, facial_mm) for s in stations]
        return _sound(Polygon([*inner, *reversed(outer)]))

    def floor_of_mouth(self) -> Polygon:
        """Everything inside the line along the lingual faces, closed straight across behind the arch."""
        return _sound(Polygon([self.lingual_point(s) for s in _steps(-_BEYOND, 16 + _BEYOND)]))

    @cached_property
    def _lingual(self) -> tuple[Curve, Curve]:
        return _smooth([self.geometry[tooth].lingual for tooth in self.order])

    @cached_property
    def _facial(self) -> tuple[Curve, Curve]:
        return _smooth([self.geometry[tooth].facial for tooth in self.order])

    def _at(self, line: str, station: float, inward: float, ease: float) -> Point:
        points = self._offset_line(line, round(inward, 3), round(min(max(ease, 0.0), _EASE_UP_TO_MM), 3))
        place = (station + _BEYOND) * _PER_STATION
        place = min(max(place, 0.0), len(points) - 1.0)
        low = min(int(place), len(points) - 2)
        share = place - low
        x, y = points[low] * (1 - share) + points[low + 1] * share
        return (float(x), float(y))

    def _offset_line(self, line: str, inward: float, ease: float) -> Curve:
        """The whole line at one distance; the further in, the more its bends are eased, as metal is."""
        key = (line, inward, ease)
        if key not in self._offsets:
            points, normals = self._lingual if line == "lingual" else self._facial
            half = int(ease * _EASE_PER_MM * _PER_STATION)
            if half:
                points = _averaged(points, half)
                normals = _inward(points)
            moved = points + normals * inward
            self._offsets[key] = moved
        return self._offsets[key]

    # -- turns round one tooth ---------------------------------------------------------------------------

    def round(self, tooth: int, first: float, last: float, off_mm: float = 0.0) -> list[Point]:
        """Points round the crown from one turn to another, ``off_mm`` outside its outline."""
        ring = np.array(self.geometry[tooth].outline)
        if off_mm:
            ring = ring + _outward(ring) * off_mm
        count = max(2, math.ceil(abs(last - first) * _QUARTER) + 1)
        size = 4 * _QUARTER
        points = []
        for turn in np.linspace(first, last, count):
            place = (turn * _QUARTER) % size
            low = int(place)
            share = place - low
            x, y = ring[low % size] * (1 - share) + ring[(low + 1) % size] * share
            points.append((float(x), float(y)))
        return points

    def inside(self, tooth: int, along: float, out: float) -> Point:
        """A point of the crown: ``along`` -1 (mesial) to 1 (distal), ``out`` -1 (lingual) to 1 (facial)."""
        place = self.geometry[tooth]
        (mx, my), (dx, dy) = place.mesial, place.distal
        half = math.dist(place.mesial, place.distal) / 2
        base = ((mx + dx) / 2, (my + dy) / 2)
        (tx, ty), (nx, ny) = place.tangent, place.normal
        facial = (place.facial[0] - base[0]) * nx + (place.facial[1] - base[1]) * ny
        lingual = place.faciolingual_mm - facial
        depth = out * (facial if out >= 0 else lingual)
        return (base[0] + along * half * tx + depth * nx, base[1] + along * half * ty + depth * ny)

    def neighbour_station(self, tooth: int, side: str, away: float = 0.5) -> float:
        """The station ``away`` teeth beyond the ``mesial`` or ``distal`` contact of a tooth."""
        contact, middle = self.station(tooth, side), self.station(tooth)
        return contact + math.copysign(away, contact - middle)


def is_back(tooth: int) -> bool:
    """Whether the tooth has a chewing surface."""
    return position(tooth) > 3


def _steps(first: float, last: float) -> list[float]:
    count = max(2, math.ceil(abs(last - first) * 8) + 1)
    return [float(s) for s in np.linspace(first, last, count)]


def _sound(shape: Polygon) -> Polygon:
    """The polygon without the loops that an offset makes where the line bends sharply."""
    mended = shape.buffer(0)
    if mended.geom_type == "MultiPolygon":
        mended = max(mended.geoms, key=lambda part: part.area)
    return mended


def _outward(ring: Curve) -> Curve:
    """Unit normals of a closed ring, away from its middle."""
    along = np.roll(ring, -1, axis=0) - np.roll(ring, 1, axis=0)
    normal = np.column_stack((along[:, 1], -along[:, 0]))
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    away = ring - ring.mean(axis=0)
    flip = np.sign((normal * away).sum(axis=1))
    return np.asarray(normal * np.where(flip == 0, 1.0, flip)[:, None], dtype=np.float64)


def _smooth(middles: list[Point]) -> tuple[Curve, Curve]:
    """A Catmull-Rom line through the middles of the sixteen teeth and its inward normals, from station
    -1.5 to 17.5; both ends run on straight."""
    row = np.array(middles)
    # The corners of the row (canine to premolar) are eased, as gum and metal are.
    eased = row.copy()
    eased[1:-1] = 0.2 * row[:-2] + 0.6 * row[1:-1] + 0.2 * row[2:]
    ends = [eased[0] + (eased[0] - eased[1]) * k for k in (3, 2, 1)]
    tails = [eased[-1] + (eased[-1] - eased[-2]) * k for k in (1, 2, 3)]
    knots = np.vstack((ends, eased, tails))
    # Knot k stands at station k - 2.5.
    stations = np.arange(-_BEYOND, 16 + _BEYOND + 1e-9, 1 / _PER_STATION)
    place = np.clip(stations + 2.5, 1, len(knots) - 2 - 1e-9)
    low = place.astype(int)
    t = (place - low)[:, None]
    a, b, c, d = knots[low - 1], knots[low], knots[low + 1], knots[low + 2]
    points = 0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
    return points, _inward(points)


def _inward(points: Curve) -> Curve:
    """Unit normals of a line from the patient's right to the left, toward the tongue."""
    along = np.gradient(points, axis=0)
    normals = np.column_stack((along[:, 1], -along[:, 0]))
    return np.asarray(normals / np.linalg.norm(normals, axis=1, keepdims=True), dtype=np.float64)


def _averaged(points: Curve, half: int) -> Curve:
    """The moving average of a line over ``half`` points to either side; its ends run on straight."""
    kernel = np.ones(2 * half + 1) / (2 * half + 1)
    columns = []
    for axis in (0, 1):
        column = points[:, axis]
        head = column[0] + (column[0] - column[1]) * np.arange(half, 0, -1)
        tail = column[-1] + (column[-1] - column[-2]) * np.arange(1, half + 1)
        columns.append(np.convolve(np.concatenate((head, column, tail)), kernel, mode="valid"))
    return np.column_stack(columns)


def ribbon(points: list[Point], start_mm: float, end_mm: float) -> Polygon:
    """A strip along a line, ``start_mm`` wide at its beginning and ``end_mm`` at its end, with round ends."""
    line = LineString(points)
    if line.length == 0 or start_mm == end_mm:
        return line.buffer(start_mm / 2, quad_segs=5)
    # The width falls in steps too small to be seen, each a strip of its own.
    count = max(2, math.ceil(abs(start_mm - end_mm) / _WIDTH_STEP))
    shapes = []
    for step in range(count):
        piece = substring(line, line.length * step / count, line.length * (step + 1) / count)
        width = start_mm + (end_mm - start_mm) * (step + 0.5) / count
        shapes.append(piece.buffer(width / 2, quad_segs=5))
    return _sound(unary_union(shapes).simplify(0.015))
