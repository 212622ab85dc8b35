"""SVG by hand: presentation attributes only, so that every reader and converter shows the same picture.

Coordinates are millimetres on paper. Text is escaped; nothing here takes markup from a case.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from shapely.affinity import rotate
from shapely.geometry import MultiLineString
from shapely.geometry.base import BaseGeometry

from recommender.documents.drawn import Ring

INK, PAPER = "#000000", "#ffffff"
# Serif faces of about the same width; the first is the one that the letter embeds.
FAMILY = "Libertinus Serif, Linux Libertine, Times New Roman, serif"
_WIDTH_PER_EM = 0.5


@dataclass(frozen=True, slots=True)
class Pen:
    """Lines and fill: widths in mm, dashes as in SVG."""

    width: float = 0.3
    dash: str = ""
    fill: str = "none"
    stroke: str = INK


def number(value: float) -> str:
    """A coordinate to a hundredth of a millimetre, without needless zeros."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _pen(pen: Pen) -> str:
    dash = f' stroke-dasharray="{pen.dash}"' if pen.dash else ""
    if pen.width <= 0:
        return f'fill="{pen.fill}" stroke="none"'
    return (
        f'fill="{pen.fill}" fill-rule="evenodd" stroke="{pen.stroke}" stroke-width="{number(pen.width)}"'
        f'{dash} stroke-linejoin="round" stroke-linecap="round"'
    )


def rings_path(pieces: Iterable[Sequence[Ring]]) -> str:
    """Path data of closed rings."""
    return "".join(
        "M" + "L".join(f"{number(x)} {number(y)}" for x, y in ring) + "Z"
        for piece in pieces
        for ring in piece
    )


def area(pieces: Iterable[Sequence[Ring]], pen: Pen) -> str:
    """Closed shapes."""
    return f'<path d="{rings_path(pieces)}" {_pen(pen)}/>'


def line(points: Sequence[tuple[float, float]], pen: Pen) -> str:
    """An open line."""
    data = "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)
    return f'<path d="{data}" {_pen(pen)}/>'


def hatch(shape: BaseGeometry, angle: float, spacing: float, pen: Pen) -> str:
    """Parallel lines over a shape, worked out as lines rather than as a pattern that some readers drop."""
    if shape.is_empty:
        return ""
    low_x, low_y, high_x, high_y = shape.bounds
    middle = ((low_x + high_x) / 2, (low_y + high_y) / 2)
    reach = ((high_x - low_x) ** 2 + (high_y - low_y) ** 2) ** 0.5 / 2 + spacing
    count = int(reach / spacing) + 1
    rows = [
        ((middle[0] - reach, middle[1] + k * spacing), (middle[0] + reach, middle[1] + k * spacing))
        for k in range(-count, count + 1)
    ]
    cut = rotate(MultiLineString(rows), angle, origin=middle).intersection(shape)
    strokes = [part for part in getattr(cut, "geoms", [cut]) if part.geom_type == "LineString"]
    data = "".join("M" + "L".join(f"{number(x)} {number(y)}" for x, y in part.coords) for part in strokes)
    return f'<path d="{data}" {_pen(pen)}/>' if data else ""


def dots(shape: BaseGeometry, spacing: float, radius: float, pen: Pen) -> str:
    """Spots over a shape."""
    from shapely.geometry import Point as Spot

    low_x, low_y, high_x, high_y = shape.bounds
    found = []
    row, y = 0, low_y + spacing / 2
    inner = shape.buffer(-radius)
    while y < high_y:
        x = low_x + spacing / 2 + (spacing / 2 if row % 2 else 0)
        while x < high_x:
            if inner.contains(Spot(x, y)):
                found.append(f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(radius)}" {_pen(pen)}/>')
            x += spacing
        y += spacing
        row += 1
    return "".join(found)


def text(
    x: float,
    y: float,
    words: str,
    size: float,
    *,
    anchor: str = "start",
    bold: bool = False,
    italic: bool = False,
) -> str:
    """One line of text; ``y`` is its base line."""
    weight = ' font-weight="bold"' if bold else ""
    style = ' font-style="italic"' if italic else ""
    return (
        f'<text x="{number(x)}" y="{number(y)}" font-family={quoteattr(FAMILY)} font-size="{number(size)}" '
        f'text-anchor="{anchor}" fill="{INK}"{weight}{style}>{escape(words)}</text>'
    )


def plate(x: float, y: float, words: str, size: float) -> str:
    """Blank paper behind a line of text centred at ``x``, so that it can be read over hatching."""
    wide = text_width(words, size) + size * 0.5
    return (
        f'<rect x="{number(x - wide / 2)}" y="{number(y - size * 0.82)}" width="{number(wide)}" '
        f'height="{number(size * 1.12)}" fill="{PAPER}" stroke="none"/>'
    )


def text_width(words: str, size: float) -> float:
    """About how wide a line of text is (mm)."""
    return len(words) * size * _WIDTH_PER_EM


def wrapped(words: str, size: float, width: float) -> list[str]:
    """Text broken into lines no wider than ``width`` (mm); a word that is too long is cut."""
    most = max(4, int(width / (size * _WIDTH_PER_EM)))
    lines: list[str] = []
    for word in words.split():
        while len(word) > most:
            lines.append(word[: most - 1] + "-")
            word = word[most - 1 :]
        if lines and len(lines[-1]) + 1 + len(word) <= most and not lines[-1].endswith("-"):
            lines[-1] += " " + word
        else:
            lines.append(word)
    return lines


def document(width: float, height: float, title: str, description: str, body: Iterable[str]) -> str:
    """The whole picture, ``width`` by ``height`` millimetres."""
    w, h = number(width), number(height)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}" role="img" '
        f"aria-label={quoteattr(description)}><title>{escape(title)}</title><desc>{escape(description)}</desc>"
        f'<rect x="0" y="0" width="{w}" height="{h}" fill="{PAPER}" stroke="none"/>{"".join(body)}</svg>'
    )
