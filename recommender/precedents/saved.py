"""A library of encoded situations kept on disk beside its cases, and opened without reading most of it.

A folder holds one sub-folder a build (plain ``.npy`` arrays, no pickle) and ``current.json``, which names
the build in force, the version of the cases that it was made from and of the similarity tables, and a
checksum of every file. ``current.json`` is replaced last, so a crash leaves the former build in force.
Whatever does not fit (another version, a missing, shortened or altered file) raises ``UnfitIndexError``; it
is never served.
"""

import json
import mmap
import os
import shutil
import tempfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from recommender.facts.values import Value
from recommender.precedents.blocks import Merged
from recommender.precedents.columns import APPROVED, MAXILLA, OUTCOME, Columns
from recommender.precedents.index import Level, Trie
from recommender.precedents.library import PrecedentLibrary
from recommender.precedents.model import Situation
from recommender.precedents.shelf import Part, RowSource, Shelf
from recommender.precedents.tables import FeatureSet, Likeness

FORMAT = 1
Arrays = dict[str, npt.NDArray[Any]]


class UnfitIndexError(Exception):
    """The saved library is missing, damaged, or of another version; the message says which. Build it anew."""


class DecodedValues(Mapping[str, Value | None]):
    """The feature values of a row, decoded when they are looked at."""

    __slots__ = ("_codes", "_features", "_places")

    def __init__(self, features: FeatureSet, places: Mapping[str, int], codes: bytes) -> None:
        self._features, self._places, self._codes = features, places, codes

    def __getitem__(self, name: str) -> Value | None:
        place = self._places[name]
        return self._features.weighted[place].feature.decode(self._codes[place])

    def __iter__(self) -> Iterator[str]:
        return iter(self._places)

    def __len__(self) -> int:
        return len(self._places)

    def __repr__(self) -> str:
        return repr(dict(self))


@dataclass(frozen=True, slots=True)
class StoredRows:
    """Rows as situations. Feature values come back to the fineness of their codes, fingerprints as 32 digits."""

    features: FeatureSet
    columns: Columns
    choices: npt.NDArray[np.int32]
    worths: npt.NDArray[np.float64]
    verdicts: npt.NDArray[np.int32]
    words: tuple[str, ...]
    places: Mapping[str, int]

    def __getitem__(self, row: int, /) -> Situation:
        columns, flags = self.columns, int(self.columns.flags[row])
        values = DecodedValues(self.features, self.places, columns.codes[row].tobytes())
        high, low = columns.prints[row].tolist()
        choice = int(self.choices[row])
        return Situation(
            columns.case_ids[row].decode(), self.features.kind, int(columns.sites[row]),  # type: ignore[arg-type]
            "maxilla" if flags & MAXILLA else "mandible", values, None if choice < 0 else self.words[choice],
            float(self.worths[row]), self.words[int(self.verdicts[row])], bool(flags & APPROVED),
            bool(flags & OUTCOME), f"{high:016x}{low:016x}" if high or low else "",
        )  # fmt: skip

    def choice_worths(self, among: npt.NDArray[np.bool_]) -> Iterable[tuple[str, float, float]]:
        """Each choice among these rows with its least and greatest worth."""
        for choice in np.unique(self.choices[among]).tolist():
            if choice >= 0:
                worths = self.worths[among & (self.choices == choice)]
                yield self.words[choice], float(worths.min()), float(worths.max())


def places_of(features: FeatureSet) -> dict[str, int]:
    """Feature name to its place in a row of codes."""
    return {name: place for place, name in enumerate(features.names)}


def stored_rows(
    features: FeatureSet, columns: Columns, choices: Iterable[str | None], worths: Iterable[float],
    verdicts: Iterable[str],
) -> StoredRows:  # fmt: skip
    """Rows to be saved, from what was chosen and how it fared, row by row."""
    numbers: dict[str, int] = {}

    def number(word: str | None) -> int:
        return -1 if word is None else numbers.setdefault(word, len(numbers))

    chosen = np.array([number(word) for word in choices], dtype=np.int32)
    told = np.array([number(word) for word in verdicts], dtype=np.int32)
    fared = np.array(list(worths), dtype=np.float64)
    return StoredRows(features, columns, chosen, fared, told, tuple(numbers), places_of(features))


