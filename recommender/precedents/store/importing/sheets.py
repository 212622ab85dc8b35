"""Cases out of CSV and XLSX: headings understood or mapped by hand, rows read one by one, errors with row and
column.
"""

import csv
import hashlib
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from recommender.domain.errors import CaseError, Problem, shown
from recommender.domain.intake import build
from recommender.domain.parsing import Document, field_name
from recommender.precedents.store import cells
from recommender.precedents.store.importing.rows import BadSource, Row, hide_age
from recommender.precedents.store.workbook import unescaped

SUFFIXES = (".csv", ".tsv", ".xlsx")
MOST_COLUMNS = 5_000
LEAVE_OUT = "-"


@dataclass(frozen=True, slots=True)
class Headings:
    """The heading row, and which field each column means; ``None`` for a column that is left out."""

    names: tuple[str, ...]
    places: tuple[cells.Place | None, ...]

    @property
    def digest(self) -> str:
        """Tells one kind of sheet from another, so that a mapping is found again."""
        return hashlib.sha256("\x1f".join(self.names).encode()).hexdigest()


def headings(path: Path) -> tuple[str, ...]:
    """The heading row of a table. Raises ``BadSource``."""
    for _, first in _raw(path):
        names = tuple(str(name).strip() if name is not None else "" for name in first)
        while names and not names[-1]:
            names = names[:-1]
        if len(names) > MOST_COLUMNS:
            raise BadSource(f"{path}:1: {len(names):,} columns; allowed at most {MOST_COLUMNS:,}")
        named = [name for name in names if name]
        doubled = sorted({name for name in named if named.count(name) > 1})
        if doubled:
            raise BadSource(
                f"{path}:1: the heading {shown(doubled[0])} stands there twice; give each column its own"
            )
        if not named:
            break
        return names
    raise BadSource(f"{path}:1: no headings; the first row names the columns")


def digest_of(names: Sequence[str]) -> str:
    """As ``Headings.digest``."""
    return hashlib.sha256("\x1f".join(names).encode()).hexdigest()


def understand(path: Path, names: Sequence[str], mapping: Mapping[str, str]) -> Headings:
    """What every column means: its mapped field (``-`` leaves it out), else its own name as a field.

    Raises ``BadSource`` with every column that is not understood.
    """
    unknown = sorted(set(mapping) - set(names))
    if unknown:
        raise BadSource(
            f"{path}:1: mapped, but not among the headings: {', '.join(shown(name) for name in unknown)}"
        )
    places: list[cells.Place | None] = []
    wrong: list[str] = []
    for number, name in enumerate(names, start=1):
        target = mapping.get(name, name)
        if not name or target == LEAVE_OUT:
            places.append(None)
            continue
        try:
            places.append(cells.place(target))
        except cells.CellError as error:
            hint = f" ({error.hint})" if error.hint else ""
            wrong.append(f"{path}:1:{number}: {error}{hint}")
    if wrong:
        raise BadSource("\n".join(wrong[:50]))
    taken = [place.path for place in places if place is not None]
    twice = sorted({target for target in taken if taken.count(target) > 1})
    if twice:
        raise BadSource(f"{path}:1: two columns both mean {twice[0]}; leave one out")
    for needed in ("id", "arch", "missing"):
        if needed not in taken:
            raise BadSource(
                f"{path}:1: no column means {needed}; map one, for example --map 'Case number={needed}'"
            )
    return Headings(tuple(names), tuple(places))


def rows(path: Path, columns: Headings) -> Iterator[Row]:
    """A row of the source for each row of the table below the headings; wholly empty rows are passed over."""
    for number, raw in _raw(path):
        if number == 1 or not any(cell not in (None, "") for cell in raw):
            continue
        yield _row(f"{path}:{number}", raw, columns)


