"""The parts of a drawing as plain values: what a test measures is what is printed."""

from collections.abc import Iterable
from dataclasses import dataclass

from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from recommender.mechanics.arch import Point

Ring = tuple[Point, ...]
# A hundredth of a millimetre is finer than any printer; it keeps the picture small.
_TOLERANCE_MM = 0.01


@dataclass(frozen=True, slots=True)
class DrawnPart:
    """One part in arch coordinates (mm).

    ``kind`` is one of ``tooth missing_tooth absent_tooth rest retentive_arm bracing_arm tip bar
    proximal_plate minor_connector connector base undercut fulcrum hinge attachment double_crown stud``; ``detail``
    says which (a rest site, an assembly, a connector). ``areas`` are its pieces, each an outer ring followed by
    its holes; ``path`` is the middle line of an arm or bar from its origin to its tip, or the line itself of a
    part without width.
    """

    kind: str
    teeth: tuple[int, ...]
    detail: str = ""
    areas: tuple[tuple[Ring, ...], ...] = ()
    path: Ring = ()

    @property
    def shape(self) -> BaseGeometry:
        """The part as one shape: its area, or its line where it has no width."""
        if self.areas:
            return MultiPolygon([(piece[0], list(piece[1:])) for piece in self.areas])
        return LineString(self.path)


def pieces(shape: BaseGeometry, least_mm2: float = 0.05) -> tuple[tuple[Ring, ...], ...]:
    """The polygons of a shape as rings; slivers under ``least_mm2`` are dropped."""
    found: list[tuple[Ring, ...]] = []
    for polygon in polygons(shape.simplify(_TOLERANCE_MM)):
        if polygon.area >= least_mm2:
            rings = [
                polygon.exterior,
                *(ring for ring in polygon.interiors if Polygon(ring).area > least_mm2),
            ]
            found.append(tuple(_open(ring.coords) for ring in rings))
    return tuple(found)


def polygons(shape: BaseGeometry) -> list[Polygon]:
    """The polygons in a shape of any kind."""
    if isinstance(shape, Polygon):
        return [] if shape.is_empty else [shape]
    return [polygon for part in getattr(shape, "geoms", ()) for polygon in polygons(part)]


def largest(shape: BaseGeometry) -> BaseGeometry:
    """The biggest polygon of a shape, or an empty one."""
    found = polygons(shape)
    return max(found, key=lambda polygon: polygon.area) if found else Polygon()


def _open(coords: Iterable[tuple[float, ...]]) -> Ring:
    ring = [(round(float(p[0]), 3), round(float(p[1]), 3)) for p in coords]
    return tuple(ring[:-1] if len(ring) > 1 and ring[0] == ring[-1] else ring)
