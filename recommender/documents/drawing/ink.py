"""How each kind of part looks in ink: line styles, hatching, solid and hollow shapes; no grey and no colour, so that
it is read in print, after a fax, and on a light or dark screen alike.

What is rigid is hollow, what springs into an undercut is solid, and so are the rests; metal sheet is hatched.
"""

from collections.abc import Callable, Sequence

from shapely.geometry.base import BaseGeometry

from recommender.documents.drawing.shapes import EMPTY, Curve, DrawnPart
from recommender.documents.drawing.svg import INK, PAPER, Pen, area, dots, hatch, lines

_FINE = Pen(0.15)
_EDGE = Pen(0.3, fill=PAPER)
_METAL = Pen(0.42, fill=PAPER)
_RIM = Pen(0.55, fill=PAPER, stroke=PAPER)
_POLYMER = ("polymer_arm",)
_WIRE = ("combination",)
_LANDMARKS = {
    "ruga": Pen(0.13), "papilla": Pen(0.13), "raphe": Pen(0.13, (2.2, 0.8)), "vibrating_line": Pen(0.16, (1.6, 0.9)),
    "torus": Pen(0.2, (0.15, 0.75)),
}  # fmt: skip
Lines = Sequence[Curve]
Painter = Callable[[BaseGeometry, Lines], str]


def symbol_of(part: DrawnPart) -> str:
    """The legend entry to which a part belongs."""
    if part.kind == "retentive_arm":
        if part.detail in _POLYMER:
            return "polymer_arm"
        return "wire_arm" if part.detail in _WIRE else "retentive_arm"
    if part.kind == "base":
        return f"base_{part.detail}" if part.detail else "base"
    if part.kind == "connector" and part.detail == "resin":
        return "connector_resin"
    return part.kind


def landmark(name: str, paths: Lines) -> str:
    """A landmark of the cast."""
    return lines(paths, _LANDMARKS[name], close=name in ("papilla", "torus"))


def paint(symbol: str, shape: BaseGeometry, inner: Lines = (), spared: BaseGeometry = EMPTY) -> str:
    """One symbol at its place on the paper (mm). ``spared``: what the hatching of a connector leaves out."""
    if symbol == "connector":
        return connector(shape, spared)
    return PAINTERS[symbol](shape, inner)


def connector(shape: BaseGeometry, spared: BaseGeometry) -> str:
    """Metal sheet: a firm edge and light hatching that stops short of it."""
    sheet = shape.buffer(-0.5)
    if not spared.is_empty:
        sheet = sheet.difference(spared)
    return area(shape, Pen(0, fill=PAPER)) + hatch(sheet, 45, 1.35, Pen(0.12)) + area(shape, Pen(0.42))


def _plain(pen: Pen, inner: Pen = _FINE) -> Painter:
    return lambda shape, paths: area(shape, pen) + lines(paths, inner)


def _solid(shape: BaseGeometry, _paths: Lines) -> str:
    # A rim of bare paper keeps solid parts apart where they meet.
    return area(shape, _RIM) + area(shape, Pen(0.12, fill=INK))


def _rest(shape: BaseGeometry, paths: Lines) -> str:
    # A seat over the whole crown would be a black tooth.
    return _solid(shape, paths) if shape.area < 45.0 else _hatched(45, 0.5)(shape, paths)


def _hatched(
    angle: float, spacing: float, edge: Pen = _EDGE, stroke: Pen = _FINE, cross: bool = False
) -> Painter:
    def draw(shape: BaseGeometry, paths: Lines) -> str:
        body = area(shape, Pen(0, fill=PAPER)) + hatch(shape, angle, spacing, stroke, cross=cross)
        return body + area(shape, Pen(edge.width, edge.dash)) + lines(paths, edge)

    return draw


def _spotted(spacing: float, radius: float, edge: Pen) -> Painter:
    return lambda shape, paths: (
        area(shape, Pen(0, fill=PAPER))
        + dots(shape, spacing, radius)
        + area(shape, Pen(edge.width, edge.dash))
    )


