"""Crowns seen from the occlusal side: outlines by kind of tooth, with cusps, fissures and cingula.

Place, width and depth of each crown are those of the mechanics' arch; the form is that of ``forms`` in
``shared/drawing.yaml``. A *turn* runs round a crown in quarters: 0 mesial, 1 facial, 2 distal, 3 lingual.
"""

import math
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

import numpy as np
from shapely import prepare
from shapely.geometry import Polygon

from recommender.documents.drawing.figures import block
from recommender.documents.drawing.shapes import Curve, curve, largest
from recommender.domain.dentition import position
from recommender.mechanics.arch import Point, ToothPlace

QUARTER = 20


@dataclass(frozen=True, slots=True, eq=False)
class Crown:
    """``ring`` (closed, first point not repeated, from the mesial contact round by the facial), its outward
    ``normals``, the ``outline`` as a polygon, and the ``lines`` that are drawn on it."""

    place: ToothPlace
    ring: Curve
    normals: Curve
    outline: Polygon
    lines: tuple[Curve, ...]

    def round(self, first: float, last: float, off_mm: float | Curve = 0.0) -> Curve:
        """Points round the crown from one turn to another, ``off_mm`` outside its outline (a number, or one for
        each of the points that :func:`steps` gives)."""
        count = steps(first, last)
        place = np.linspace(first, last, count) * QUARTER % len(self.ring)
        low = place.astype(int)
        share = (place - low)[:, None]
        after = (low + 1) % len(self.ring)
        low = low % len(self.ring)
        points = self.ring[low] * (1 - share) + self.ring[after] * share
        out = self.normals[low] * (1 - share) + self.normals[after] * share
        out /= np.hypot(out[:, 0], out[:, 1])[:, None]
        return np.asarray(points + out * np.reshape(np.asarray(off_mm, dtype=np.float64), (-1, 1)))

    def at(self, turn: float, off_mm: float = 0.0) -> Point:
        """One point of :meth:`round`."""
        x, y = self.round(turn, turn, off_mm)[0]
        return (float(x), float(y))

    def outward(self, turn: float) -> Curve:
        """The unit normal at a turn."""
        a, b = self.round(turn, turn, 0.0)[0], self.round(turn, turn, 1.0)[0]
        return np.asarray(b - a)

    def inside(self, along: float, out: float) -> Point:
        """A point of the crown in shares: ``along`` -1 (mesial) to 1 (distal), ``out`` -1 (lingual) to 1 (facial)."""
        x, y = self.spots(np.array([[along, out]]))[0]
        return (float(x), float(y))

    def spots(self, shares: Curve) -> Curve:
        """Many points of the crown, as :meth:`inside`."""
        return _placed(self.place, shares[:, 0], shares[:, 1])


def steps(first: float, last: float) -> int:
    """How many points a course round a crown has."""
    return max(2, math.ceil(abs(last - first) * QUARTER) + 1)


@lru_cache(maxsize=4096)
def crown(place: ToothPlace) -> Crown:
    """The crown of one tooth in its place."""
    along, out, lines = _form(_kind(place.tooth))
    ring = _placed(place, along, out)
    shape = Polygon(ring)
    if not shape.is_valid:
        shape = shape.buffer(0)
    shape = largest(shape.simplify(0.012))
    assert isinstance(shape, Polygon)
    prepare(shape)
    drawn = tuple(_placed(place, line[:, 0], line[:, 1]) for line in lines)
    return Crown(place, ring, _outward(ring), shape, drawn)


def _kind(tooth: int) -> str:
    arch = "maxilla" if tooth < 30 else "mandible"
    kind: str = block("teeth")[arch][position(tooth) - 1]
    return kind


def _placed(place: ToothPlace, along: Curve, out: Curve) -> Curve:
    """Shares of a crown as points of the arch (mm)."""
    (mx, my), (dx, dy) = place.mesial, place.distal
    half = math.dist(place.mesial, place.distal) / 2
    base = np.array([(mx + dx) / 2, (my + dy) / 2])
    tangent, normal = np.array(place.tangent), np.array(place.normal)
    facial = float((np.array(place.facial) - base) @ normal)
    depth = np.where(out >= 0, out * facial, out * (place.faciolingual_mm - facial))
    return np.asarray(base + np.outer(along * half, tangent) + np.outer(depth, normal))


@cache
def _form(kind: str) -> tuple[Curve, Curve, tuple[Curve, ...]]:
    """Ring and lines of a form, in shares."""
    form: dict[str, Any] = block("forms")[kind]
    angle = np.linspace(0.0, np.pi, 2 * QUARTER, endpoint=False)
    alongs, outs = [], []
    for surface, sign in (("facial", 1.0), ("lingual", -1.0)):
        power = 2 / float(form[surface])
        along = -np.sign(np.cos(angle)) * np.abs(np.cos(angle)) ** power * sign
        out = np.abs(np.sin(angle)) ** power
        for where, at, depth, wide in form.get("grooves", ()):
            if where == surface:
                out = out * (1 - depth * np.exp(-(((along - at) / wide) ** 2)))
        alongs.append(along)
        outs.append(sign * out)
    along, out = np.concatenate(alongs), np.concatenate(outs)
    ring_along = _leaning(form, along, out)
    lines = []
    for points in form["lines"]:
        line = curve(np.array(points, dtype=np.float64), 3)
        lines.append(np.column_stack((_leaning(form, line[:, 0], line[:, 1]), line[:, 1])))
    return ring_along, out, tuple(lines)


def _leaning(form: dict[str, Any], along: Curve, out: Curve) -> Curve:
    """The lingual half narrowed and leant to the distal; the contacts stay where they are."""
    lingual = np.clip(-out, 0.0, None)
    return np.asarray(
        along * (1 - float(form.get("taper", 0.0)) * lingual) + float(form.get("skew", 0.0)) * lingual
    )


def _outward(ring: Curve) -> Curve:
    """Unit normals of a closed ring, away from its middle."""
    along = np.roll(ring, -1, axis=0) - np.roll(ring, 1, axis=0)
    normal = np.column_stack((along[:, 1], -along[:, 0]))
    normal /= np.hypot(normal[:, 0], normal[:, 1])[:, None]
    if float((normal * (ring - ring.mean(axis=0))).sum()) < 0:
        normal = -normal
    return np.asarray(normal)
