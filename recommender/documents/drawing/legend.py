"""The legend: every symbol that was used, by itself, with its words."""

from collections.abc import Mapping, Sequence
from functools import cache

import numpy as np
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from recommender.documents.drawing import ink
from recommender.documents.drawing.figures import paper
from recommender.documents.drawing.lettering import Words as Lettered
from recommender.documents.drawing.lettering import set_words, wrapped
from recommender.documents.drawing.shapes import EMPTY, Curve, curve, ribbon
from recommender.documents.drawing.svg import Pen, area, lines
from recommender.domain.statement import say
from recommender.wording.words import Words

_COLUMNS = 4
_LONG, _TALL = 8.0, 3.0


def entries(
    names: Sequence[str], said: Mapping[str, str], top: float, page: float, says: Words
) -> tuple[list[str], list[Lettered], float]:
    """Samples and words in rows from ``top`` on, and where they end."""
    edge, size = paper("edge"), paper("label") * 0.94
    columns = _COLUMNS if page > 120 else 2
    wide = (page - 2 * edge) / columns
    leading = size * paper("leading")
    found = [lines([np.array([(edge, top), (page - edge, top)])], Pen(0.15))]
    words: list[Lettered] = []
    level = top + 1.3
    for start in range(0, len(names), columns):
        row = names[start : start + columns]
        texts = [wrapped(said[name], size, wide - 11.5) for name in row]
        for index, (name, rows) in enumerate(zip(row, texts, strict=True)):
            x = edge + index * wide
            found.append(sample(name, x, level + 0.3))
            words += [set_words(x + 10.0, level + 2.4 + k * leading, one, size) for k, one in enumerate(rows)]
            if name == "indirect_retainer":
                words.append(
                    set_words(
                        x + 4.0,
                        level + 2.7,
                        says.text(say("drawing.indirect_mark")),
                        2.3,
                        anchor="middle",
                        bold=True,
                    )
                )
        level += max(len(rows) for rows in texts) * leading + 1.5
    return found, words, level + 0.5


def sample(name: str, x: float, y: float) -> str:
    """A symbol by itself, about 8 by 3 mm."""
    body = _sample(name)
    return f'<g transform="translate({round(x * 100)} {round(y * 100)})">{body}</g>' if body else ""


@cache
def _sample(name: str) -> str:
    if name == "indirect_retainer":
        return ""
    shape, inner = _shapes(name)
    if name == "minor_connector":
        return area(shape, Pen(0.42)) + ink.paint(name, shape)
    return ink.paint(name, shape, inner)


def _shapes(name: str) -> tuple[BaseGeometry, list[Curve]]:
    """Outline and inner lines of a sample."""
    frame, middle = box(0.2, 0.2, _LONG - 0.2, _TALL - 0.2), Point(_LONG / 2, _TALL / 2)
    straight = np.array([(0.3, 1.5), (7.7, 1.5)])
    if name in _AS_LINE:
        return EMPTY, [straight]
    if name in _ARMS:
        first, last, start = _ARMS[name]
        return ribbon(_BOW[start:], first, last), []
    if name == "wire_arm":
        return ribbon(straight, 1.1), [np.array([(k, 2.0), (k + 0.5, 1.0)]) for k in np.arange(0.6, 7.2, 0.8)]
    if name in ("tooth", "missing_tooth", "absent_tooth"):
        fissure = [curve(np.array([(1.8, 1.5), (4.0, 1.3), (6.2, 1.5)]), 4)] if name == "tooth" else []
        return frame.buffer(-0.9).buffer(0.9), fissure
    if name == "embrasure_body":
        return ribbon(np.array([(4.0, 0.2), (4.0, 2.8)]), lambda share: 3.0 - 1.1 * np.sin(np.pi * share)), []
    if name == "rest":
        return Polygon(curve(_SPOON, 4)), []
    if name == "undercut":
        return Polygon([(2.9, 0.6), (5.1, 0.6), (4.0, 2.4)]), []
    if name in ("hinge", "stud"):
        return middle.buffer(1.2), []
    if name in ("proximal_plate", "tissue_stop"):
        return box(0.3, 1.0, 7.7, 2.0) if name == "proximal_plate" else box(3.0, 0.5, 5.0, 2.5), []
    if name.startswith("replacement_"):
        return _held(name.removeprefix("replacement_"), frame, middle)
    return frame, _retention(name)


_BOW = curve(np.array([(0.3, 1.0), (2.6, 1.7), (5.4, 1.7), (7.7, 1.0)]), 6)
_SPOON = np.array([(2.2, 0.4), (4.0, 0.35), (5.4, 0.9), (5.8, 1.5), (5.4, 2.1), (4.0, 2.65), (2.2, 2.6)])
_AS_LINE = ("finish_line", "bead_line", "landmark", "floor", "fulcrum")
# Width at the origin, width at the end, and from which point of the bow on.
_ARMS = {
    "retentive_arm": (1.5, 0.8, 0), "polymer_arm": (1.5, 0.8, 0), "bracing_arm": (1.5, 1.3, 0), "bar": (1.6, 1.0, 0),
    "tip": (1.1, 0.8, 10),
}  # fmt: skip


def _ring(x: float, y: float, radius: float) -> Curve:
    return np.array(Point(x, y).buffer(radius, quad_segs=5).exterior.coords)


def _held(how: str, frame: BaseGeometry, middle: Point) -> tuple[BaseGeometry, list[Curve]]:
    """What holds a replacement tooth."""
    if how == "post":
        return middle.buffer(0.8), [_ring(middle.x, middle.y, 1.35)]
    if how == "tube":
        return middle.buffer(1.35).difference(middle.buffer(0.75)), []
    if how == "facing":
        return box(0.2, 1.6, 7.8, 2.8), [_ring(x, 1.2, 0.25) for x in (2.0, 3.4, 4.8, 6.2)]
    if how == "reinforced":
        zigzag = curve(np.array([(1.0, 2.4), (2.5, 0.7), (4.0, 2.4), (5.5, 0.7), (7.0, 2.4)]), 4)
        return LineString(zigzag).buffer(0.22), []
    return frame, []


def _retention(name: str) -> list[Curve]:
    """Holes, loops or nail heads of a base."""
    if name == "base_lattice":
        holes = [box(x, y, x + 1.45, y + 0.75) for x in (0.75, 2.55, 4.35, 6.15) for y in (0.6, 1.7)]
        return [np.array(hole.buffer(-0.15).buffer(0.15).exterior.coords) for hole in holes]
    if name == "base_loops":
        return [_ring(x, y, 0.5) for x in np.arange(1.0, 7.5, 1.5) for y in (0.9, 2.1)]
    if name == "base_nail_heads":
        return [_ring(x, 1.5, 0.35) for x in np.arange(1.0, 7.5, 1.5)]
    return []
