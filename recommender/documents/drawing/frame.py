"""The arch as a drawing needs it: crowns as polygons, and smooth lines along the teeth to measure from.

Millimetres in the coordinates of ``mechanics.arch`` (x to the patient's left, y forward). A *station* runs along
the arch from the patient's right third molar (0) to the left one (16): tooth number ``i`` of the row occupies
stations ``i`` to ``i + 1``.
"""

import math
from collections.abc import Iterable, Sequence
from functools import cached_property, lru_cache

import numpy as np
from shapely import prepare
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from recommender.documents.drawing.crowns import Crown, crown
from recommender.documents.drawing.shapes import Curve, closed, largest
from recommender.domain.dentition import ARCH_ORDER, position, side_of
from recommender.mechanics.arch import ArchGeometry, Point, ToothPlace

_PER_STATION = 16
_BEYOND = 1.5
_EASE_UP_TO_MM = 8.0
# Stations to either side over which a line is averaged, for each mm that it lies further in: metal is smoother
# than teeth.
_EASE_PER_MM = 0.25
_ROW_EASE_MM = 3.0
_SMOOTH_MM, _SMOOTH_WITHIN_MM = 6.0, 14.0
_FACIAL_SMOOTH_MM = 25.0
# The tightest bend of a bar's lower border in front, and how near to the middle of the mouth an upper border may come.
_BAR_BEND_MM, _BAR_ROOM_MM = 3.5, 12.0


class Lines:
    """The smooth lines of one arch, whichever of its teeth stand."""

    def __init__(self, places: tuple[ToothPlace, ...]) -> None:
        self.crowns = {place.tooth: crown(place) for place in places}
        self.lingual = _smooth([place.lingual for place in places])
        self.facial = _smooth([place.facial for place in places])
        self._offsets: dict[tuple[str, float, float], Curve] = {}
        self._around: dict[float, BaseGeometry] = {}
        self._below: dict[tuple[float, float], tuple[BaseGeometry, BaseGeometry]] = {}

    def offset(self, line: str, inward: float, ease: float) -> Curve:
        """A whole line at one distance; the further in, the more its bends are eased."""
        inward, ease = round(inward, 3), round(min(max(ease, 0.0), _EASE_UP_TO_MM), 3)
        key = (line, inward, ease)
        if key not in self._offsets:
            points, out = self.lingual if line == "lingual" else self.facial
            half = int(ease * _EASE_PER_MM * _PER_STATION)
            if half:
                points = _averaged(points, half)
                out = _inward(points)
            self._offsets[key] = points + out * inward
        return self._offsets[key]

    @cached_property
    def row(self) -> BaseGeometry:
        """All sixteen places as one band, with the notches between the teeth filled."""
        whole = unary_union([one.outline.buffer(0.05) for one in self.crowns.values()])
        return largest(closed(whole, _ROW_EASE_MM)).simplify(0.02)

    def around(self, distance_mm: float) -> BaseGeometry:
        """Everything within a distance of the row of teeth, its hollows filled as metal runs past them."""
        key = round(distance_mm, 3)
        if key not in self._around:
            # Far from the teeth the line is smooth by itself, and there is no room in the mouth for more.
            smooth = float(np.clip(_SMOOTH_WITHIN_MM - key, 1.0, _SMOOTH_MM))
            self._around[key] = closed(self.row.buffer(key, quad_segs=8), smooth).simplify(0.02)
        return self._around[key]

    def below(self, near_mm: float, tall_mm: float) -> tuple[BaseGeometry, BaseGeometry]:
        """What lies above the upper and above the lower border of a bar that begins ``near_mm`` under the margins: two
        smooth lines, ``tall_mm`` apart all along."""
        key = (round(near_mm, 3), round(tall_mm, 3))
        if key not in self._below:
            bend = float(np.clip(_BAR_ROOM_MM - near_mm, 1.0, tall_mm + _BAR_BEND_MM))
            upper = closed(self.row.buffer(near_mm, quad_segs=8), bend).simplify(0.02)
            self._below[key] = (upper, upper.buffer(tall_mm, quad_segs=8).simplify(0.02))
        return self._below[key]

    def outside(self, distance_mm: float) -> BaseGeometry:
        """Everything within a distance of the facial of the row, as smooth as a bar, and all that lies inside."""
        whole = unary_union([self.row, self.mouth]).buffer(distance_mm + _FACIAL_SMOOTH_MM, quad_segs=24)
        return whole.buffer(-_FACIAL_SMOOTH_MM, quad_segs=24).simplify(0.02)

    @cached_property
    def mouth(self) -> Polygon:
        """Everything inside the lingual faces, carried straight back behind the last teeth."""
        line = self.offset("lingual", 0.0, 0.0)[::2]
        far = -90.0
        ring = np.vstack((line, [[line[-1][0], far], [line[0][0], far]]))
        shape = largest(Polygon(ring).buffer(0))
        assert isinstance(shape, Polygon)
        prepare(shape)
        return shape


