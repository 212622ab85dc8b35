"""Measurements on drawings, written from the trade's rules and not from the drawing code."""

import math
from collections.abc import Iterable

from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from recommender.documents.drawing import Drawing
from recommender.documents.drawing.shapes import DrawnPart
from recommender.domain.case import Case
from recommender.facts.mechanical import case_geometry
from recommender.mechanics.arch import ArchGeometry


def crowns(case: Case) -> dict[int, Polygon]:
    """The crown of every place of the arch, straight from the arch geometry."""
    return {tooth: Polygon(place.outline) for tooth, place in case_geometry(case).places.items()}


def drawn_crowns(drawing: Drawing) -> dict[int, Polygon]:
    """The crown of every place as it was drawn."""
    return {part.teeth[0]: part.shape for part in of_kind(drawing, "tooth", "missing_tooth", "absent_tooth")}  # type: ignore[misc]


def standing(case: Case) -> set[int]:
    gone = set(case.missing) | set(case.absent or ()) | set(case.planned_extractions or ())
    return set(case_geometry(case).places) - gone


def of_kind(drawing: Drawing, *kinds: str) -> list[DrawnPart]:
    return [part for part in drawing.parts if part.kind in kinds]


def together(parts: Iterable[DrawnPart]) -> BaseGeometry:
    return unary_union([part.shape for part in parts])


def along(geometry: ArchGeometry, tooth: int, point: Point) -> float:
    """Where a point lies between the contacts: negative toward the mesial, positive toward the distal (mm)."""
    place = geometry[tooth]
    middle = ((place.mesial[0] + place.distal[0]) / 2, (place.mesial[1] + place.distal[1]) / 2)
    return (point.x - middle[0]) * place.tangent[0] + (point.y - middle[1]) * place.tangent[1]


def outward(geometry: ArchGeometry, tooth: int, point: Point) -> float:
    """How far to the facial of the line between the contacts a point lies (negative: lingual)."""
    place = geometry[tooth]
    return (point.x - place.mesial[0]) * place.normal[0] + (point.y - place.mesial[1]) * place.normal[1]


def reach(shape: BaseGeometry, target: BaseGeometry) -> float:
    """The greatest distance of any corner of a shape from another shape."""
    corners = [Point(xy) for polygon in getattr(shape, "geoms", [shape]) for xy in polygon.exterior.coords]
    return max((corner.distance(target) for corner in corners), default=math.inf)
