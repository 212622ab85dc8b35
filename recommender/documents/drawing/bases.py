"""Bases with their retention, and what holds each replacement tooth."""

from itertools import pairwise

import numpy as np
from shapely import buffer, intersection
from shapely.geometry import LineString, MultiPoint, Polygon
from shapely.geometry import Point as Spot
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from recommender.documents.drawing.figures import size
from recommender.documents.drawing.layout import Layout
from recommender.documents.drawing.shapes import Curve, DrawnPart, curve, opened, polygons, strokes

_HOLE_MM = 0.5
_HOLDS = {
    "resin_tooth_metal_base": "post", "tube_tooth": "tube", "metal_backed_facing": "facing",
    "reinforced_resin": "reinforced", "resin_base_metal_occlusal": "occlusal", "metal_tooth": "metal",
}  # fmt: skip


def bases(layout: Layout) -> list[DrawnPart]:
    """Every base of the design: the ridge that it covers, and its retention drawn on it."""
    frame = layout.frame
    found = []
    for base in layout.design.bases or ():
        if not base.teeth:
            continue
        low, high = layout.base_run(base.teeth)
        ridge = frame.ridge_band(low + 0.03, high - 0.03, size("base_lingual"), -size("base_facial"))
        # A whole tooth longer than the gap between crowns needs no more than the gap itself.
        area = opened(ridge.difference(frame.near(ridge).buffer(size("base_gap"), quad_segs=6)), 0.8)
        decision = f"replacement:{base.teeth[0]}"
        lines = _retention(layout, low, high, area, base.retention or "")
        found.append(DrawnPart("base", tuple(base.teeth), base.retention or "", area, (), lines, decision))
        if base.tissue_stop:
            found += _stop(layout, tuple(base.teeth), low, high, area, decision)
    return found


def _retention(layout: Layout, low: float, high: float, area: BaseGeometry, kind: str) -> tuple[Curve, ...]:
    """The holes of a lattice, or the row of loops or nail heads."""
    if kind == "lattice":
        holes = intersection(np.array(_holes(layout, low, high)), area.buffer(-0.45))
        rings = buffer(buffer(holes, -_HOLE_MM, quad_segs=4), _HOLE_MM, quad_segs=4)
        return tuple(np.array(ring.exterior.coords) for hole in rings for ring in polygons(hole, 1.2))
    if kind in ("loops", "nail_heads"):
        radius = 0.75 if kind == "loops" else 0.45
        stations = np.arange(low + 0.2, high - 0.1, 0.2)
        rows = []
        for index, share in enumerate((0.24, 0.5, 0.76)):
            if kind == "loops" and index == 1:
                continue
            at = _across(layout, stations + (0.1 if index == 1 else 0.0), share)
            inner = area.buffer(-radius - 0.2)
            keep = MultiPoint(at).intersection(inner)
            rows += [
                np.array(Spot(p.x, p.y).buffer(radius, quad_segs=5).exterior.coords)
                for p in getattr(keep, "geoms", [keep])
                if not p.is_empty
            ]
        return tuple(rows)
    return ()


def _across(layout: Layout, stations: Curve, share: float) -> Curve:
    """Points over the ridge: ``share`` 0 at the lingual border of a base, 1 at its facial border."""
    lingual = layout.frame.lingual(stations, size("base_lingual"))
    facial = layout.frame.facial(stations, -size("base_facial"))
    return lingual + (facial - lingual) * share


def _holes(layout: Layout, low: float, high: float) -> list[Polygon]:
    """The openings of an open lattice: two rows, struts across between and under the teeth."""
    found = []
    count = max(2, round((high - low) * 2))
    edges = np.linspace(low, high, count + 1)
    strut = 0.07
    for a, b in pairwise(edges):
        s = np.linspace(a + strut, b - strut, 4)
        for first, last in ((0.12, 0.455), (0.545, 0.88)):
            ring = np.vstack((_across(layout, s, first), _across(layout, s[::-1], last)))
            shape = Polygon(ring)
            found.append(shape if shape.is_valid else shape.buffer(0))
    return found


