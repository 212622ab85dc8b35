"""Cases on their way in: one row for each file, archive member, line or spreadsheet row, good or bad.

Rows are produced one by one, so memory does not grow with the number of cases. An archive is looked at as a
whole before anything is unpacked: paths that leave it, links, repeated names, and sizes beyond reason are
refused.
"""

import hashlib
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

import orjson

from recommender.domain import limits
from recommender.domain.case import Case
from recommender.domain.errors import CaseError, Problem
from recommender.domain.intake import build
from recommender.domain.parsing import Document, parse
from recommender.domain.reader import SUFFIXES, case_files
from recommender.precedents.store.errors import LibraryError

if TYPE_CHECKING:
    from recommender.precedents.store.importing.ready import Ready

MOST_MEMBERS = 500_000
MOST_UNPACKED = 4_000_000_000
MOST_RATIO = 200
RATIO_FROM = 1_000_000  # below this size a high ratio is harmless

OLDEST = "90+"


@dataclass(frozen=True, slots=True)
class Row:
    """What one row of a source holds: a case, or what is wrong with it. ``place`` names it for a person.

    ``ready``: the case with all that is worked out from it alone, where another process did so; ``cells``: the row of a
    table as it stood.
    """

    place: str
    case: Case | None
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()
    ready: "Ready | Problem | None" = None
    cells: tuple[Any, ...] = ()

    @property
    def case_id(self) -> str | None:
        """The id of the case; ``None`` for a row that holds none."""
        if self.case is not None:
            return self.case.id
        return getattr(self.ready, "case_id", None)


class BadSource(LibraryError):  # noqa: N818
    """The folder, archive or table as a whole cannot be imported."""


def from_document(document: Document, place: str, notes: tuple[str, ...] = ()) -> Row:
    """A row from parsed values. An age over 89 becomes ``90+`` before anything keeps it."""
    older = hide_age(document.value)
    try:
        return Row(place, build(document), (), (*notes, *older))
    except CaseError as error:
        return Row(place, None, error.problems, (*notes, *older))


def hide_age(data: Any) -> tuple[str, ...]:
    """Turns an age over 89 into ``90+`` in place, and says so."""
    patient = data.get("patient") if isinstance(data, dict) else None
    if not isinstance(patient, dict):
        return ()
    age = patient.get("age")
    if isinstance(age, (int, float)) and not isinstance(age, bool) and 89 < age <= 130:
        patient["age"] = OLDEST
        return ("patient.age: an age over 89 is kept as 90+",)
    return ()


def from_bytes(data: bytes, place: str) -> Row:
    """A row from the bytes of one YAML or JSON case.

    Plain JSON takes a quick way; trouble takes the one with lines.
    """
    if data[:1] == b"{" and len(data) <= limits.MOST_BYTES:
        try:
            values = orjson.loads(data)
        except orjson.JSONDecodeError:
            values = None
        if isinstance(values, dict) and not _repeats_a_key(data, values):
            row = from_document(Document(place, values), place)
            if row.case is not None:
                return row
    try:
        return from_document(parse(limits.decode(data, place), place), place)
    except CaseError as error:
        return Row(place, None, error.problems)


def _repeats_a_key(data: bytes, values: dict[str, Any]) -> bool:
    """Whether the text has more quotes than its values, as where a key stands twice in a mapping and the last wins.

    A text that is only written in an unusual way may say so too, and one with ``\\u00`` always does, for a quote may be
    written so: the careful reader then looks at it."""
    return b"\\u00" in data or data.count(b'"') != orjson.dumps(values).count(b'"')


def rows(path: Path) -> Iterator[Row]:
    """Rows of a folder, a zip archive, a JSON Lines file or a single case file, in a fixed order.

    Raises ``BadSource`` for something that is none of them.
    """
    return (one if isinstance(one, Row) else from_bytes(one[1], one[0]) for one in raw(path))


def raw(path: Path) -> Iterator[tuple[str, bytes] | Row]:
    """Place and bytes of every case of a source, not yet read; a row for what is wrong before it can be read."""
    if path.is_dir():
        yield from _folder(path)
    elif path.suffix.lower() == ".zip":
        yield from _archive(path)
    elif path.suffix.lower() == ".jsonl":
        yield from _lines(path)
    elif path.suffix.lower() in SUFFIXES:
        yield _file(path)
    else:
        raise BadSource(f"{path}: expected a folder, .zip, .yaml, .json, .jsonl, .csv or .xlsx")


def count(path: Path) -> int | None:
    """How many rows there will be, where that can be told without reading them."""
    if path.is_dir():
        return len(case_files(path))
    if path.suffix.lower() == ".zip":
        return len(_members(path))
    return 1 if path.suffix.lower() in SUFFIXES else None