def _as_stored(features: FeatureSet, part: Part) -> StoredRows:
    if isinstance(part.rows, StoredRows):
        return part.rows
    rows = [part.rows[row] for row in range(len(part.columns))]
    return stored_rows(
        features, part.columns, [s.choice for s in rows], [s.worth for s in rows], [s.verdict for s in rows]
    )


def _arrays(rows: StoredRows, trie: Trie | None) -> Arrays:
    columns = rows.columns
    found: Arrays = {
        "codes": columns.codes, "flags": columns.flags, "prints": columns.prints, "case_ids": columns.case_ids,
        "sites": columns.sites, "choices": rows.choices, "worths": rows.worths, "verdicts": rows.verdicts,
        "words": np.frombuffer(json.dumps(rows.words).encode(), dtype=np.uint8),
    }  # fmt: skip
    if trie is not None:
        found |= {"order": trie.order, "rest_codes": trie.rest_codes, "present": trie.present}
        found["rest"] = np.array(trie.rest, dtype=np.int64)
        for depth, level in enumerate(trie.levels):
            found |= {f"keys{depth}": level.keys, f"starts{depth}": level.starts, f"held{depth}": level.flags}
            found[f"group{depth}"] = np.array(trie.groups[depth], dtype=np.int64)
            found[f"table{depth}"] = trie.combinations[depth]
        for at, key in enumerate(trie.merged.keys):
            found[f"merged_keys{at}"], found[f"merged_table{at}"] = key, trie.merged.combinations[at]
            found[f"merged_group{at}"] = np.array(trie.merged.groups[at], dtype=np.int64)
    return found


def _trie(arrays: Arrays) -> Trie | None:
    if "order" not in arrays:
        return None

    def several(name: str) -> list[npt.NDArray[Any]]:
        return [arrays[f"{name}{n}"] for n in range(len(arrays)) if f"{name}{n}" in arrays]

    levels = tuple(map(Level, several("keys"), several("starts"), several("held")))
    groups = tuple(tuple(group.tolist()) for group in several("group"))
    merged_groups = tuple(tuple(group.tolist()) for group in several("merged_group"))
    merged = Merged(merged_groups, tuple(several("merged_table")), tuple(several("merged_keys")))
    return Trie(
        groups, tuple(several("table")), levels, arrays["order"], tuple(arrays["rest"].tolist()),
        arrays["rest_codes"], arrays["present"], merged,
    )  # fmt: skip


def _part(features: FeatureSet, arrays: Arrays) -> Part:
    columns = Columns(*(arrays[name] for name in ("codes", "flags", "prints", "case_ids", "sites")))
    words = tuple(json.loads(arrays["words"].tobytes()))
    rows: RowSource = StoredRows(
        features, columns, arrays["choices"], arrays["worths"], arrays["verdicts"], words, places_of(features)
    )
    return Part(columns, rows, _trie(arrays))


def _checksum(path: Path) -> int:
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as content:
        return zlib.adler32(content)


def _mapped(path: Path, checksum: int | None) -> npt.NDArray[Any]:
    """The array in a ``.npy`` file, mapped into memory. Checking it also brings its pages in."""
    try:
        with path.open("rb") as file:
            content = mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)
            if checksum is not None and zlib.adler32(content) != checksum:
                raise UnfitIndexError(f"{path.name} is damaged")
            if np.lib.format.read_magic(file) != (1, 0):
                raise UnfitIndexError(f"{path.name} is of another version")
            shape, _, dtype = np.lib.format.read_array_header_1_0(file)
            offset = file.tell()
        size = int(np.prod(shape))
        if not size or dtype.hasobject:
            return np.zeros(shape, dtype=np.uint8 if dtype.hasobject else dtype)
        return np.frombuffer(content, dtype, size, offset).reshape(shape)
    except (OSError, ValueError) as error:
        raise UnfitIndexError(f"{path.name} cannot be read: {error}") from error


def _write_json(path: Path, value: object) -> None:
    text = json.dumps(value)
    body = {"sum": zlib.crc32(text.encode()), "body": text}
    with tempfile.NamedTemporaryFile("w", dir=path.parent, delete=False, encoding="utf-8") as file:
        json.dump(body, file)
        file.flush()
        os.fsync(file.fileno())
    os.replace(file.name, path)