def _stop(
    layout: Layout, teeth: tuple[int, ...], low: float, high: float, area: BaseGeometry, decision: str
) -> list[DrawnPart]:
    """The tissue stop: a square pad at the free end of a base, at its rear end where both are bounded."""
    free = low if (low + high) / 2 < 8.0 else high
    station = free + (0.28 if free == low else -0.28)
    (x, y), half = _across(layout, np.array([station]), 0.5)[0], size("stop_size") / 2
    pad = Polygon([(x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)])
    return [DrawnPart("tissue_stop", teeth, "", pad.intersection(area), (), (), decision)]


def replacements(layout: Layout) -> list[DrawnPart]:
    """What holds each replacement tooth, drawn on its place: post, tube, facing, metal."""
    found = []
    gone = set(layout.case.missing)
    for tooth, kind in (layout.design.replacements or {}).items():
        how = _HOLDS.get(kind)
        if how is None or tooth not in gone:
            continue
        area, lines = _held(layout, tooth, how)
        found.append(DrawnPart(f"replacement_{how}", (tooth,), kind, area, (), lines, f"replacement:{tooth}"))
    return found


def _held(layout: Layout, tooth: int, how: str) -> tuple[BaseGeometry, tuple[Curve, ...]]:
    frame = layout.frame
    crown = frame.crown(tooth)
    middle = Spot(crown.inside(0.0, 0.0))
    wide = min(frame.place(tooth).mesiodistal_mm, frame.place(tooth).faciolingual_mm)
    if how == "post":
        radius = min(0.95, wide * 0.2)
        collar = middle.buffer(radius * 1.75, quad_segs=8)
        return middle.buffer(radius, quad_segs=8), (np.array(collar.exterior.coords),)
    if how == "tube":
        outer, inner = middle.buffer(wide * 0.33, quad_segs=10), middle.buffer(wide * 0.19, quad_segs=8)
        return outer.difference(inner), ()
    if how == "facing":
        # Metal backing on the lingual, the facing carried before it, beads of retention along the joint.
        edge = np.linspace(-1.05, 1.05, 13)
        joint = crown.spots(np.column_stack((edge, 0.12 + 0.18 * (1 - edge**2))))
        back = crown.spots(np.array([(1.4, -1.4), (-1.4, -1.4)]))
        area = crown.outline.intersection(Polygon(np.vstack((joint, back))).buffer(0))
        beads = crown.spots(np.array([(-0.55, 0.36), (-0.18, 0.43), (0.18, 0.43), (0.55, 0.36)]))
        return area, tuple(np.array(Spot(p).buffer(0.3, quad_segs=4).exterior.coords) for p in beads)
    if how == "occlusal":
        edge = crown.spots(_OVAL * (0.78, 0.66))
        return Polygon(edge).buffer(0), ()
    if how == "metal":
        return crown.outline.buffer(-0.25), ()
    zigzag = curve(
        crown.spots(np.array([(-0.6, -0.3), (-0.3, 0.35), (0.0, -0.3), (0.3, 0.35), (0.6, -0.3)])), 4
    )
    return LineString(zigzag).buffer(0.22, quad_segs=4), ()


_ANGLE = np.linspace(0.0, 2 * np.pi, 33)[:-1]
_OVAL = np.column_stack(
    (
        np.sign(np.cos(_ANGLE)) * np.abs(np.cos(_ANGLE)) ** 0.75,
        np.sign(np.sin(_ANGLE)) * np.abs(np.sin(_ANGLE)) ** 0.75,
    )
)


def finish_lines(base_parts: list[DrawnPart], metal: BaseGeometry, resin: BaseGeometry) -> list[DrawnPart]:
    """Where resin and metal meet: the border of each base that metal lies against."""
    found = []
    for part in base_parts:
        if part.kind != "base" or part.area.is_empty:
            continue
        edge = unary_union([ring.exterior for ring in getattr(part.area, "geoms", [part.area])])
        lines = strokes(edge.intersection(metal.buffer(0.12)), 1.0)
        if lines:
            found.append(DrawnPart("finish_line", part.teeth, "", lines=tuple(lines), decision="connector"))
    if not resin.is_empty:
        edge = unary_union([ring.exterior for ring in getattr(metal, "geoms", [metal])])
        lines = strokes(edge.intersection(resin.buffer(0.4)), 2.0)
        found.append(DrawnPart("finish_line", (), "", lines=tuple(lines), decision="connector"))
    return found
