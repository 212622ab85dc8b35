"""From arch to paper: every part in its place, the numbers, the words round the arch, and the legend."""

from collections.abc import Mapping, Sequence

import numpy as np
from shapely import transform
from shapely.geometry import LineString, MultiLineString
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from recommender.documents.drawing import ink
from recommender.documents.drawing.figures import block, paper
from recommender.documents.drawing.labels import Label, part_words
from recommender.documents.drawing.layout import Layout
from recommender.documents.drawing.legend import entries
from recommender.documents.drawing.lettering import Words as Lettered
from recommender.documents.drawing.lettering import set_words, wrapped, written
from recommender.documents.drawing.placing import Ground, Maker, Tie, around, beside, column
from recommender.documents.drawing.shapes import EMPTY, Curve, DrawnPart, Path, polygons
from recommender.documents.drawing.svg import INK, Pen, group, lines, touch
from recommender.domain.statement import Choice, Said, Word, say
from recommender.mechanics.arch import Point
from recommender.wording.words import Words

_UNDER = ("landmark", "floor")
_OVER = ("fulcrum", "indirect_retainer", "undercut")
_UNFILLED = ("missing_tooth", "absent_tooth", "minor_connector")
_MARK = 2.3
_BARE = 4.0
_TOUCH_MM = 0.2  # how closely the area that answers to the pointer follows its part


