"""Words as outlines: the same drawing wherever it is shown, whatever faces are there; widths are measured, not guessed.

The outlines come from ``shared/lettering/`` (README there); sizes are millimetres, y runs down, as on the paper.
"""

from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any
from xml.sax.saxutils import quoteattr

from recommender.resources import shared

Bounds = tuple[float, float, float, float]
_INSTEAD = {"\u2010": "-", "\u2011": "-", "\u2032": "'", "\u2033": '"', "\u00a0": " ", "\u202f": " "}
_UNKNOWN = "?"


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text in its place: ``bounds`` is the box of its ink (left, top, right, bottom)."""

    words: str
    x: float
    y: float
    size: float
    bold: bool
    bounds: Bounds


@cache
def _face(bold: bool) -> tuple[float, dict[str, Any]]:
    import json

    loaded = json.loads(shared("lettering", "lettering.json").read_bytes())
    return float(loaded["em"]), loaded["styles"]["bold" if bold else "regular"]


@lru_cache(maxsize=4096)
def _measured(words: str, bold: bool) -> tuple[float, Bounds, str]:
    """Advance, ink box and path of a line, in the face's own units."""
    _, face = _face(bold)
    at, pen_x, pen_y = 0.0, 0, 0
    left, top, right, bottom = 1e9, 1e9, -1e9, -1e9
    pieces = []
    for letter in words:
        advance, end, box, path = face.get(_INSTEAD.get(letter, letter)) or face[_UNKNOWN]
        if path:
            origin = round(at)
            pieces.append(f"m{origin - pen_x} {-pen_y}{path}")
            pen_x, pen_y = origin + end[0], end[1]
            left, top = min(left, origin + box[0]), min(top, box[1])
            right, bottom = max(right, origin + box[2]), max(bottom, box[3])
        at += advance
    if right < left:
        left = top = right = bottom = 0.0
    return at, (left, top, right, bottom), "".join(pieces)


def width(words: str, size: float, bold: bool = False) -> float:
    """How far a line of text advances (mm)."""
    return _measured(words, bold)[0] * size / _face(bold)[0]


def set_words(
    x: float, y: float, words: str, size: float, *, anchor: str = "start", bold: bool = False
) -> Words:
    """A line of text with ``y`` as its base line; ``anchor`` start, middle or end."""
    scale = size / _face(bold)[0]
    advance, (left, top, right, bottom), _ = _measured(words, bold)
    x -= {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * advance * scale
    bounds = (x + left * scale, y + top * scale, x + right * scale, y + bottom * scale)
    return Words(words, x, y, size, bold, bounds)


def centred(x: float, y: float, words: str, size: float, *, bold: bool = False) -> Words:
    """A line of text whose ink is centred at a point."""
    placed = set_words(x, y, words, size, anchor="middle", bold=bold)
    left, top, right, bottom = placed.bounds
    return set_words(
        x + x - (left + right) / 2, y + y - (top + bottom) / 2, words, size, anchor="middle", bold=bold
    )


def written(words: Words, ink: str) -> str:
    """The line as SVG, named by its own words; coordinates in hundredths of a millimetre."""
    if not words.words.strip():
        return ""
    em = _face(words.bold)[0]
    _, _, path = _measured(words.words, words.bold)
    scale = f"{100 * words.size / em:.4f}".rstrip("0").rstrip(".")
    return (
        f'<path role="img" aria-label={quoteattr(words.words)} fill="{ink}" '
        f'transform="translate({round(words.x * 100)} {round(words.y * 100)})scale({scale})" d="{path}"/>'
    )


def wrapped(words: str, size: float, most: float, *, first: float = 0.0) -> list[str]:
    """Text broken into lines no wider than ``most`` mm; ``first`` is taken off the first line. A word that is too
    long is cut."""
    lines: list[str] = [""]
    for word in words.split():
        room = most - (first if len(lines) == 1 else 0.0)
        joined = f"{lines[-1]} {word}".strip()
        if width(joined, size) <= room:
            lines[-1] = joined
            continue
        if lines[-1] or len(lines) == 1:
            lines.append("")
        while width(word, size) > most and len(word) > 4:
            cut = len(word) - 1
            while cut > 3 and width(word[:cut] + "-", size) > most:
                cut -= 1
            lines[-1] = word[:cut] + "-"
            lines.append("")
            word = word[cut:]
        lines[-1] = word
    return lines