def _holes(pen: Pen) -> Painter:
    """An open frame: its edge and its openings."""
    return lambda shape, paths: area(shape, Pen(0.38, fill=PAPER)) + lines(paths, pen, close=True)


def _nails(shape: BaseGeometry, paths: Lines) -> str:
    return _hatched(0, 0.8)(shape, ()) + lines(paths, Pen(0.12, fill=INK), close=True)


def _post(shape: BaseGeometry, paths: Lines) -> str:
    return lines(paths, Pen(0.3, fill=PAPER), close=True) + area(shape, Pen(0.12, fill=INK))


def _facing(shape: BaseGeometry, paths: Lines) -> str:
    return _hatched(135, 0.6)(shape, ()) + lines(paths, Pen(0.12, fill=INK), close=True)


def _finish(_shape: BaseGeometry, paths: Lines) -> str:
    # Two lines close together, as the step between resin and metal is drawn.
    return lines(paths, Pen(0.85)) + lines(paths, Pen(0.36, stroke=PAPER))


def _relief(shape: BaseGeometry, _paths: Lines) -> str:
    return area(shape, Pen(0.17, (0.7, 0.55), fill=PAPER)) + dots(shape, 1.25, 0.1)


PAINTERS: dict[str, Painter] = {
    "tooth": _plain(Pen(0.32, fill=PAPER)),
    "missing_tooth": _plain(Pen(0.28, (1.1, 0.8))),
    "absent_tooth": _plain(Pen(0.28, (0.1, 0.9))),
    "connector": lambda shape, paths: connector(shape, EMPTY),
    "connector_resin": _spotted(1.5, 0.15, Pen(0.42)),
    # It is one piece with the connector: closer hatching on the same grid, no edge of its own.
    "minor_connector": lambda shape, paths: hatch(shape.buffer(-0.35), 45, 0.45, Pen(0.12)),
    "finish_line": _finish,
    "bead_line": lambda shape, paths: lines(paths, Pen(0.16)),
    "relief": _relief,
    "base": _plain(Pen(0.38, fill=PAPER)),
    "base_lattice": _holes(Pen(0.2)),
    "base_mesh": _hatched(45, 0.8, Pen(0.38), Pen(0.12), cross=True),
    "base_loops": _holes(Pen(0.26)),
    "base_nail_heads": _nails,
    "base_metal": _hatched(0, 0.7, Pen(0.38), Pen(0.13)),
    "tissue_stop": _plain(Pen(0.2, fill=INK)),
    "replacement_post": _post,
    "replacement_tube": _plain(Pen(0.3, fill=PAPER)),
    "replacement_facing": _facing,
    "replacement_reinforced": _plain(Pen(0.2, fill=PAPER)),
    "replacement_occlusal": _hatched(135, 0.6),
    "replacement_metal": _hatched(135, 0.6),
    "proximal_plate": _hatched(90, 0.42, Pen(0.3), Pen(0.16)),
    "embrasure_body": _plain(_EDGE),
    "rest": _rest,
    "retentive_arm": _plain(_EDGE),
    "wire_arm": _plain(Pen(0.22, fill=PAPER), Pen(0.16)),
    "bar": _plain(_EDGE),
    "polymer_arm": _spotted(0.5, 0.11, Pen(0.3)),
    "bracing_arm": _plain(_EDGE),
    "tip": lambda shape, paths: area(shape, Pen(0.12, fill=INK)),
    "undercut": _plain(Pen(0.22, fill=PAPER)),
    "hinge": _plain(Pen(0.45, fill=PAPER)),
    "attachment": _hatched(45, 0.45),
    "double_crown": _hatched(0, 0.35, Pen(0.3), Pen(0.12)),
    "stud": _hatched(45, 0.6),
    "landmark": lambda shape, paths: lines(paths, _LANDMARKS["raphe"]),
    "floor": lambda shape, paths: lines(paths, Pen(0.16, (1.6, 0.7, 0.2, 0.7))),
    "fulcrum": lambda shape, paths: lines(paths, Pen(0.36, (3.0, 0.9, 0.5, 0.9))),
}
