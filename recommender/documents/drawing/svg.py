"""SVG by hand: presentation attributes only, so that every reader and converter shows the same picture.

Values that come in are millimetres on paper; what is written are hundredths of a millimetre, as whole numbers. Text is
escaped; nothing here takes markup from a case.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

import numpy as np
from shapely.geometry.base import BaseGeometry

from recommender.documents.drawing.shapes import Curve, Path, polygons

INK, PAPER = "#000000", "#ffffff"
_LEAST_STROKE_MM = 0.15


@dataclass(frozen=True, slots=True)
class Pen:
    """Lines and fill: widths in mm, dashes in mm."""

    width: float = 0.3
    dash: tuple[float, ...] = ()
    fill: str = "none"
    stroke: str = INK


def _pen(pen: Pen) -> str:
    if pen.width <= 0:
        return f'fill="{pen.fill}"'
    dash = f' stroke-dasharray="{" ".join(str(round(d * 100)) for d in pen.dash)}"' if pen.dash else ""
    fill = "" if pen.fill == "none" else f'fill="{pen.fill}" '
    return f'{fill}stroke="{pen.stroke}" stroke-width="{round(pen.width * 100)}"{dash}'


def run(points: Path, close: bool) -> str:
    """Path data of one line, in relative whole hundredths."""
    whole = np.rint(np.asarray(points, dtype=np.float64) * 100).astype(np.int64)
    if close and len(whole) > 1 and (whole[0] == whole[-1]).all():
        whole = whole[:-1]
    steps = whole[1:] - whole[:-1]
    moves = [step for step in steps.tolist() if step[0] or step[1]]
    data = " ".join([f"{dx} {dy}" for dx, dy in moves])
    moved = f"l{data}" if data else "h1"
    return f"M{whole[0][0]} {whole[0][1]}{moved}{'z' if close else ''}".replace(" -", "-")


def _rings(shape: BaseGeometry) -> str:
    return "".join(
        run(np.array(ring.coords), True)
        for polygon in polygons(shape, 0.0)
        for ring in (polygon.exterior, *polygon.interiors)
    )


def area(shape: BaseGeometry, pen: Pen) -> str:
    """A shape: its edge and its fill."""
    data = _rings(shape)
    return f'<path d="{data}" {_pen(pen)}/>' if data else ""


def lines(paths: Iterable[Path], pen: Pen, *, close: bool = False) -> str:
    """Open or closed lines."""
    data = "".join(run(path, close) for path in paths if len(path) > 1)
    return f'<path d="{data}" {_pen(pen)}/>' if data else ""


def hatch(shape: BaseGeometry, angle: float, spacing: float, pen: Pen, *, cross: bool = False) -> str:
    """Parallel lines over a shape, worked out as lines rather than as a pattern that some readers drop.

    The lines of all shapes lie on one grid, so that neighbouring pieces of metal look like one.
    """
    rings = [np.array(ring.coords) for p in polygons(shape, 0.0) for ring in (p.exterior, *p.interiors)]
    if not rings:
        return ""
    starts = np.vstack([ring[:-1] for ring in rings])
    ends = np.vstack([ring[1:] for ring in rings])
    found: list[Curve] = []
    for turned in (angle, angle + 90.0) if cross else (angle,):
        found += _strokes(starts, ends, turned, spacing)
    return lines(found, pen)


def _strokes(starts: Curve, ends: Curve, angle: float, spacing: float) -> list[Curve]:
    """Where the lines of a grid run inside a closed outline, given as its edges (even-odd rule)."""
    radians = np.radians(angle)
    turn = np.array([[np.cos(radians), -np.sin(radians)], [np.sin(radians), np.cos(radians)]])
    a, b = starts @ turn, ends @ turn
    low, high = np.ceil(a[:, 1].min() / spacing), np.floor(a[:, 1].max() / spacing)
    rows = np.arange(low, high + 1) * spacing
    if not len(rows):
        return []
    crossing = (a[:, 1, None] <= rows) != (b[:, 1, None] <= rows)
    edge, row = np.nonzero(crossing)
    share = (rows[row] - a[edge, 1]) / (b[edge, 1] - a[edge, 1])
    at = a[edge, 0] + (b[edge, 0] - a[edge, 0]) * share
    order = np.lexsort((at, row))
    at, row = at[order], row[order]
    first, last, level = at[0::2], at[1::2], rows[row[0::2]]
    keep = last - first > _LEAST_STROKE_MM
    first, last, level = first[keep], last[keep], level[keep]
    both = np.stack((np.column_stack((first, level)), np.column_stack((last, level))), axis=1) @ turn.T
    return list(both)


def dots(shape: BaseGeometry, spacing: float, radius: float) -> str:
    """Spots over a shape."""
    from shapely import contains_xy

    if shape.is_empty:
        return ""
    inner = shape.buffer(-radius)
    low_x, low_y, high_x, high_y = shape.bounds
    rows = np.arange(np.floor(low_y / spacing), np.ceil(high_y / spacing) + 1)
    columns = np.arange(np.floor(low_x / spacing), np.ceil(high_x / spacing) + 1)
    grid_x, grid_y = np.meshgrid(columns, rows)
    x, y = ((grid_x + (grid_y % 2) / 2) * spacing).ravel(), (grid_y * spacing).ravel()
    keep = contains_xy(inner, x, y)
    spots = np.rint(np.column_stack((x[keep], y[keep])) * 100).astype(int).tolist()
    data = "".join(f"M{a} {b}h1" for a, b in spots)
    return f'<path d="{data}" {_pen(Pen(2 * radius))}/>' if data else ""


def group(body: str, title: str, key: str = "", description: str = "", symbol: bool = False) -> str:
    """Parts that belong together, with their name; ``key`` says which decision they belong to."""
    if not body:
        return ""
    attributes = f" data-part={quoteattr(key)}" if key else ""
    if symbol:
        attributes += f' role="graphics-symbol" aria-label={quoteattr(title)}'
    told = f"<desc>{escape(description)}</desc>" if description else ""
    return f"<g{attributes}><title>{escape(title)}</title>{told}{body}</g>"


def touch(shapes: Sequence[BaseGeometry]) -> str:
    """Unseen shapes that answer to the pointer."""
    data = "".join(_rings(shape) for shape in shapes)
    return f'<path d="{data}" fill="none" pointer-events="all"/>' if data else ""


def document(
    width: float, height: float, title: str, description: str, body: Iterable[str], *, parts: bool
) -> str:
    """The whole picture, ``width`` by ``height`` millimetres. ``parts``: its parts are told one by one as well."""
    w, h = round(width * 100), round(height * 100)
    role = "graphics-document" if parts else "img"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w / 100:g}mm" height="{h / 100:g}mm" viewBox="0 0 {w} {h}" '
        f'role="{role}" aria-label={quoteattr(description)}>'
        f"<title>{escape(title)}</title><desc>{escape(description)}</desc>"
        f'<path d="M0 0h{w}v{h}h-{w}z" fill="{PAPER}"/>'
        '<g fill="none" fill-rule="evenodd" stroke-linejoin="round" stroke-linecap="round">'
        f"{''.join(body)}</g></svg>"
    )
