"""What is plausible for a field that was not recorded: shares of values, from ``shared/plausible/``.

An entry speaks of one field pattern (``abutments[].tilt``), perhaps only for some teeth or spaces (``where``),
perhaps depending on one other field (``parent``). Fields so form trees; ``worlds`` draws from them. A field
``mouth.…`` stands in no case: it is what the teeth of one mouth have in common, told only by what hangs on it.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from statistics import NormalDist
from typing import Any

import numpy as np
import numpy.typing as npt

from recommender.domain.dentition import is_anterior, tooth_type
from recommender.knowledge.figures.files import Figures
from recommender.knowledge.figures.plausible import (
    JudgementFigures,
    PlausibleField,
    PlausibleFile,
    StandingFigures,
)
from recommender.knowledge.in_force import knowledge

Shares = npt.NDArray[np.float64]
HIDDEN = "mouth."
_NUMBER = re.compile(r"\[\d+\]")
_PIECES = 5
_KEPT = 8


@dataclass(frozen=True, slots=True)
class Entry:
    """What one field may be.

    ``values`` in the order of ``shares``; ``table`` has one row for each answer of the parent as ``bands``
    tell them (one row where there is no parent); with ``parent_has``, for whether the parent's list has that word.
    ``relative_to``: values are numbers of teeth added, or factors
    of the published widths. ``words`` tell a reader what is taken for granted. ``own``: so many of a library's own
    records are behind it (``learned``); 0 where it stands as published.
    """

    field: str
    where: Mapping[str, Any]
    values: tuple[Any, ...]
    table: Shares
    bands: tuple[Any, ...]
    parent: str | None
    relative_to: str | None
    words: Mapping[str, str]
    source: str
    found: str
    parent_has: str | None = None
    own: int = 0

    def row(self, answer: Any) -> int:
        """The row of ``table`` for an answer of the parent; ``ValueError`` for a word that it lacks."""
        if not self.bands:
            return 0
        if self.parent_has is not None:
            return self.bands.index("true" if self.parent_has in answer else "false")
        if self.bands[0] == "upto":
            number = 90.0 if answer == "90+" else float(answer)
            return next(i for i, top in enumerate(self.bands[1:]) if top is None or number < top)
        if isinstance(self.bands[0], float) and not isinstance(answer, bool):
            return int(np.argmin([abs(band - float(answer)) for band in self.bands]))
        return self.bands.index(answer)

    def nearest(self, value: Any) -> int:
        """The place in ``values`` of a recorded value: itself, or the nearest number; the likeliest else."""
        plain = sorted(value) if isinstance(value, (list, tuple, set, frozenset)) else value
        if plain in self.values:
            return self.values.index(plain)
        if isinstance(plain, (int, float)) and all(isinstance(v, (int, float)) for v in self.values):
            return int(np.argmin([abs(v - plain) for v in self.values]))
        return int(np.argmax(self.table.mean(axis=0)))

    def word(self, value: Any) -> str | None:
        """How a value that is taken for granted is told; ``None`` where it never is."""
        return self.words.get(_key(value))


@dataclass(frozen=True)
class Plausible:
    """All entries by pattern, in file order, and the patterns that hang on each; with the figures of judgement and
    standing that go with them."""

    entries: Mapping[str, tuple[Entry, ...]]
    children: Mapping[str, tuple[str, ...]]
    judgement: JudgementFigures
    standing: StandingFigures

    def entry(self, path: str, place: Mapping[str, Any]) -> Entry | None:
        """The entry for a path at a tooth or space like this; ``None`` for a field that is never drawn."""
        found = self.entries.get(pattern_of(path)) or self.entries.get(
            pattern_of(path).rpartition(".")[0] + ".*"
        )
        for entry in found or ():
            if all(place.get(key) in allowed for key, allowed in entry.where.items()):
                return entry
        return None


@cache
def pattern_of(path: str) -> str:
    """``abutments[14].tilt`` as ``abutments[].tilt``."""
    return _NUMBER.sub("[]", path)


def tooth_place(arch: str, tooth: int) -> dict[str, Any]:
    """What ``where`` may ask of a tooth."""
    return {"arch": arch, "tooth_type": tooth_type(tooth)}


def space_place(arch: str, teeth: Sequence[int], support: str) -> dict[str, Any]:
    """What ``where`` may ask of a space."""
    return {
        "arch": arch,
        "support": support,
        "zone": "anterior" if any(map(is_anterior, teeth)) else "posterior",
    }


def _key(value: Any) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return str(list(value)) if isinstance(value, (list, tuple, set, frozenset)) else str(value)


def normal_pieces(mean: float, sd: float, low: float, high: float, pieces: int) -> list[float]:
    """Middles (by share) of pieces of equal share of a normal curve cut off at ``low`` and ``high``."""
    curve = NormalDist(mean, sd)
    first, last = curve.cdf(low), curve.cdf(high)
    return [curve.inv_cdf(first + (last - first) * (i + 0.5) / pieces) for i in range(pieces)]


def _values(entry: PlausibleField) -> tuple[tuple[Any, ...], list[list[float]]]:
    """The values of an entry, and the shares of each, a line for each band."""
    curve = entry.normal
    if curve is None:
        values = tuple(sorted(v) if isinstance(v, list) else v for v in entry.values or ())
        return values, entry.rows
    middles = normal_pieces(curve.mean, curve.sd, curve.low, curve.high, _PIECES)
    rounded = [round(round(value / curve.step) * curve.step, 6) for value in middles]
    found = sorted(set(rounded))
    return tuple(found), [[rounded.count(value) / _PIECES for value in found]]


def _number(word: str) -> float | str:
    """A number written as a word, or the word."""
    return float(word) if re.fullmatch(r"-?\d+(\.\d+)?", word) else word


def _bands(entry: PlausibleField) -> tuple[Any, ...]:
    if isinstance(entry.shares, dict):
        return tuple(map(_number, entry.shares))
    return ("upto", *(band.upto for band in entry.bands)) if entry.bands else ()


def _where(entry: PlausibleField) -> dict[str, list[Any]]:
    asked = entry.where.model_dump(exclude_none=True)
    return {key: value if isinstance(value, list) else [value] for key, value in asked.items()}


def _entries(entry: PlausibleField) -> list[Entry]:
    values, rows = _values(entry)
    parent = entry.parent or (f"={entry.same_place}" if entry.same_place else None)
    table, bands, where = np.array(rows, dtype=float), _bands(entry), _where(entry)
    return [
        Entry(
            name,
            where,
            values,
            table,
            bands,
            parent,
            entry.relative_to,
            entry.word,
            entry.source,
            entry.found,
            entry.parent_has,
        )
        for name in entry.fields
    ]


def of_files(
    files: Sequence[PlausibleFile], judgement: JudgementFigures, standing: StandingFigures
) -> Plausible:
    """The entries of some files, arranged."""
    entries: dict[str, list[Entry]] = {}
    for file in files:
        for item in file.fields:
            for entry in _entries(item):
                entries.setdefault(entry.field, []).append(entry)
    children: dict[str, list[str]] = {}
    for pattern, known in entries.items():
        parent = known[0].parent
        if parent is not None and not parent.startswith("="):
            children.setdefault(parent, []).append(pattern)
    return Plausible(
        {pattern: tuple(known) for pattern, known in entries.items()},
        {parent: tuple(found) for parent, found in children.items()},
        judgement,
        standing,
    )


_ARRANGED: list[tuple[Figures, Plausible]] = []


def plausible(figures: Figures | None = None) -> Plausible:
    """What is plausible by these figures (``None``: those in force), arranged once for each."""
    wanted = knowledge().figures if figures is None else figures
    for known, found in _ARRANGED:
        if known is wanted:
            return found
    found = of_files(wanted.plausible_files, wanted.judgement, wanted.standing)
    _ARRANGED.append((wanted, found))
    del _ARRANGED[:-_KEPT]
    return found