def _row(place: str, raw: Sequence[Any], columns: Headings) -> Row:
    found: dict[str, Any] = {}
    where: dict[str, int] = {}
    problems: list[Problem] = []
    for index, cell in enumerate(raw):
        if cell in (None, ""):
            continue
        column = columns.places[index] if index < len(columns.places) else None
        if column is None:
            if index >= len(columns.places):
                problems.append(
                    Problem(f"{place}:{index + 1}", "", shown(cell), "no cell beyond the headings")
                )
            continue
        try:
            found[column.path] = cells.value(_text(cell), column.shape)
            where[column.path] = index + 1
        except cells.CellError as error:
            problems.append(
                Problem(f"{place}:{index + 1}", column.path, error.found, error.allowed, error.hint)
            )
    found.setdefault("format", 1)
    try:
        data = cells.from_cells(found)
    except cells.CellError as error:
        problems.append(Problem(place, "", error.found, error.allowed, error.hint))
        return Row(place, None, tuple(problems))
    notes = hide_age(data)
    try:
        case = build(Document(place, data))
    except CaseError as error:
        columns_of = _columns_by_field(where, data)
        problems += [_placed(problem, place, columns_of) for problem in error.problems]
        return Row(place, None, tuple(problems), notes)
    return Row(place, None if problems else case, tuple(problems), notes)


def _text(cell: Any) -> str:
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, (int, float)):
        return repr(int(cell)) if float(cell).is_integer() and abs(cell) < 1e15 else repr(cell)
    raise cells.CellError(
        f"{shown(str(cell))} (a date or time)", "a text or a number", "format the cell as text"
    )


def _columns_by_field(where: Mapping[str, int], data: Mapping[str, Any]) -> dict[str, int]:
    found: dict[str, int] = {}
    for path, column in where.items():
        meant = cells.place(path)
        steps = [step - 1 if isinstance(step, int) else step for step in meant.steps]
        keyed = tuple(int(step) if isinstance(step, str) and step.isdigit() else step for step in steps)
        name = field_name(keyed, data)
        if meant.bound == "value":
            found.setdefault(name, column)
        found.setdefault(f"{name}.{meant.bound}", column)
    return found


def _placed(problem: Problem, place: str, columns: Mapping[str, int]) -> Problem:
    column = columns.get(problem.field)
    at = f"{place}:{column}" if column else place
    return Problem(at, problem.field, problem.found, problem.allowed, problem.hint)


def _raw(path: Path) -> Iterator[tuple[int, Sequence[Any]]]:
    if path.suffix.lower() == ".xlsx":
        yield from _workbook(path)
    else:
        yield from _separated(path)


def _separated(path: Path) -> Iterator[tuple[int, Sequence[Any]]]:
    number = 0
    try:
        with path.open("r", encoding="utf-8-sig", newline="") as stream:
            head = stream.readline(1_000_000)
            stream.seek(0)
            delimiter = max(",;\t", key=head.count)
            for number, row in enumerate(csv.reader(stream, delimiter=delimiter, strict=True), start=1):
                yield number, row
    except (csv.Error, UnicodeDecodeError) as error:
        reason = "text that is not UTF-8" if isinstance(error, UnicodeDecodeError) else str(error)
        raise BadSource(f"{path}:{number + 1}: cannot be read on ({reason})") from error
    except OSError as error:
        raise BadSource(f"{path}: {error.strerror}") from error


def _workbook(path: Path) -> Iterator[tuple[int, Sequence[Any]]]:
    import zipfile

    from openpyxl import load_workbook

    from recommender.precedents.store.importing.rows import check_members

    try:
        with zipfile.ZipFile(path) as archive:
            check_members(str(path), archive.infolist(), path.stat().st_size)
        book = load_workbook(io.BytesIO(path.read_bytes()), read_only=True, data_only=True)
    except BadSource:
        raise
    except Exception as error:  # the reader fails in many ways on a file that is no workbook
        raise BadSource(
            f"{path}: not a workbook that can be read ({type(error).__name__}: {error})"
        ) from error
    try:
        sheet = book.worksheets[0]
        for number, row in enumerate(sheet.iter_rows(values_only=True), start=1):
            yield number, [unescaped(cell) if isinstance(cell, str) else cell for cell in row]
    except Exception as error:
        raise BadSource(f"{path}: the sheet cannot be read on ({type(error).__name__}: {error})") from error
    finally:
        book.close()
