"""How each kind of part looks in black and white: line styles, hatching, solid and hollow shapes."""

from collections.abc import Callable, Sequence

from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from recommender.documents.content import content
from recommender.documents.drawn import DrawnPart, Ring
from recommender.documents.svg import INK, PAPER, Pen, area, dots, hatch, line, plate, text

_OUTLINE = Pen(0.35, fill=PAPER)
_FINE = Pen(0.14)
_MARK = 2.4
_POLYMER = ("polymer_arm",)
_WIRE = ("combination",)


def symbol_of(part: DrawnPart) -> str:
    """The legend entry to which a part belongs."""
    if part.kind == "retentive_arm":
        return (
            "polymer_arm"
            if part.detail in _POLYMER
            else "wire_arm"
            if part.detail in _WIRE
            else "retentive_arm"
        )
    if part.kind == "base":
        return f"base_{part.detail}" if part.detail else "base"
    if part.kind == "connector" and part.detail == "resin":
        return "connector_resin"
    return part.kind


def paint(symbol: str, areas: Sequence[Sequence[Ring]], path: Sequence[tuple[float, float]]) -> str:
    """One symbol at its place on the paper (mm): ``areas`` for shapes, ``path`` for lines."""
    shape: BaseGeometry = (
        MultiPolygon([(piece[0], list(piece[1:])) for piece in areas]) if areas else Polygon()
    )
    painter = _PAINTERS.get(symbol)
    if painter is not None:
        return painter(areas, shape)
    if symbol == "indirect_retainer":
        (ax, ay), (bx, by) = path[0], path[-1]
        mark = content("labels")["indirect_mark"]
        x, y = (ax + bx) / 2, (ay + by) / 2 + _MARK * 0.34
        return plate(x, y, mark, _MARK * 0.8) + text(x, y, mark, _MARK, anchor="middle", bold=True)
    if symbol == "fulcrum":
        return line(path, Pen(0.4, "3 1 0.6 1"))
    raise KeyError(symbol)


def _plain(pen: Pen) -> Callable[[Sequence[Sequence[Ring]], BaseGeometry], str]:
    return lambda areas, _shape: area(areas, pen)


def _solid(areas: Sequence[Sequence[Ring]], _shape: BaseGeometry) -> str:
    # A rim of bare paper keeps solid parts apart where they meet.
    return area(areas, Pen(0.5, fill=PAPER, stroke=PAPER)) + area(areas, Pen(0.1, fill=INK))


def _hatched(
    angle: float, spacing: float, edge: Pen = _OUTLINE, stroke: Pen = _FINE, cross: bool = False
) -> Callable[[Sequence[Sequence[Ring]], BaseGeometry], str]:
    def draw(areas: Sequence[Sequence[Ring]], shape: BaseGeometry) -> str:
        body = area(areas, Pen(0, fill=PAPER)) + hatch(shape, angle, spacing, stroke)
        if cross:
            body += hatch(shape, angle + 90, spacing, stroke)
        return body + area(areas, Pen(edge.width, edge.dash))

    return draw


def _spotted(
    spacing: float, radius: float, pen: Pen, edge: Pen
) -> Callable[[Sequence[Sequence[Ring]], BaseGeometry], str]:
    return lambda areas, shape: (
        area(areas, Pen(0, fill=PAPER))
        + dots(shape, spacing, radius, pen)
        + area(areas, Pen(edge.width, edge.dash))
    )


_PAINTERS: dict[str, Callable[[Sequence[Sequence[Ring]], BaseGeometry], str]] = {
    "tooth": _plain(Pen(0.3, fill=PAPER)),
    "missing_tooth": _plain(Pen(0.3, "1.1 0.8")),
    "absent_tooth": _plain(Pen(0.3, "0.1 0.9")),
    "connector": _hatched(45, 1.5),
    "connector_resin": _spotted(1.7, 0.16, Pen(0, fill=INK), _OUTLINE),
    "minor_connector": _hatched(45, 0.75),
    "base": _plain(Pen(0.4, fill=PAPER)),
    "base_lattice": _hatched(0, 1.7, Pen(0.4), Pen(0.22), cross=True),
    "base_mesh": _hatched(45, 1.0, Pen(0.4), Pen(0.14), cross=True),
    "base_loops": _spotted(1.9, 0.7, Pen(0.22), Pen(0.4)),
    "base_nail_heads": _spotted(1.9, 0.4, Pen(0, fill=INK), Pen(0.4)),
    "base_metal": _hatched(0, 0.55, Pen(0.4), Pen(0.14)),
    "proximal_plate": _hatched(90, 0.45, Pen(0.35), Pen(0.18)),
    "rest": _solid,
    "retentive_arm": _solid,
    "wire_arm": _solid,
    "bar": _solid,
    "polymer_arm": _spotted(0.5, 0.12, Pen(0, fill=INK), Pen(0.35)),
    "bracing_arm": _plain(_OUTLINE),
    "tip": _plain(Pen(0.4, fill=PAPER)),
    "undercut": _plain(Pen(0.2, fill=PAPER)),
    "hinge": _plain(Pen(0.45, fill=PAPER)),
    "attachment": _hatched(45, 0.5),
    "double_crown": _hatched(0, 0.35, Pen(0.3), Pen(0.12)),
    "stud": _hatched(45, 0.6),
}
