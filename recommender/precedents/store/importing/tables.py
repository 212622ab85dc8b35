"""Tables as they stand in files: CSV and the worksheets of a workbook, row by row, within limits."""

import codecs
import csv
import io
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from recommender.precedents.store.importing.rows import BadSource, check_members
from recommender.precedents.store.workbook import unescaped

SUFFIXES = (".csv", ".tsv", ".xlsx")
MOST_COLUMNS = 5_000
_FORMULA = re.compile(rb"<f[ >/]")
_CHUNK = 1 << 20
_MARKS = {codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16"}

Cells = Sequence[Any]


@dataclass(frozen=True, slots=True)
class Lacking:
    """A formula whose value was never worked out and stored, so that nothing can be read of it."""

    formula: str


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a file. ``sheet`` names a worksheet, and is empty for CSV; ``alone``: the file has no other."""

    path: Path
    sheet: str = ""
    alone: bool = True

    @property
    def name(self) -> str:
        """How places in it are named to a person."""
        return str(self.path) if self.alone else f"{self.path}[{self.sheet}]"

    def rows(self) -> Iterator[tuple[int, Cells]]:
        """Row number (from 1) and cells of every row. Raises ``BadSource``."""
        return _worksheet(self.path, self.sheet) if self.sheet else _separated(self.path)


def tables_of(path: Path, wanted: Sequence[str] = ()) -> tuple[list[Table], list[str]]:
    """The tables of a file, and the names of worksheets that are not read: empty ones, and those not ``wanted``.

    Raises ``BadSource`` for a wanted worksheet that is not there.
    """
    if path.suffix.lower() != ".xlsx":
        if wanted:
            raise BadSource(f"{path}: has no worksheets; leave --sheet out")
        return [Table(path)], []
    with _opened(path) as book:
        names = [sheet.title for sheet in book.worksheets]
        empty = {sheet.title for sheet in book.worksheets if not _holds_anything(sheet)}
    lacking = sorted(set(wanted) - set(names))
    if lacking:
        raise BadSource(f"{path}: no worksheet {', '.join(lacking)}; there are {', '.join(names)}")
    chosen = [name for name in names if name in wanted] if wanted else [n for n in names if n not in empty]
    left = [f"{name} (empty)" if name in empty else name for name in names if name not in chosen]
    return [Table(path, name, len(names) == 1) for name in chosen], left


def encoding_of(path: Path) -> str:
    """``utf-8-sig``, ``utf-16``, or ``cp1252`` for text that is no UTF-8. Raises ``BadSource`` for what is none."""
    try:
        with path.open("rb") as stream:
            head = stream.read(4)
            for mark, name in _MARKS.items():
                if head.startswith(mark):
                    return name
            for name in ("utf-8-sig", "cp1252"):
                stream.seek(0)
                decoder = codecs.getincrementaldecoder(name)()
                try:
                    while chunk := stream.read(_CHUNK):
                        decoder.decode(chunk)
                    decoder.decode(b"", True)
                    return name
                except UnicodeDecodeError as error:
                    wrong = error
    except OSError as error:
        raise BadSource(f"{path}: {error.strerror}") from error
    raise BadSource(
        f"{path}: text that is neither UTF-8 nor Windows-1252 (byte {wrong.object[wrong.start]:#04x}); "
        "save the table as 'CSV UTF-8' and try again"
    )


def _separated(path: Path) -> Iterator[tuple[int, Cells]]:
    encoding = encoding_of(path)
    number = 0
    try:
        with path.open("r", encoding=encoding, newline="") as stream:
            head = stream.readline(1_000_000)
            stream.seek(0)
            delimiter = max(",;\t", key=head.count)
            for number, row in enumerate(csv.reader(stream, delimiter=delimiter, strict=True), start=1):
                yield number, row
    except (csv.Error, UnicodeDecodeError) as error:
        raise BadSource(f"{path}:{number + 1}: cannot be read on ({error})") from error
    except OSError as error:
        raise BadSource(f"{path}: {error.strerror}") from error


@contextmanager
def _opened(path: Path, *, values: bool = True) -> Iterator[Any]:
    import zipfile

    from openpyxl import load_workbook

    try:
        with zipfile.ZipFile(path) as archive:
            check_members(str(path), archive.infolist(), path.stat().st_size)
        book = load_workbook(io.BytesIO(path.read_bytes()), read_only=True, data_only=values)
    except BadSource:
        raise
    except Exception as error:  # the reader fails in many ways on a file that is no workbook
        raise BadSource(
            f"{path}: not a workbook that can be read ({type(error).__name__}: {error})"
        ) from error
    try:
        for sheet in book.worksheets:
            # a cell far out in an otherwise small sheet must not make every row as wide and long as it says
            sheet.reset_dimensions()
        yield book
    finally:
        book.close()


def _holds_anything(sheet: Any) -> bool:
    try:
        return any(cell not in (None, "") for row in sheet.iter_rows(values_only=True) for cell in row)
    except Exception:
        return True  # what is wrong with it is reported when it is read


def _worksheet(path: Path, name: str) -> Iterator[tuple[int, Cells]]:
    with _opened(path) as book:
        try:
            formulas = _formulas(path, name)
            for number, row in enumerate(book[name].iter_rows(values_only=True), start=1):
                behind = next(formulas, None) if formulas is not None else None
                cells = [unescaped(cell) if isinstance(cell, str) else cell for cell in row]
                while cells and cells[-1] is None and behind is None:
                    cells.pop()
                yield number, _with_formulas(cells, behind) if behind is not None else cells
        except Exception as error:
            raise BadSource(f"{path}: {name}: cannot be read on ({type(error).__name__}: {error})") from error


def _with_formulas(cells: list[Any], behind: Cells) -> list[Any]:
    for place, formula in enumerate(behind):
        if (
            isinstance(formula, str)
            and formula.startswith("=")
            and place < len(cells)
            and cells[place] is None
        ):
            cells[place] = Lacking(formula)
    return cells


def _formulas(path: Path, name: str) -> Iterator[Cells] | None:
    """The formulas of a sheet row by row; ``None`` where the workbook holds none, as nearly always."""
    import zipfile

    with zipfile.ZipFile(path) as archive:
        sheets = [one for one in archive.namelist() if re.fullmatch(r"xl/worksheets/[^/]+\.xml", one)]
        if not any(_has_formula(archive.open(member)) for member in sheets):
            return None
    return _behind(path, name)


def _has_formula(stream: IO[bytes]) -> bool:
    with stream:
        tail = b""
        while chunk := stream.read(_CHUNK):
            if _FORMULA.search(tail + chunk):
                return True
            tail = chunk[-2:]
    return False


def _behind(path: Path, name: str) -> Iterator[Cells]:
    with _opened(path, values=False) as book:
        yield from book[name].iter_rows(values_only=True)
