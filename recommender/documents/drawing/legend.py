"""The legend: every symbol that was used, by itself, with its words."""

from collections.abc import Mapping, Sequence
from functools import cache

import numpy as np
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from recommender.documents.content import content
from recommender.documents.drawing import ink
from recommender.documents.drawing.figures import paper
from recommender.documents.drawing.lettering import Words, set_words, wrapped
from recommender.documents.drawing.shapes import EMPTY, Curve, curve, ribbon
from recommender.documents.drawing.svg import Pen, area, lines

_COLUMNS = 4
_LONG, _TALL = 8.0, 3.0


def entries(
    names: Sequence[str], said: Mapping[str, str], top: float, page: float
) -> tuple[list[str], list[Words], float]:
    """Samples and words in rows from ``top`` on, and where they end."""
    edge, size = paper("edge"), paper("label") * 0.94
    columns = _COLUMNS if page > 120 else 2
    wide = (page - 2 * edge) / columns
    leading = size * paper("leading")
    found = [lines([np.array([(edge, top), (page - edge, top)])], Pen(0.15))]
    words: list[Words] = []
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
                        content("labels")["indirect_mark"],
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
    frame = box(0.2, 0.2, _LONG - 0.2, _TALL - 0.2)
    bow = curve(np.array([(0.3, 1.0), (2.6, 1.7), (5.4, 1.7), (7.7, 1.0)]), 6)
    arm = ribbon(bow, 1.5, 0.8)
    middle = Point(4.0, 1.5)
    straight = np.array([(0.3, 1.5), (7.7, 1.5)])
    special: dict[str, tuple[BaseGeometry, list[Curve]]] = {
        "tooth": (_rounded(frame), [curve(np.array([(1.8, 1.5), (4.0, 1.3), (6.2, 1.5)]), 4)]),
        "missing_tooth": (_rounded(frame), []),
        "absent_tooth": (_rounded(frame), []),
        "retentive_arm": (arm, []),
        "tip": (ribbon(bow[10:], 1.1, 0.8), []),
        "bar": (ribbon(bow, 1.6, 1.0), []),
        "wire_arm": (ribbon(straight, 1.1), [np.array([(k, 2.0), (k + 0.5, 1.0)]) for k in np.arange(0.6, 7.2, 0.8)]),
        "polymer_arm": (arm, []),
        "bracing_arm": (ribbon(bow, 1.5, 1.3), []),
        "embrasure_body": (ribbon(np.array([(4.0, 0.2), (4.0, 2.8)]), lambda s: 3.0 - 1.1 * np.sin(np.pi * s)), []),
        "rest": (Polygon(curve(np.array([(2.2, 0.4), (4.0, 0.35), (5.4, 0.9), (5.8, 1.5), (5.4, 2.1), (4.0, 2.65), (2.2, 2.6)]), 4)), []),
        "proximal_plate": (box(0.3, 1.0, 7.7, 2.0), []),
        "tissue_stop": (box(3.0, 0.5, 5.0, 2.5), []),
        "hinge": (middle.buffer(1.2), []),
        "stud": (middle.buffer(1.3), []),
        "undercut": (Polygon([(2.9, 0.6), (5.1, 0.6), (4.0, 2.4)]), []),
        "replacement_post": (middle.buffer(0.8), [np.array(middle.buffer(1.35).exterior.coords)]),
        "replacement_tube": (middle.buffer(1.35).difference(middle.buffer(0.75)), []),
        "replacement_facing": (box(0.2, 1.6, 7.8, 2.8), [np.array(Point(k, 1.2).buffer(0.25).exterior.coords) for k in (2.0, 3.4, 4.8, 6.2)]),
        "replacement_reinforced": (LineString(curve(np.array([(1.0, 2.4), (2.5, 0.7), (4.0, 2.4), (5.5, 0.7), (7.0, 2.4)]), 4)).buffer(0.22), []),
        "base_lattice": (frame, [np.array(box(a, b, a + 1.5, b + 0.75).buffer(-0.15).buffer(0.15).exterior.coords) for a in (0.7, 2.75, 4.8, 6.0) for b in (0.55, 1.7) if a != 4.8 or True][:8]),
        "base_loops": (frame, [np.array(Point(k, h).buffer(0.5).exterior.coords) for k in np.arange(1.0, 7.5, 1.5) for h in (0.9, 2.1)]),
        "base_nail_heads": (frame, [np.array(Point(k, 1.5).buffer(0.35).exterior.coords) for k in np.arange(1.0, 7.5, 1.5)]),
    }  # fmt: skip
    if name in special:
        return special[name]
    if name in ("finish_line", "bead_line", "landmark", "floor", "fulcrum"):
        return EMPTY, [straight]
    return frame, []


def _rounded(shape: BaseGeometry) -> BaseGeometry:
    return shape.buffer(-0.9).buffer(0.9)
