"""What is plausible for a field that was not recorded: shares of values, from ``shared/plausible/``.

An entry speaks of one field pattern (``abutments[].tilt``), perhaps only for some teeth or spaces (``where``),
perhaps depending on one other field (``parent``). Fields so form trees; ``worlds`` draws from them.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from statistics import NormalDist
from typing import Any

import numpy as np
import numpy.typing as npt
import yaml

from recommender.domain.dentition import is_anterior, tooth_type
from recommender.resources import shared

Shares = npt.NDArray[np.float64]
FILES = ("patient.yaml", "spaces.yaml", "teeth.yaml")
_NUMBER = re.compile(r"\[\d+\]")
_PIECES = 5


class PlausibleError(ValueError):
    """A faulty entry; the message names file, field and what is wrong."""


@dataclass(frozen=True, slots=True)
class Entry:
    """What one field may be.

    ``values`` in the order of ``shares``; ``table`` has one row for each answer of the parent as ``bands``
    tell them (one row where there is no parent). ``relative_to``: values are numbers of teeth added, or factors
    of the published widths. ``words`` tell a reader what is taken for granted.
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

    def row(self, answer: Any) -> int:
        """The row of ``table`` for an answer of the parent; ``ValueError`` for a word that it lacks."""
        if not self.bands:
            return 0
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
    """All entries by pattern, in file order, and the patterns that hang on each."""

    entries: Mapping[str, tuple[Entry, ...]]
    children: Mapping[str, tuple[str, ...]]

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
    return str(list(value)) if isinstance(value, (list, tuple, set, frozenset)) else str(value)


def normal_pieces(mean: float, sd: float, low: float, high: float, pieces: int) -> list[float]:
    """Middles (by share) of pieces of equal share of a normal curve cut off at ``low`` and ``high``."""
    curve = NormalDist(mean, sd)
    first, last = curve.cdf(low), curve.cdf(high)
    return [curve.inv_cdf(first + (last - first) * (i + 0.5) / pieces) for i in range(pieces)]


def _values(raw: Mapping[str, Any], where: str) -> tuple[tuple[Any, ...], list[float] | None]:
    normal = raw.get("normal")
    if normal is None:
        return tuple(sorted(v) if isinstance(v, list) else v for v in raw["values"]), None
    step = float(normal["step"])
    middles = normal_pieces(
        float(normal["mean"]), float(normal["sd"]), float(normal["low"]), float(normal["high"]), _PIECES
    )
    rounded = [round(round(value / step) * step, 6) for value in middles]
    values = sorted(set(rounded))
    if len(values) < 2:
        raise PlausibleError(f"{where}: the step is too coarse for its spread")
    return tuple(values), [rounded.count(value) / _PIECES for value in values]


def _table(raw: Mapping[str, Any], size: int, where: str) -> tuple[Shares, tuple[Any, ...]]:
    shares = raw["shares"]
    bands: tuple[Any, ...] = ()
    if isinstance(shares, dict):
        bands = tuple(float(key) if isinstance(key, (int, float)) else key for key in shares)
        rows = list(shares.values())
    elif isinstance(shares[0], dict):
        bands = ("upto", *(band.get("upto") for band in shares))
        rows = [band["are"] for band in shares]
        if bands[-1] is not None or None in bands[1:-1]:
            raise PlausibleError(f"{where}: the last band, and it alone, goes without upto")
    else:
        rows = [shares]
    if bands and "parent" not in raw and "same_place" not in raw:
        raise PlausibleError(f"{where}: shares by band, but no parent")
    table = np.array(rows, dtype=float)
    if (
        table.ndim != 2
        or table.shape[1] != size
        or (table < 0).any()
        or abs(table.sum(axis=1) - 1).max() > 1e-9
    ):
        raise PlausibleError(f"{where}: shares must be one for each of {size} values and add up to 1")
    return table, bands


def _entries(raw: Mapping[str, Any], where: str) -> list[Entry]:
    names = raw["field"] if isinstance(raw["field"], list) else [raw["field"]]
    values, shares = _values(raw, where)
    table, bands = _table({**raw, "shares": shares} if shares else raw, len(values), where)
    asked = {
        key: value if isinstance(value, list) else [value] for key, value in raw.get("where", {}).items()
    }
    words = {
        _key(key) if not isinstance(key, str) else key: text for key, text in raw.get("word", {}).items()
    }
    parent = raw.get("parent") or (f"={raw['same_place']}" if "same_place" in raw else None)
    made = []
    for name in names:
        made.append(
            Entry(
                name, asked, values, table, bands, parent, raw.get("relative_to"), words, raw["source"],
                raw["found"],
            )
        )  # fmt: skip
    return made


def parse(texts: Mapping[str, str]) -> Plausible:
    """The entries of several files by name. Raises :class:`PlausibleError`."""
    entries: dict[str, list[Entry]] = {}
    for name, text in texts.items():
        raw = yaml.load(text, getattr(yaml, "CSafeLoader", yaml.SafeLoader))
        if not isinstance(raw, dict) or raw.get("format") != 1:
            raise PlausibleError(f"{name}: format must be 1")
        for item in raw["fields"]:
            where = f"{name}: {item.get('field')}"
            try:
                found = _entries(item, where)
            except (KeyError, TypeError, IndexError) as error:
                raise PlausibleError(f"{where}: lacks or misuses {error}") from error
            for entry in found:
                entries.setdefault(entry.field, []).append(entry)
    children: dict[str, list[str]] = {}
    for pattern, known in entries.items():
        parents = {entry.parent for entry in known}
        if len(parents) > 1:
            raise PlausibleError(f"{pattern}: one parent in every variant, found {sorted(map(str, parents))}")
        parent = parents.pop()
        if parent is not None and not parent.startswith("="):
            if parent not in entries:
                raise PlausibleError(f"{pattern}: its parent {parent} has no entry")
            children.setdefault(parent, []).append(pattern)
    return Plausible(
        {pattern: tuple(known) for pattern, known in entries.items()},
        {parent: tuple(found) for parent, found in children.items()},
    )


@cache
def plausible() -> Plausible:
    """The project's own entries, read once."""
    return parse({name: shared("plausible", name).read_text(encoding="utf-8") for name in FILES})


@cache
def figures(name: str) -> Mapping[str, Any]:
    """``judgement`` or ``standing``: the figures of that file."""
    text = shared("plausible", f"{name}.yaml").read_text(encoding="utf-8")
    found: Mapping[str, Any] = yaml.load(text, getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    return found
