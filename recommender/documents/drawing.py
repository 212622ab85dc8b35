"""The arch drawing of a design: an SVG of our own look, to be printed in black and white.

Seen facing the patient, as on laboratory cards and in textbooks: the patient's right on the viewer's left, the
upper arch with its front up, the lower arch with its front down. Coordinates of the parts are those of the arch
geometry (mm), whatever the picture's own scale.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import MultiPolygon, box
from shapely.geometry.base import BaseGeometry

from recommender.documents.build import build_parts
from recommender.documents.content import content
from recommender.documents.drawn import DrawnPart, Ring
from recommender.documents.labels import Label, labels, option_label
from recommender.documents.layout import Layout
from recommender.documents.svg import Pen, document, line, plate, text, text_width, wrapped
from recommender.documents.symbols import paint, symbol_of
from recommender.domain.case import Case, Design
from recommender.domain.labels import word_label
from recommender.domain.numbering import display
from recommender.mechanics.arch import Point

_WIDTH, _COLUMN, _EDGE, _SCALE = 170.0, 38.0, 1.0, 1.3
_TOP = 9.5
_NUMBER, _LABEL, _SMALL = 2.9, 2.75, 1.7
_LEADING = 1.12
_CLEAR = ("rest", "tip", "bar", "retentive_arm", "bracing_arm", "undercut", "attachment")


@dataclass(frozen=True, slots=True)
class Drawing:
    """The picture, the same in words for those who cannot see it, and the parts that were drawn."""

    svg: str
    alt_text: str
    parts: tuple[DrawnPart, ...]


def arch_drawing(
    case: Case,
    design: Design,
    *,
    numbering: str = "iso",
    with_labels: bool = True,
    with_legend: bool = True,
    with_undercuts: bool = True,
    provisional: bool = False,
) -> Drawing:
    """Draw a design on the arch of its case. Needs nothing but the two; what was not recorded is not drawn."""
    layout = Layout(case, design)
    parts, depths = build_parts(layout)
    if not with_undercuts:
        parts = [part for part in parts if part.kind != "undercut"]
    page = _Page(layout, numbering)
    page.keep_clear(parts)
    page.fit(parts)
    body = [page.heading(provisional)]
    body += [page.part(part) for part in parts if part.kind not in ("fulcrum", "indirect_retainer")]
    body += [page.part(part) for part in parts if part.kind == "missing_tooth"]
    body += [page.depth(part, depths[part]) for part in parts if part.kind == "undercut"]
    body += [page.part(part) for part in parts if part.kind in ("fulcrum", "indirect_retainer")]
    body += page.numbers()
    said = labels(layout, numbering)
    if with_labels:
        body += page.labels(said)
    body.append(page.connector_name())
    height = page.bottom
    if with_legend:
        legend, height = page.legend(parts, height + 2.5)
        body += legend
    alt = alt_text(layout, said, numbering)
    return Drawing(document(_WIDTH, height, content("labels")["title"], alt, body), alt, tuple(parts))


def alt_text(layout: Layout, said: Sequence[Label], numbering: str) -> str:
    """The drawing in one paragraph of words."""
    words = content("labels")
    arch = word_label("arch", layout.case.arch)
    pieces = [f"{words['title']}: {arch}, {words['facing']}."]
    if layout.design.connector:
        pieces.append(f"{words['connector']}: {option_label(layout, 'connector', layout.design.connector)}.")
    pieces += [f"{label.heading}: {label.words}." for label in sorted(said, key=lambda label: label.station)]
    axis = layout.axis()
    if axis is not None:
        ends = " - ".join(display(tooth, numbering) for tooth, _ in axis)
        pieces.append(f"{words['fulcrum']}: {ends}.")
    return " ".join(pieces)


class _Page:
    """Turns arch coordinates into places on the paper, and sets the text round the arch."""

    def __init__(self, layout: Layout, numbering: str) -> None:
        self.layout, self.numbering = layout, numbering
        self.frame = layout.frame
        self.sign = -1.0 if layout.case.arch == "maxilla" else 1.0
        # Numbers stand outside whatever runs along the facial.
        facial = layout.design.connector in ("labial_bar", "hinged_labial_bar")
        self.ring = 11.0 if facial else 5.4
        levels = [self.frame.facial_point(s / 4, self.ring + 2.2)[1] * self.sign * _SCALE for s in range(65)]
        rear = [self.frame.facial_point(s, 0.0)[1] * self.sign * _SCALE for s in (-0.6, 16.6)]
        self.shift = _TOP - min(*levels, *rear)
        self.bottom = max(*levels, *rear) + self.shift + 1.0
        self.taken: list[BaseGeometry] = []

    def at(self, point: Point) -> Point:
        return (_WIDTH / 2 + _SCALE * point[0], self.shift + self.sign * _SCALE * point[1])

    def part(self, part: DrawnPart) -> str:
        areas = [tuple(self._ring(ring) for ring in piece) for piece in part.areas]
        return paint(symbol_of(part), areas, self._ring(part.path))

    def _ring(self, ring: Ring) -> Ring:
        return tuple(self.at(point) for point in ring)

    def heading(self, provisional: bool) -> str:
        words = content("labels")
        arch = word_label("arch", self.layout.case.arch)
        found = text(_EDGE, 4.0, f"{arch.capitalize()}, {words['facing']}", _LABEL, bold=True)
        found += text(_EDGE, 7.4, words["front_up" if self.sign < 0 else "front_down"], _LABEL, italic=True)
        if provisional:
            found += text(_WIDTH - _EDGE, 4.0, words["provisional"], 3.6, anchor="end", bold=True)
        for station, side in ((0.0, "right"), (16.0, "left")):
            x, y = self.at(self.frame.lingual_point(station, -5.0))
            level = y + (3.6 if self.sign < 0 else -1.6)
            found += text(x, level, words[side], 4.2, anchor="middle", bold=True)
        return found

    def numbers(self) -> list[str]:
        found = []
        for tooth in self.frame.order:
            x, y = self.at(self.frame.facial_point(self.frame.station(tooth), self._off(tooth)))
            shown = display(tooth, self.numbering)
            found.append(text(x, y + _NUMBER * 0.33, shown, _NUMBER, anchor="middle", bold=True))
        return found

    def _off(self, tooth: int) -> float:
        return self._off_at(self.frame.station(tooth))

    def _off_at(self, station: float) -> float:
        return self.ring if 3.0 < station < 13.0 else 5.4

    def depth(self, part: DrawnPart, depth: float) -> str:
        """The depth in mm beside its undercut mark, where it covers neither a rest nor another figure."""
        shown = f"{depth:.2f}".removeprefix("0")
        tooth, (mark, _) = part.teeth[0], part.path
        half, tall = text_width(shown, _SMALL) / 2 + 0.1, _SMALL * 0.42
        spots = [self.frame.inside(tooth, a / 5, o / 5) for a in range(-4, 5) for o in range(-4, 5)]
        spots.sort(key=lambda spot: (round(math.dist(spot, mark), 6), spot))
        rooms = []
        for spot in spots:
            x, y = self.at(spot)
            room = box(x - half, y - tall, x + half, y + tall)
            covered = sum(room.intersection(other).area for other in self.taken if room.intersects(other))
            rooms.append((covered, room, x, y))
            if covered == 0:
                break
        _, room, x, y = min(rooms, key=lambda entry: entry[0])
        self.taken.append(room)
        y += _SMALL * 0.33
        return plate(x, y, shown, _SMALL * 0.9) + text(x, y, shown, _SMALL, anchor="middle")

    def fit(self, parts: Sequence[DrawnPart]) -> None:
        """Room for whatever reaches further back than the teeth, as a palatal plate does."""
        if self.sign < 0:
            lowest = min(part.shape.bounds[1] for part in parts)
            self.bottom = max(self.bottom, self.at((0.0, lowest))[1] + 1.5)

    def keep_clear(self, parts: Sequence[DrawnPart]) -> None:
        """Parts over which no figure is written."""
        for part in parts:
            if part.kind in _CLEAR and part.areas:
                areas = [tuple(self._ring(ring) for ring in piece) for piece in part.areas]
                self.taken.append(MultiPolygon([(piece[0], list(piece[1:])) for piece in areas]))

    def connector_name(self) -> str:
        name = self.layout.design.connector
        if name is None:
            return ""
        lines = wrapped(option_label(self.layout, "connector", name), _LABEL, 30.0)
        x, y = self.at((0.0, -12.0 if self.layout.case.arch == "maxilla" else -8.0))
        found = ""
        for row, words in enumerate(lines):
            level = y + row * _LABEL * 1.2
            found += plate(x, level, words, _LABEL) + text(
                x, level, words, _LABEL, anchor="middle", italic=True
            )
        return found

    def labels(self, said: Sequence[Label]) -> list[str]:
        found: list[str] = []
        for right_side in (True, False):
            mine = [label for label in said if (label.station < 8.0) == right_side]
            found += self._column(mine, right_side)
        return found

    def _column(self, mine: Sequence[Label], right_side: bool) -> list[str]:
        """Labels stacked in the order of their teeth, none over another, each with a line to its tooth."""
        width = _COLUMN - 2 * _EDGE
        placed = []
        for label in mine:
            tie = self.at(self.frame.facial_point(label.station, self._off_at(label.station) + 2.2))
            lines = wrapped(f"{label.heading} {label.words}", _LABEL, width)
            placed.append((tie, label, lines, len(lines) * _LABEL * _LEADING + 1.2))
        placed.sort(key=lambda item: (item[0][1], item[0][0] * (1 if right_side else -1)))
        tops: list[float] = []
        level = _TOP
        for tie, _, _, tall in placed:
            level = max(level, tie[1] - tall / 2)
            tops.append(level)
            level += tall
        spare = level - self.bottom
        if spare > 0:  # push the stack up as far as it will go
            limit = self.bottom
            for index in range(len(tops) - 1, -1, -1):
                tops[index] = max(_TOP, min(tops[index], limit - placed[index][3]))
                limit = tops[index]
        found = []
        x = _EDGE if right_side else _WIDTH - _COLUMN + _EDGE
        floor = _TOP
        for (tie, label, lines, tall), wanted in zip(placed, tops, strict=True):
            top = max(wanted, floor)
            floor = top + tall
            for row, words in enumerate(lines):
                base = top + (row + 0.85) * _LABEL * _LEADING
                if row == 0:
                    found.append(text(x, base, label.heading, _LABEL, bold=True))
                    rest = words[len(label.heading) :].strip()
                    found.append(text(x + text_width(label.heading, _LABEL) * 1.06 + 0.9, base, rest, _LABEL))
                else:
                    found.append(text(x, base, words, _LABEL))
            edge = (x + min(width, max(text_width(w, _LABEL) for w in lines) + 1.5), top + _LABEL * 0.65)
            if not right_side:
                edge = (x - 0.8, edge[1])
            found.append(line([edge, tie], Pen(0.13)))
            self.bottom = max(self.bottom, floor)
        return found

    def legend(self, parts: Sequence[DrawnPart], top: float) -> tuple[list[str], float]:
        """The symbols that were used, each with its words, in columns under the arch."""
        entries = content("legend")
        used = [name for name in entries if any(symbol_of(part) == name for part in parts)]
        columns = 4
        width = (_WIDTH - 2 * _EDGE) / columns
        found = [line([(_EDGE, top), (_WIDTH - _EDGE, top)], Pen(0.15))]
        level = top + 1.2
        for start in range(0, len(used), columns):
            row = used[start : start + columns]
            texts = [wrapped(entries[name], _LABEL * 0.92, width - 11.5) for name in row]
            for index, (name, lines) in enumerate(zip(row, texts, strict=True)):
                x = _EDGE + index * width
                found.append(_sample(name, x, level + 0.4))
                for number, words in enumerate(lines):
                    found.append(text(x + 10.0, level + 2.6 + number * _LABEL, words, _LABEL * 0.92))
            level += max(len(lines) for lines in texts) * _LABEL + 1.7
        return found, level + 0.5


def _sample(name: str, x: float, y: float) -> str:
    """A symbol by itself, about 8 by 3 mm."""
    box = ((x, y), (x + 8.0, y), (x + 8.0, y + 3.0), (x, y + 3.0))
    thin = ((x, y + 0.9), (x + 8.0, y + 1.1), (x + 8.0, y + 1.9), (x, y + 2.2))
    wire = ((x, y + 1.3), (x + 8.0, y + 1.3), (x + 8.0, y + 1.8), (x, y + 1.8))
    spot = tuple((x + 4 + 0.85 * c, y + 1.5 + 0.85 * s) for c, s in _CIRCLE)
    wedge = ((x + 2.8, y + 0.4), (x + 5.2, y + 0.4), (x + 4.0, y + 2.6))
    shapes = {
        "retentive_arm": thin, "bar": thin, "bracing_arm": thin, "polymer_arm": thin, "wire_arm": wire,
        "tip": spot, "undercut": wedge, "hinge": spot,
        "rest": ((x + 2, y + 0.5), (x + 4.6, y + 0.3), (x + 6, y + 1.5), (x + 4.6, y + 2.7), (x + 2, y + 2.5)),
        "proximal_plate": thin,
    }  # fmt: skip
    shape = shapes.get(name, box)
    return paint(name, [(shape,)], ((x, y + 1.5), (x + 8.0, y + 1.5)))


_CIRCLE = tuple(
    (round(c, 4), round(s, 4))
    for c, s in [
        (1, 0), (0.866, 0.5), (0.5, 0.866), (0, 1), (-0.5, 0.866), (-0.866, 0.5),
        (-1, 0), (-0.866, -0.5), (-0.5, -0.866), (0, -1), (0.5, -0.866), (0.866, -0.5),
    ]
)  # fmt: skip