def save(library: PrecedentLibrary, folder: Path, source_version: str) -> None:
    """Keep this library in ``folder`` (made if need be) as that of the cases' ``source_version``."""
    folder.mkdir(parents=True, exist_ok=True)
    build = Path(tempfile.mkdtemp(prefix="build-", dir=folder))
    files: dict[str, int] = {}
    parts: dict[str, int] = {}
    for kind, shelf in library.shelves.items():
        parts[kind] = len(shelf.parts)
        for number, part in enumerate(shelf.parts):
            arrays = _arrays(_as_stored(shelf.features, part), part.trie) | {"flags": part.columns.flags}
            if number == 0:
                arrays["counts"] = shelf.counts
            for name, array in arrays.items():
                path = build / f"{kind}.{number}.{name}.npy"
                np.save(path, np.ascontiguousarray(array), allow_pickle=False)
                files[path.name] = _checksum(path)
    stamp = {
        "format": FORMAT, "build": build.name, "source": source_version, "likeness": library.likeness.version,
        "parts": parts, "files": files,
    }  # fmt: skip
    _write_json(folder / "current.json", stamp)
    for other in folder.glob("build-*"):
        if other.name != build.name:
            shutil.rmtree(other, ignore_errors=True)


def held_version(folder: Path) -> str | None:
    """The version of the cases that the kept library was made from; ``None`` if there is none that can be read.

    To bring it up to date: ``load`` it at that version, ``changed`` by the cases that differ since, ``save``.
    """
    try:
        return str(_read_stamp(folder)["source"])
    except UnfitIndexError:
        return None


def _read_stamp(folder: Path) -> dict[str, Any]:
    try:
        held = json.loads((folder / "current.json").read_text(encoding="utf-8"))
        if zlib.crc32(held["body"].encode()) != held["sum"]:
            raise UnfitIndexError("current.json is damaged")
        stamp: dict[str, Any] = json.loads(held["body"])
    except (OSError, ValueError, KeyError, TypeError, AttributeError) as error:
        raise UnfitIndexError(f"current.json cannot be read: {error}") from error
    return stamp


def _stamp(folder: Path, source_version: str, likeness: Likeness) -> dict[str, Any]:
    stamp = _read_stamp(folder)
    for key, wanted in (("format", FORMAT), ("source", source_version), ("likeness", likeness.version)):
        if stamp[key] != wanted:
            raise UnfitIndexError(f"{key} is {stamp[key]}, wanted {wanted}")
    return stamp


def load(folder: Path, source_version: str, likeness: Likeness, *, check: bool = True) -> PrecedentLibrary:
    """The library kept in ``folder``, its arrays mapped into memory and read as they are needed.

    Every file's checksum is worked out first, unless ``check`` is ``False``. Raises ``UnfitIndexError``.
    """
    stamp = _stamp(folder, source_version, likeness)
    build = folder / stamp["build"]
    arrays: dict[str, Arrays] = {}
    for name, checksum in stamp["files"].items():
        kind, number, array, _ = name.split(".")
        arrays.setdefault(f"{kind}.{number}", {})[array] = _mapped(build / name, checksum if check else None)
    shelves = {}
    for kind, features in likeness.kinds.items():
        parts = tuple(_part(features, arrays[f"{kind}.{n}"]) for n in range(stamp["parts"][kind]))
        shelves[kind] = Shelf.of_parts(features, parts, np.array(arrays[f"{kind}.0"]["counts"]))
    return PrecedentLibrary(likeness, shelves)


def open_or_build(
    folder: Path,
    source_version: str,
    likeness: Likeness,
    situations: Callable[[], Iterable[Situation]],
    told: Callable[[str], None] = lambda _: None,
) -> PrecedentLibrary:
    """The kept library if it fits, else one built anew from ``situations()`` and kept; ``told`` hears why."""
    try:
        return load(folder, source_version, likeness)
    except UnfitIndexError as why:
        told(str(why))
    library = PrecedentLibrary.build(situations(), likeness)
    save(library, folder, source_version)
    return library