class Page:
    """The paper of one drawing; lengths in mm, y down."""

    def __init__(
        self,
        layout: Layout,
        words: Words,
        parts: Sequence[DrawnPart],
        *,
        labelled: bool,
        flagged: bool = False,
    ) -> None:
        self.layout, self.says, self.parts = layout, words, parts
        self.frame = layout.frame
        self.sign = -1.0 if layout.case.arch == "maxilla" else 1.0
        self.labelled = labelled
        bounds = np.array(
            [part.shape.bounds for part in parts if part.kind != "fulcrum" and not part.shape.is_empty]
        )
        reach = float(max(abs(bounds[:, 0].min()), abs(bounds[:, 2].max())))
        room = paper("width") / 2 - paper("column") - paper("beside")
        self.scale = min(max(room / reach, paper("scale_least")), paper("scale_most"))
        more = paper("flag_room") if flagged else 0.0
        self.width = paper("width") if labelled else 2 * (reach * self.scale + 9.0 + more)
        self.x0 = self.width / 2
        levels = (bounds[:, 1].min() * self.sign, bounds[:, 3].max() * self.sign)
        head = paper("top") if labelled else _BARE + more
        # Room for the numbers beyond the front teeth, or for the signs of the sides beyond the rear ones.
        self.y0 = head + (5.2 if self.sign < 0 else 6.5) - min(levels) * self.scale
        self.bottom = self.y0 + max(levels) * self.scale + (6.0 if self.sign < 0 else 5.2)
        self.shapes = {id(part): self.on_paper(part.area) for part in parts if not part.area.is_empty}
        self.inner = {id(part): [self.line(path) for path in part.lines] for part in parts if part.lines}
        self.ground = Ground(self._ink())
        self.words: list[Lettered] = []
        self.leaders: list[tuple[Point, ...]] = []
        self.frames: list[tuple[float, float, float, float]] = []
        self.outer: dict[int, Point] = {}
        self._touched: list[tuple[str, str, BaseGeometry]] = []

    # -- arch to paper -----------------------------------------------------------------------------------

    def line(self, path: Path) -> Curve:
        """Points of the arch on the paper."""
        return np.asarray(path, dtype=np.float64) * (self.scale, self.sign * self.scale) + (self.x0, self.y0)

    def at(self, point: Point) -> Point:
        x, y = self.line([point])[0]
        return (float(x), float(y))

    def on_paper(self, shape: BaseGeometry) -> BaseGeometry:
        """A shape of the arch on the paper."""
        return transform(shape, self.line)

    def _ink(self) -> list[BaseGeometry]:
        found: list[BaseGeometry] = list(self.shapes.values())
        for part in self.parts:
            if not part.area.is_empty:
                continue
            if len(part.path) > 1:
                found.append(LineString(self.line(part.path)))
            found += [LineString(path) for path in self.inner.get(id(part), ()) if len(path) > 1]
        return found

    # -- parts -------------------------------------------------------------------------------------------

    def painted(self, reasons: Mapping[str, str], *, told: bool) -> list[str]:
        """Every part, from what lies lowest to what lies highest. ``told``: each answers to the pointer."""
        first = [part for part in self.parts if part.kind in _UNDER]
        last = [part for part in self.parts if part.kind in _OVER]
        missing = [part for part in self.parts if part.kind == "missing_tooth"]
        held = [part for part in self.parts if part.kind.startswith("replacement_")]
        done = {id(part) for part in (*first, *last, *missing, *held)}
        rest = [part for part in self.parts if id(part) not in done]
        order = [*(part for part in rest if part.kind == "tooth"), *first]
        order += [
            part
            for part in rest
            if part.kind in ("absent_tooth", "connector", "minor_connector", "bead_line", "relief")
        ]
        order += [part for part in rest if part.kind in ("base", "tissue_stop")] + held + missing
        order += [part for part in rest if part.kind == "finish_line"]
        taken = {id(part) for part in order}
        order += [part for part in rest if id(part) not in taken] + last
        spared = self._spared()
        return [self._part(part, spared, reasons, told) for part in order]

    def _spared(self) -> BaseGeometry:
        """What the hatching of a connector leaves out: relief, bead and the rugae that it follows."""
        areas = [self.shapes[id(part)] for part in self.parts if part.kind == "relief"]
        for part in self.parts:
            if part.kind == "bead_line" or (part.kind == "landmark" and part.detail == "ruga"):
                areas.append(MultiLineString(self.inner[id(part)]).buffer(0.55, quad_segs=2))
        return unary_union(areas) if areas else EMPTY

    def _part(self, part: DrawnPart, spared: BaseGeometry, reasons: Mapping[str, str], told: bool) -> str:
        shape, inner = self.shapes.get(id(part), EMPTY), self.inner.get(id(part), [])
        symbol = ink.symbol_of(part)
        if symbol == "indirect_retainer":
            return ""
        if symbol == "landmark":
            body = ink.landmark(part.detail, inner)
        elif symbol == "fulcrum":
            body = ink.paint(symbol, EMPTY, [self.line(part.path)])
        else:
            body = ink.paint(symbol, shape, inner, spared)
        if symbol == "connector" and part.detail != "resin":
            body += self._rugae(shape)
        title = part_words(self.layout, part, self.says)
        reason = reasons.get(part.decision, "")
        told_so = say("drawing.reason", part=Said(title), why=Said(reason))
        shown = self.says.text(told_so) if reason else title
        if told and not shape.is_empty:
            if part.kind in _UNFILLED:
                body += touch([shape])
            self._touched.append((shown, part.decision, shape))
        return group(body, shown, part.decision, reason, symbol=told)

    def spots(self, height: float) -> list[tuple[str, str, tuple[tuple[Point, ...], ...]]]:
        """Name, decision and outline (in shares of the picture, ``height`` mm tall) of each part, lowest first."""
        found = []
        for title, decision, shape in self._touched:
            rings = [
                tuple((round(x / self.width, 4), round(y / height, 4)) for x, y in ring.coords)
                for polygon in polygons(shape.simplify(_TOUCH_MM))
                for ring in (polygon.exterior, *polygon.interiors)
            ]
            found.append((title, decision, tuple(rings)))
        return found

    def _rugae(self, shape: BaseGeometry) -> str:
        """The rugae that a connector covers and follows."""
        paths = [
            path
            for p in self.parts
            if p.kind == "landmark" and p.detail == "ruga"
            for path in self.inner[id(p)]
        ]
        if not paths:
            return ""
        cut = MultiLineString(paths).intersection(shape.buffer(-0.7))
        kept = [
            np.array(one.coords)
            for one in getattr(cut, "geoms", [cut])
            if one.geom_type == "LineString" and one.length > 1.0
        ]
        return ink.landmark("ruga", kept)

    # -- words -------------------------------------------------------------------------------------------

    def _set(self, words: Lettered) -> None:
        self.words.append(words)
        self.ground.take([words])

    def heading(self, provisional: bool) -> None:
        """Which arch, how it is seen, and what joins its two sides."""
        edge, size, text = paper("edge"), paper("label"), self.says.text
        if self.labelled:
            arch = say("drawing.heading", arch=Word("arch", self.layout.case.arch))
            self._set(set_words(edge, 3.6, text(arch), paper("title"), bold=True))
            seen = "drawing.front_up" if self.sign < 0 else "drawing.front_down"
            self._set(set_words(edge, 7.2, text(say(seen)), size))
            name = self.layout.design.connector
            if name is not None:
                said = say("drawing.connector", option=Choice("connector", name))
                self._set(set_words(edge, 10.8, text(said), size, bold=True))
            if provisional:
                mark = text(say("drawing.provisional"))
                self._set(set_words(self.width - edge, 3.9, mark, 3.4, anchor="end", bold=True))
        for station, side in ((-0.25, "right"), (16.25, "left")):
            x, y = self.at(self.frame.lingual_point(station, -5.0))
            away = (0.0, 1.0 if self.sign < 0 else -1.0)
            found = beside(
                self.ground, (x, y), away, Maker(text(say(f"drawing.side.{side}")), 4.0, True), 0.0, 30.0
            )
            if found is not None:
                self._set(found)
                self.bottom = max(self.bottom, found.bounds[3] + 1.0)

    def numbers(self) -> None:
        """The number of every tooth outside its crown, beyond whatever runs there; the mark of an indirect retainer."""
        indirect = {part.teeth[0] for part in self.parts if part.kind == "indirect_retainer"}
        for tooth in self.frame.order:
            crown = self.frame.crown(tooth)
            start, out = self.at(crown.at(1.0)), crown.outward(1.0)
            direction = (float(out[0]), float(out[1] * self.sign))
            make = Maker(self.says.tooth(tooth), paper("number"), True)
            found = beside(self.ground, start, direction, make, paper("number_off"), 24.0)
            if found is None:
                continue
            self._set(found)
            if tooth in indirect:
                found = self._indirect(found, direction)
            middle, half = _middle(found), np.array(make.half)
            reach = float(np.abs(np.array(direction)) @ half) + 0.9
            self.outer[tooth] = (middle[0] + direction[0] * reach, middle[1] + direction[1] * reach)

    def _indirect(self, number: Lettered, direction: Point) -> Lettered:
        """The mark of an indirect retainer by the number of its tooth; and which of the two a label's line goes to."""
        make = Maker(self.says.text(say("drawing.indirect_mark")), _MARK, True)
        inner = paper("column") + 1.0 if self.labelled else 0.5
        for way in (direction, (0.0, -1.0), (0.0, 1.0)):
            mark = beside(self.ground, _middle(number), way, make, 2.6, 12.0)
            if mark is not None and inner < mark.bounds[0] and mark.bounds[2] < self.width - inner:
                self._set(mark)
                return mark if way == direction else number
        return number

    def flags(self, teeth: Sequence[int]) -> None:
        """A framed number at every part that cannot be made; under the arch for the frame."""
        for number, tooth in enumerate(teeth, 1):
            make = Maker(self.says.number(number, 0), paper("flag"), True)
            if tooth in self.frame.order:
                crown = self.frame.crown(tooth)
                start, out = self.at(crown.at(1.0)), crown.outward(1.0)
                away = (float(out[0]), float(out[1] * self.sign))
            else:
                start, away = (self.x0, self.bottom), (0.0, 1.0)
            placed = self._flag(make, start, away)
            if placed is None:
                continue
            found, way = placed
            self._set(found)
            left, top, right, bottom = found.bounds
            edge = paper("flag_frame")
            frame = (left - edge, top - edge, right + edge, bottom + edge)
            self.frames.append(frame)
            self.bottom = max(self.bottom, frame[3] + 0.5)
            if tooth in self.outer and way == away:
                middle = _middle(found)
                reach = (frame[2] - frame[0]) / 2 + 0.9
                self.outer[tooth] = (middle[0] + away[0] * reach, middle[1] + away[1] * reach)

    def _flag(self, make: Maker, start: Point, away: Point) -> tuple[Lettered, Point] | None:
        """A number straight out from its part, else above or below it where it would stand in a column of labels."""
        inner = paper("column") + paper("flag_frame") + 1.5 if self.labelled else 0.0
        found: list[tuple[Lettered, Point]] = []
        for way in (away, (0.0, -1.0), (0.0, 1.0)):
            place = beside(self.ground, start, way, make, paper("number_off"), 26.0, paper("flag_clear"))
            if place is not None:
                found.append((place, way))
        free = [one for one in found if inner < one[0].bounds[0] and one[0].bounds[2] < self.width - inner]
        return next(iter((*free, *found)), None)

    def told_faults(self, said: Sequence[str]) -> None:
        """What the framed numbers stand for, under the arch."""
        size, edge = paper("label"), paper("edge")
        leading, level = size * paper("leading"), self.bottom + 2.0
        for number, text in enumerate(said, 1):
            rows = wrapped(text, size, self.width - 2 * edge - 5.0)
            self._set(set_words(edge, level + leading * 0.8, self.says.number(number, 0), size, bold=True))
            for row in rows:
                self._set(set_words(edge + 4.0, level + leading * 0.8, row, size))
                level += leading
            level += 0.6
        if said:
            self.bottom = level

    def depths(self, depths: Mapping[DrawnPart, float]) -> dict[int, list[tuple[str, float]]]:
        """The depth of each undercut beside its mark; those without a free place there are given back by tooth."""
        left: dict[int, list[tuple[str, float]]] = {}
        for part in self.parts:
            if part.kind != "undercut":
                continue
            depth = depths[part]
            outer, inner = (np.array(self.at(point)) for point in part.path)
            away = (outer - inner) / (float(np.hypot(*(outer - inner))) or 1.0)
            spot = outer + away * 1.6
            found = around(
                self.ground,
                (float(spot[0]), float(spot[1])),
                Maker(self.says.number(depth, 2), paper("figure")),
                2.3,
            )
            if found is None:
                left.setdefault(part.teeth[0], []).append((part.detail, depth))
            else:
                self._set(found)
        return left

    def labels(self, said: Sequence[Label]) -> None:
        """What each part is, in two columns beside the arch."""
        for right_side in (True, False):
            mine = [label for label in said if (label.station < 8.0) == right_side]
            # From the top down along the arch, so that no two lines cross.
            mine.sort(key=lambda label: label.station, reverse=right_side == (self.sign < 0))
            ties = [Tie(label.heading, label.words, self._tie(label)) for label in mine]
            span = (paper("top") + 1.0, self.bottom)
            for placed in column(self.ground, ties, left=right_side, span=span, page=self.width):
                self.words += placed.lines
                self.leaders.append(placed.leader)
                self.bottom = max(self.bottom, placed.lines[-1].bounds[3] + 1.0)

    def _tie(self, label: Label) -> Point:
        """Where a label's line ends: outside the number of its tooth, or of the middle tooth of its run."""
        tooth = self.frame.order[min(int(label.station), 15)]
        return self.outer.get(tooth) or self.at(self.frame.facial_point(label.station, 6.0))

    def written(self) -> list[str]:
        """All words and the lines that lead to them."""
        boxes = [
            np.array([(left, top), (right, top), (right, bottom), (left, bottom)])
            for left, top, right, bottom in self.frames
        ]
        return [
            lines(self.leaders, Pen(0.25)),
            lines(boxes, Pen(0.4), close=True),
            *(written(one, INK) for one in self.words),
        ]

    def legend(self, top: float) -> tuple[list[str], float]:
        """The symbols that were used, each with its words, in columns under the arch; and where it ends."""
        names = block("legend")
        used = {ink.symbol_of(part) for part in self.parts}
        found, words, bottom = entries(
            [name for name in names if name in used], names, top, self.width, self.says
        )
        self.words += words
        return found, bottom


def _middle(words: Lettered) -> Point:
    left, top, right, bottom = words.bounds
    return ((left + right) / 2, (top + bottom) / 2)