@lru_cache(maxsize=256)
def _lines(places: tuple[ToothPlace, ...]) -> Lines:
    return Lines(places)


class Frame:
    """One arch with its standing teeth; every shape of a drawing is built on it."""

    def __init__(self, geometry: ArchGeometry, standing: Iterable[int]) -> None:
        self.geometry = geometry
        self.arch = geometry.arch
        self.order = ARCH_ORDER[geometry.arch]
        self.standing = frozenset(standing)
        self._grown: dict[float, BaseGeometry] = {}
        self.lines = _lines(tuple(geometry.places[tooth] for tooth in self.order))

    def place(self, tooth: int) -> ToothPlace:
        return self.geometry[tooth]

    def crown(self, tooth: int) -> Crown:
        return self.lines.crowns[tooth]

    def outline(self, tooth: int) -> Polygon:
        """The crown seen from the occlusal side."""
        return self.lines.crowns[tooth].outline

    @cached_property
    def standing_crowns(self) -> BaseGeometry:
        """All standing crowns together."""
        return unary_union([self.outline(tooth) for tooth in sorted(self.standing)])

    def grown(self, distance_mm: float) -> BaseGeometry:
        """Everything within a distance of the standing crowns."""
        if distance_mm not in self._grown:
            crowns = [self.outline(tooth).buffer(distance_mm, quad_segs=4) for tooth in sorted(self.standing)]
            self._grown[distance_mm] = unary_union(crowns)
        return self._grown[distance_mm]

    def others(self, *teeth: int) -> BaseGeometry:
        """All standing crowns but these."""
        return unary_union([self.outline(t) for t in sorted(self.standing) if t not in teeth])

    def near(self, shape: BaseGeometry, *but: int) -> BaseGeometry:
        """The standing crowns that a shape meets, without the teeth named."""
        return unary_union(
            [
                self.outline(t)
                for t in sorted(self.standing)
                if t not in but and self.outline(t).intersects(shape)
            ]
        )

    def around(self, teeth: Iterable[int], distance_mm: float) -> BaseGeometry:
        """Everything within a distance of the crowns of some teeth, smooth between neighbours."""
        crowns = unary_union([self.outline(tooth) for tooth in teeth])
        return closed(crowns, 2.0).buffer(distance_mm, quad_segs=8) if not crowns.is_empty else crowns

    # -- stations along the arch -------------------------------------------------------------------------

    def station(self, tooth: int, site: str = "middle") -> float:
        """Where along the arch a tooth stands: its middle, or its ``mesial`` or ``distal`` contact."""
        index = float(self.order.index(tooth))
        if site not in ("mesial", "distal"):
            return index + 0.5
        forward = site == "mesial" if side_of(tooth) == "right" else site == "distal"
        return index + 1.0 if forward else index

    def lingual(
        self, stations: Sequence[float] | Curve, inward_mm: float = 0.0, ease: float | None = None
    ) -> Curve:
        """Points ``inward_mm`` to the lingual of the line along the lingual faces, at stations.

        The line's bends are eased as befits metal ``ease`` (or ``inward_mm``) mm away from the teeth.
        """
        return self._at("lingual", stations, inward_mm, inward_mm if ease is None else ease)

    def facial(self, stations: Sequence[float] | Curve, outward_mm: float = 0.0) -> Curve:
        """Points ``outward_mm`` to the facial of the line along the facial faces, at stations."""
        return self._at("facial", stations, -outward_mm, 0.0)

    def lingual_point(self, station: float, inward_mm: float = 0.0, ease: float | None = None) -> Point:
        """One point of :meth:`lingual`."""
        x, y = self.lingual([station], inward_mm, ease)[0]
        return (float(x), float(y))

    def facial_point(self, station: float, outward_mm: float = 0.0) -> Point:
        """One point of :meth:`facial`."""
        x, y = self.facial([station], outward_mm)[0]
        return (float(x), float(y))

    def lingual_band(self, first: float, last: float, near_mm: float, far_mm: float) -> BaseGeometry:
        """The strip between two distances to the lingual of the teeth, from station to station."""
        s = along(first, last)
        ease = max(near_mm, far_mm)
        return _band(self.lingual(s, near_mm, ease), self.lingual(s, far_mm, ease))

    def ridge_band(self, first: float, last: float, lingual_mm: float, facial_mm: float) -> BaseGeometry:
        """The ridge from station to station, ``lingual_mm`` and ``facial_mm`` beyond the faces of its teeth."""
        s = along(first, last)
        return _band(self.lingual(s, lingual_mm), self.facial(s, facial_mm))

    def between(self, first: float, last: float, inward_mm: float, outward_mm: float) -> BaseGeometry:
        """A sector of the arch from station to station, to cut bands to length with."""
        s = along(first, last)
        return _band(self.lingual(s, inward_mm, 8.0), self.facial(s, outward_mm))

    def _at(self, line: str, stations: Sequence[float] | Curve, inward: float, ease: float) -> Curve:
        points = self.lines.offset(line, inward, ease)
        place = np.clip(
            (np.asarray(stations, dtype=np.float64) + _BEYOND) * _PER_STATION, 0.0, len(points) - 1.0
        )
        low = np.minimum(place.astype(int), len(points) - 2)
        share = (place - low)[:, None]
        return np.asarray(points[low] * (1 - share) + points[low + 1] * share)

    def inside(self, tooth: int, along: float, out: float) -> Point:
        """A point of the crown: ``along`` -1 (mesial) to 1 (distal), ``out`` -1 (lingual) to 1 (facial)."""
        return self.crown(tooth).inside(along, out)

    def neighbour_station(self, tooth: int, side: str, away: float = 0.5) -> float:
        """The station ``away`` teeth beyond the ``mesial`` or ``distal`` contact of a tooth."""
        contact, middle = self.station(tooth, side), self.station(tooth)
        return contact + math.copysign(away, contact - middle)


def is_back(tooth: int) -> bool:
    """Whether the tooth has a chewing surface."""
    return position(tooth) > 3


def along(first: float, last: float, per_tooth: int = 8) -> Curve:
    """Stations from one to another, both ends included."""
    return np.linspace(first, last, max(2, math.ceil(abs(last - first) * per_tooth) + 1))


def _band(inner: Curve, outer: Curve) -> BaseGeometry:
    """The strip between two lines, without the loops that an offset makes where the line bends sharply."""
    shape = Polygon(np.vstack((inner, outer[::-1])))
    return shape if shape.is_valid else largest(shape.buffer(0))


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
    run = np.gradient(points, axis=0)
    found = np.column_stack((run[:, 1], -run[:, 0]))
    return np.asarray(found / np.hypot(found[:, 0], found[:, 1])[:, None], dtype=np.float64)


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
