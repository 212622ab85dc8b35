"""Where words stand on the paper: measured boxes that touch neither each other nor the drawing."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from shapely import STRtree, intersects
from shapely import box as box_array
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from recommender.documents.drawing.figures import paper
from recommender.documents.drawing.lettering import Words, set_words, width, wrapped
from recommender.mechanics.arch import Point

_LEADER_MM = 0.35


@dataclass(frozen=True, slots=True)
class Tie:
    """What a label says, and the point of the drawing that it belongs to (mm on paper)."""

    heading: str
    words: str
    at: Point


@dataclass(frozen=True, slots=True)
class Placed:
    """A label in its place: its lines of text, and the line that leads to the drawing."""

    lines: tuple[Words, ...]
    leader: tuple[Point, ...]


class Ground:
    """The ink of the drawing and the words already set: what new words must keep clear of."""

    def __init__(self, ink: Sequence[BaseGeometry]) -> None:
        self._tree = STRtree(ink)
        self._taken = np.empty((0, 4))

    def take(self, words: Iterable[Words]) -> None:
        """Words that have their place now."""
        boxes = [one.bounds for one in words if one.words.strip()]
        self._taken = np.vstack((self._taken, *[np.array([one]) for one in boxes]))

    def first_free(self, found: Sequence[Words], clear: float) -> Words | None:
        """The first of some places that keeps its distance from ink and words."""
        if not found:
            return None
        boxes = np.array([one.bounds for one in found]) + np.array([-clear, -clear, clear, clear])
        low, high, taken = boxes[:, None, :2], boxes[:, None, 2:], self._taken
        meets = ((taken[:, :2] < high) & (low < taken[:, 2:])).all(axis=2).any(axis=1)
        open_ = np.flatnonzero(~meets)
        if not len(open_):
            return None
        shapes = box_array(*boxes[open_].T)
        inked = np.zeros(len(open_), dtype=bool)
        inked[self._tree.query(shapes, predicate="intersects")[0]] = True
        free = open_[~inked]
        return found[int(free[0])] if len(free) else None

    def crossed(self, line: Sequence[Point]) -> float:
        """How much ink and how many words a line runs through: 0 if none."""
        path = LineString(line)
        met = 3.0 * len(self._tree.query(path, predicate="intersects"))
        grown = self._taken + np.array([-_LEADER_MM, -_LEADER_MM, _LEADER_MM, _LEADER_MM])
        low_x, low_y, high_x, high_y = path.bounds
        near = (grown[:, 0] < high_x) & (low_x < grown[:, 2]) & (grown[:, 1] < high_y) & (low_y < grown[:, 3])
        if near.any():
            met += float(intersects(box_array(*grown[near].T), path).sum())
        return met


def beside(
    ground: Ground,
    start: Point,
    direction: Point,
    make: "Maker",
    first: float,
    last: float,
    clear: float | None = None,
) -> Words | None:
    """Words at the first free place along a direction from a point, between two distances."""
    distances = np.arange(first, last, 0.4)
    for some in (distances[:6], distances[6:]):  # mostly one of the first is free
        places = [make(start[0] + direction[0] * d, start[1] + direction[1] * d) for d in some]
        found = ground.first_free(places, paper("clear") if clear is None else clear)
        if found is not None:
            return found
    return None


class Maker:
    """Sets the same words at any place, their ink centred."""

    def __init__(self, words: str, size: float, bold: bool = False) -> None:
        self.words, self.size, self.bold = words, size, bold
        probe = set_words(0.0, 0.0, words, size, bold=bold).bounds
        self._middle = ((probe[0] + probe[2]) / 2, (probe[1] + probe[3]) / 2)
        self.half = ((probe[2] - probe[0]) / 2, (probe[3] - probe[1]) / 2)

    def __call__(self, x: float, y: float) -> Words:
        return set_words(x - self._middle[0], y - self._middle[1], self.words, self.size, bold=self.bold)


def around(ground: Ground, spot: Point, make: Maker, reach: float) -> Words | None:
    """Words at the free place nearest to a spot, no further than ``reach`` mm."""
    found = [make(*spot)]
    for distance in np.arange(0.45, reach, 0.45):
        count = max(6, int(distance * 6))
        found += [
            make(spot[0] + distance * math.cos(turn), spot[1] + distance * math.sin(turn))
            for turn in np.arange(count) * 2 * math.pi / count
        ]
    return ground.first_free(found, 0.3)


def column(
    ground: Ground, ties: Sequence[Tie], *, left: bool, span: tuple[float, float], page: float
) -> list[Placed]:
    """Labels stacked in one column from the top down, none over another, each with a line to its tie.

    ``span`` is where the column may begin and should end (y); a longer stack runs on below.
    """
    size, leading = paper("label"), paper("label") * paper("leading")
    wide = paper("column") - paper("edge")
    x = paper("edge") if left else page - paper("column")
    entries = []
    for tie in ties:
        lead = width(tie.heading + " ", size, True) + 0.5
        rows = wrapped(tie.words, size, wide, first=lead)
        entries.append((tie, lead, rows, len(rows) * leading))
    tops = _stacked([(tie.at[1], tall) for tie, _, _, tall in entries], span)
    found = []
    for (tie, lead, rows, _), top in zip(entries, tops, strict=True):
        words = [set_words(x, top + leading * 0.8, tie.heading, size, bold=True)]
        for index, row in enumerate(rows):
            shift = lead if index == 0 else 0.0
            words.append(set_words(x + shift, top + leading * (index + 0.8), row, size))
        words = [one for one in words if one.words.strip()]
        ground.take(words)
        found.append((tie, words))
    return [Placed(tuple(words), _leader(ground, tie.at, words, left)) for tie, words in found]


def _stacked(wanted: Sequence[tuple[float, float]], span: tuple[float, float]) -> list[float]:
    """Tops of blocks as near as may be to where they are wanted (their middle, their height), in order."""
    gap = paper("gap")
    tops: list[float] = []
    level = span[0]
    for at, tall in wanted:
        level = max(level, at - tall / 2)
        tops.append(level)
        level += tall + gap
    limit = span[1] + gap
    for index in range(len(tops) - 1, -1, -1):
        tops[index] = max(span[0], min(tops[index], limit - wanted[index][1] - gap))
        limit = tops[index]
    floor = span[0]
    for index, (_, tall) in enumerate(wanted):
        tops[index] = max(tops[index], floor)
        floor = tops[index] + tall + gap
    return tops


def _leader(ground: Ground, tie: Point, words: Sequence[Words], left: bool) -> tuple[Point, ...]:
    """A line from a label to its tie: straight where nothing is in the way, else with a bend, else from a lower row."""
    best: tuple[float, tuple[Point, ...]] | None = None
    line: tuple[Point, ...]
    for level in sorted({one.y for one in words}):
        row = [one for one in words if one.y == level]
        edge = max(one.bounds[2] for one in row) + 0.9 if left else min(one.bounds[0] for one in row) - 0.9
        start = (edge, level - row[0].size * 0.33)
        bends = [start[0] + (tie[0] - start[0]) * share for share in (0.25, 0.45, 0.65, 0.85, 1.0)]
        inner = paper("column") + 0.6
        if left and inner > edge:
            bends.append(inner)
        bent = [(start, (x, y), tie) for y in (start[1], tie[1]) for x in bends]
        twice = [(start, (x, start[1]), (x, tie[1]), tie) for x in bends]
        for line in ((start, tie), *bent, *twice):
            met = ground.crossed(line)
            if met == 0:
                return line
            if best is None or met < best[0]:
                best = (met, line)
    assert best is not None
    return best[1]
