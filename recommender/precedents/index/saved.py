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
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from recommender.precedents.library import PrecedentLibrary
from recommender.precedents.search.blocks import Merged
from recommender.precedents.search.columns import Columns
from recommender.precedents.search.rows import StoredRows, packed, places_of
from recommender.precedents.search.segments import Part, RowSource, Shelf
from recommender.precedents.search.tables import FeatureSet, Likeness
from recommender.precedents.search.trie import Level, Trie

FORMAT = 1
Arrays = dict[str, npt.NDArray[Any]]


class UnfitIndexError(Exception):
    """The saved library is missing, damaged, or of another version; the message says which. Build it anew."""


def _as_stored(features: FeatureSet, part: Part) -> StoredRows:
    if isinstance(part.rows, StoredRows):
        return part.rows
    return packed(features, (part.rows[row] for row in range(len(part.columns))))


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
    with tempfile.NamedTemporaryFile(
        "w", dir=path.parent, prefix="current-", suffix=".part", delete=False, encoding="utf-8"
    ) as file:
        json.dump(body, file)
        file.flush()
        os.fsync(file.fileno())
    os.replace(file.name, path)


def save(
    library: PrecedentLibrary, folder: Path, source_version: str, before: PrecedentLibrary | None = None
) -> None:
    """Keep this library in ``folder`` (made if need be) as that of the cases' ``source_version``.

    ``before`` is the library that was loaded from this folder and changed into this one: files of parts that did
    not change are taken over instead of written. One writer at a time; readers need not wait.
    """
    folder.mkdir(parents=True, exist_ok=True)
    held = _read_stamp(folder) if before is not None else {}
    build = Path(tempfile.mkdtemp(prefix="build-", dir=folder))
    files: dict[str, int] = {}
    parts: dict[str, int] = {}
    for kind, shelf in library.shelves.items():
        parts[kind] = len(shelf.parts)
        for number, part in enumerate(shelf.parts):
            start = f"{kind}.{number}."
            old = before.shelves[kind].parts if before is not None else ()
            arrays: Arrays = {"flags": part.columns.flags}
            if number < len(old) and old[number].rows is part.rows and old[number].trie is part.trie:
                fresh = {f"{start}flags.npy", f"{start}counts.npy"}
                same = {n: c for n, c in held["files"].items() if n.startswith(start) and n not in fresh}
                for name in same:
                    _take_over(folder / held["build"] / name, build / name)
                files |= same
            else:
                arrays = _arrays(_as_stored(shelf.features, part), part.trie) | arrays
            if number == 0:
                arrays["counts"] = shelf.counts
            for name, array in arrays.items():
                path = build / f"{start}{name}.npy"
                np.save(path, np.ascontiguousarray(array), allow_pickle=False)
                files[path.name] = _checksum(path)
    stamp = {
        "format": FORMAT, "build": build.name, "source": source_version, "likeness": library.likeness.version,
        "parts": parts, "files": files,
    }  # fmt: skip
    _write_json(folder / "current.json", stamp)
    _sweep(folder, build.name)


def _take_over(old: Path, new: Path) -> None:
    try:
        os.link(old, new)
    except OSError:  # some file systems have no links
        shutil.copyfile(old, new)


def _sweep(folder: Path, current: str) -> None:
    """Take away former builds, and what a writer that was stopped left behind."""
    for other in folder.glob("build-*"):
        if other.name != current:
            shutil.rmtree(other, ignore_errors=True)
    for part in folder.glob("current-*.part"):
        part.unlink(missing_ok=True)


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
    names = list(stamp["files"])

    def mapped(name: str) -> npt.NDArray[Any]:
        return _mapped(build / name, stamp["files"][name] if check else None)

    arrays: dict[str, Arrays] = {}
    # summing and reading wait outside the interpreter, so that several threads do them side by side
    with ThreadPoolExecutor(min(4, os.cpu_count() or 1)) as pool:
        for name, array in zip(names, pool.map(mapped, names), strict=True):
            kind, number, what, _ = name.split(".")
            arrays.setdefault(f"{kind}.{number}", {})[what] = array
    shelves = {}
    for kind, features in likeness.kinds.items():
        parts = tuple(_part(features, arrays[f"{kind}.{n}"]) for n in range(stamp["parts"][kind]))
        shelves[kind] = Shelf.of_parts(features, parts, np.array(arrays[f"{kind}.0"]["counts"]))
    return PrecedentLibrary(likeness, shelves)