def digest(path: Path, *more: str) -> str:
    """Identifies a source, so that a stopped import of it can go on: names, sizes and times of its files."""
    files = case_files(path) if path.is_dir() else [path]
    found = hashlib.sha256("\x1f".join(more).encode())
    for file in files:
        state = file.stat()
        found.update(f"{file.resolve()}|{state.st_size}|{state.st_mtime_ns}\n".encode())
    return found.hexdigest()


def _file(path: Path) -> tuple[str, bytes] | Row:
    try:
        return str(path), limits.read_bytes(path)
    except CaseError as error:
        return Row(str(path), None, error.problems)


def _folder(folder: Path) -> Iterator[tuple[str, bytes] | Row]:
    files = case_files(folder)
    if not files:
        raise BadSource(f"{folder}: no .yaml, .yml or .json file in it")
    for path in files:
        yield _file(path)


def _lines(path: Path) -> Iterator[tuple[str, bytes] | Row]:
    try:
        with path.open("rb") as stream:
            number = 0
            while line := stream.readline(limits.MOST_BYTES + 1):
                number += 1
                place = f"{path}:{number}"
                if len(line) > limits.MOST_BYTES:
                    problem = Problem(
                        place, "", "a line that is too long", f"at most {limits.MOST_BYTES:,} bytes a case"
                    )
                    yield Row(place, None, (problem,))
                    while line and not line.endswith(b"\n"):
                        line = stream.readline(limits.MOST_BYTES + 1)
                elif line.strip():
                    yield place, line.strip().removeprefix(b"\xef\xbb\xbf")
    except OSError as error:
        raise BadSource(f"{path}: {error.strerror}") from error


def _archive(path: Path) -> Iterator[tuple[str, bytes] | Row]:
    members = _members(path)
    if not members:
        raise BadSource(f"{path}: no .yaml, .yml or .json file in the archive")
    try:
        with zipfile.ZipFile(path) as archive:
            for member in members:
                place = f"{path}!{member.filename}"
                try:
                    with archive.open(member) as stream:
                        data = stream.read(limits.MOST_BYTES + 1)
                except (
                    zipfile.BadZipFile,
                    EOFError,
                    NotImplementedError,
                    ValueError,
                    RuntimeError,
                    _zlib_error(),
                ) as error:
                    problem = Problem(
                        place, "", f"a member that cannot be unpacked ({error})", "a sound zip archive"
                    )
                    yield Row(place, None, (problem,))
                    continue
                yield place, data
    except (OSError, zipfile.BadZipFile) as error:
        raise BadSource(f"{path}: {error}") from error


def _zlib_error() -> type[Exception]:
    import zlib

    return zlib.error


def _members(path: Path) -> list[zipfile.ZipInfo]:
    try:
        with zipfile.ZipFile(path) as archive:
            entries = archive.infolist()
    except (OSError, zipfile.BadZipFile, ValueError, NotImplementedError) as error:
        raise BadSource(f"{path}: not a zip archive that can be read ({error})") from error
    check_members(str(path), entries, path.stat().st_size)
    wanted = [
        entry
        for entry in entries
        if not entry.is_dir()
        and PurePosixPath(entry.filename).suffix.lower() in SUFFIXES
        and not any(part.startswith((".", "__MACOSX")) for part in PurePosixPath(entry.filename).parts)
    ]
    return sorted(wanted, key=lambda entry: entry.filename)


def check_members(name: str, entries: list[zipfile.ZipInfo], packed: int) -> None:
    """Raises ``BadSource`` for an archive that is not a plain collection of files of a reasonable size."""
    if len(entries) > MOST_MEMBERS:
        raise BadSource(f"{name}: {len(entries):,} members; allowed at most {MOST_MEMBERS:,}")
    seen: set[str] = set()
    unpacked = 0
    for entry in entries:
        member = entry.filename
        path = PurePosixPath(member)
        if path.is_absolute() or ".." in path.parts or "\\" in member or "\0" in member or ":" in member:
            raise BadSource(f"{name}: the member {member!r} points outside the archive; nothing was unpacked")
        if (entry.external_attr >> 28) == 0xA:
            raise BadSource(f"{name}: the member {member!r} is a link; nothing was unpacked")
        if entry.flag_bits & 1:
            raise BadSource(f"{name}: the member {member!r} is encrypted; unpack it yourself first")
        if member in seen:
            raise BadSource(f"{name}: the member {member!r} is there twice; nothing was unpacked")
        seen.add(member)
        unpacked += entry.file_size
        if entry.file_size > RATIO_FROM and entry.file_size > MOST_RATIO * max(entry.compress_size, 1):
            raise BadSource(
                f"{name}: the member {member!r} unpacks to more than {MOST_RATIO} times its size; refused"
            )
    if unpacked > MOST_UNPACKED or (unpacked > RATIO_FROM and unpacked > MOST_RATIO * max(packed, 1)):
        raise BadSource(
            f"{name}: unpacks to {unpacked:,} bytes, beyond what is reasonable; nothing was unpacked"
        )
