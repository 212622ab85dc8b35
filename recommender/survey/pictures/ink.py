"""The few SVG forms that the drawings of a survey need. Words are escaped; numbers are printed to 0.01."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Protocol

import numpy as np

from recommender.domain.statement import Statement
from recommender.survey.arrays import Floats

GAUGE_HATCHES = ("h25", "h50", "h75")
FONT = "font-family='Helvetica, Arial, sans-serif'"


@dataclass(frozen=True)
class Inks:
    """Ink and paper. ``pale`` is for lines that only guide the eye."""

    ink: str = "#000000"
    paper: str = "#ffffff"
    pale: str = "#767676"


class Says(Protocol):
    """What says statements and teeth in the reader's language and numbering."""

    def text(self, statement: Statement) -> str:
        """A statement in words."""

    def tooth(self, number: int) -> str:
        """A tooth as the reader writes it."""


LIGHT = Inks()
DARK = Inks("#f2f2f2", "#0e1117", "#a3a3a3")


def number(value: float) -> str:
    """A coordinate as short as it may be."""
    return f"{value:.2f}".rstrip("0").rstrip(".") or "0"


def line(
    points: Floats, ink: str, width: float, *, dashes: str = "", closed: bool = False, fill: str = "none"
) -> str:
    """A line through (n, 2) points; NaN lifts the pen."""
    if not len(points):
        return ""
    steps, down = [], False
    for x, y in points:
        if not (np.isfinite(x) and np.isfinite(y)):
            down = False
            continue
        steps.append(f"{'L' if down else 'M'}{number(x)} {number(y)}")
        down = True
    dash = f" stroke-dasharray='{dashes}'" if dashes else ""
    path = "".join(steps) + ("Z" if closed else "")
    return (
        f"<path d='{path}' fill='{fill}' stroke='{ink}' stroke-width='{number(width)}'"
        f" stroke-linejoin='round' stroke-linecap='round'{dash}/>"
    )


def segments(pairs: Floats, ink: str, width: float) -> str:
    """Many short lines (n, 2, 2) as one path."""
    path = "".join(f"M{number(a[0])} {number(a[1])}L{number(b[0])} {number(b[1])}" for a, b in pairs)
    return f"<path d='{path}' fill='none' stroke='{ink}' stroke-width='{number(width)}'/>" if path else ""


def circle(x: float, y: float, radius: float, ink: str, width: float, fill: str = "none") -> str:
    """A circle."""
    return (
        f"<circle cx='{number(x)}' cy='{number(y)}' r='{number(radius)}' fill='{fill}' stroke='{ink}'"
        f" stroke-width='{number(width)}'/>"
    )


def words(
    x: float,
    y: float,
    text: str,
    size: float,
    ink: str,
    *,
    anchor: str = "middle",
    bold: bool = False,
    halo: str = "",
) -> str:
    """A line of text; ``halo`` is the colour of the paper, where the text stands on lines."""
    weight = " font-weight='bold'" if bold else ""
    ring = f" stroke='{halo}' stroke-width='{number(size / 4)}' paint-order='stroke'" if halo else ""
    return (
        f"<text x='{number(x)}' y='{number(y)}' font-size='{number(size)}' text-anchor='{anchor}' fill='{ink}'"
        f" {FONT}{weight}{ring}>{escape(text)}</text>"
    )


def picture(parts: Iterable[str], box: Sequence[float], inks: Inks, title: str, scale: float) -> str:
    """A whole SVG document. ``box``: left, top, width, height in data units; ``scale`` pixels a unit; ``title`` for
    readers by ear. Hatchings are named after the content, so that several pictures may stand in one page."""
    left, top, width, height = box
    drawn = "".join(parts)
    own = "s" + hashlib.sha256((title + drawn).encode()).hexdigest()[:8]
    drawn = drawn.replace("url(#h", f"url(#{own}h")
    view = " ".join(number(value) for value in box)
    unit = width / 100
    return (
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='{view}' width='{number(width * scale)}'"
        f" height='{number(height * scale)}' role='img'><title>{escape(title)}</title>{_hatches(inks, unit, own)}"
        f"<rect x='{number(left)}' y='{number(top)}' width='{number(width)}' height='{number(height)}'"
        f" fill='{inks.paper}'/>{drawn}</svg>"
    )


def _hatches(inks: Inks, unit: float, own: str) -> str:
    step, thin = number(unit * 0.9), number(unit * 0.14)
    one = f"<path d='M0 0V{step}' stroke='{inks.ink}' stroke-width='{thin}'/>"
    two = f"{one}<path d='M0 0H{step}' stroke='{inks.ink}' stroke-width='{thin}'/>"
    paper = f"<rect width='{step}' height='{step}' fill='{inks.paper}'/>"
    frame = f"width='{step}' height='{step}' patternUnits='userSpaceOnUse' patternTransform='rotate(45)'"
    return (
        f"<defs><pattern id='{own}h25' {frame}>{paper}{one}</pattern>"
        f"<pattern id='{own}h50' {frame}>{paper}{two}</pattern>"
        f"<pattern id='{own}h75' {frame}><rect width='{step}' height='{step}' fill='{inks.ink}'/></pattern></defs>"
    )


def hatch_of(depth_mm: float, gauges: Sequence[float]) -> str:
    """The hatching for an undercut: paper below the first gauge, then hatched, cross-hatched, solid."""
    touched = sum(depth_mm >= gauge for gauge in gauges)
    return "none" if not touched else f"url(#{GAUGE_HATCHES[min(touched, 3) - 1]})"


def contour_segments(image: Floats, level: float, x: Floats, y: Floats) -> Floats:
    """Where an image (nx, ny) crosses a level, as short lines (n, 2, 2); cells that touch the unknown give none."""
    corners = np.stack([image[:-1, :-1], image[1:, :-1], image[1:, 1:], image[:-1, 1:]])
    place_x = np.stack([x[:-1, :-1], x[1:, :-1], x[1:, 1:], x[:-1, 1:]])
    place_y = np.stack([y[:-1, :-1], y[1:, :-1], y[1:, 1:], y[:-1, 1:]])
    crossings, cut = [], []
    with np.errstate(all="ignore"):
        for side in range(4):
            first, second = corners[side], corners[(side + 1) % 4]
            share = (level - first) / (second - first)
            crossed = (first < level) != (second < level)
            crossed &= np.isfinite(corners).all(axis=0)
            other = (side + 1) % 4
            crossings.append(
                np.stack([
                    place_x[side] + share * (place_x[other] - place_x[side]),
                    place_y[side] + share * (place_y[other] - place_y[side]),
                ], axis=-1)
            )  # fmt: skip
            cut.append(crossed)
    cuts, places = np.stack(cut), np.stack(crossings)
    plain = cuts.sum(axis=0) == 2
    cells = np.argwhere(plain)
    if not len(cells):
        return np.zeros((0, 2, 2))
    own = cuts[:, cells[:, 0], cells[:, 1]]
    first_side = own.argmax(axis=0)
    second_side = 3 - own[::-1].argmax(axis=0)
    i, j = cells.T
    return np.stack([places[first_side, i, j], places[second_side, i, j]], axis=1)
