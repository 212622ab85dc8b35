"""A file of the rows that were not brought in: as they stood, with the reason in a column, ready to be mended and
brought in again."""

import csv
import io
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from recommender.precedents.store.exporting.export import replacing
from recommender.precedents.store.importing.columns import REASON
from recommender.precedents.store.importing.register import Register
from recommender.precedents.store.importing.reports import REFUSED, Report
from recommender.precedents.store.importing.rows import BadSource, Row
from recommender.precedents.store.importing.tables import Lacking
from recommender.precedents.store.workbook import escaped

SUFFIXES = (".csv", ".xlsx")


class Rejected:
    """Watches rows and their reports, and keeps those that were refused. Of a register with several tables the
    columns of all stand beside each other."""

    def __init__(self, register: Register) -> None:
        self.register = register
        every = (name for part in register.parts for name in part.columns.names if name != REASON)
        self.names = list(dict.fromkeys(every))
        self.rows: list[list[Any]] = []
        self._waiting: dict[str, tuple[tuple[str, ...], tuple[Any, ...]]] = {}

    def watched(self, rows: Iterable[Row]) -> Iterator[Row]:
        """The rows, each remembered until its report comes."""
        for row in rows:
            names = next(
                p.columns.names for p in self.register.parts if row.place.startswith(f"{p.table.name}:")
            )
            self._waiting[row.place] = (names, row.cells)
            yield row

    def take(self, report: Report) -> None:
        """What became of a row."""
        kept = self._waiting.pop(report.place, None)
        if kept is None or report.verdict not in REFUSED:
            return
        cells = dict(zip(kept[0], kept[1], strict=False))
        why = "; ".join([
            *(str(problem).removeprefix(f"{problem.at}: ") for problem in report.problems),
            *(f"{one.field}: changed here and in the file" for one in report.changes if one.fate == "open"),
        ])  # fmt: skip
        self.rows.append([*(cells.get(name) for name in self.names), f"{report.verdict}: {why}"])

    def write(self, path: Path) -> int:
        """Writes the file, ``.csv`` or ``.xlsx``; how many rows it holds. Raises ``BadSource``, ``LibraryError``."""
        header = [*self.names, REASON]
        with replacing(path) as part:
            if path.suffix.lower() == ".csv":
                with part.open("w", encoding="utf-8-sig", newline="") as stream:
                    writer = csv.writer(stream)
                    writer.writerow(header)
                    writer.writerows([_plain(cell) for cell in row] for row in self.rows)
            else:
                part.write_bytes(_workbook(header, self.rows))
        return len(self.rows)


def check_name(path: Path) -> None:
    """Raises ``BadSource`` for a file that is no table."""
    if path.suffix.lower() not in SUFFIXES:
        raise BadSource(f"{path}: rejected rows go into a table, .csv or .xlsx")


def _plain(cell: Any) -> Any:
    if isinstance(cell, Lacking):
        return f"'{cell.formula}"
    # a register's own text that a spreadsheet would take for a formula must not run when the file is mended
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(("=", "+", "@")) else cell


def _workbook(header: list[str], rows: list[list[Any]]) -> bytes:
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell

    book = Workbook(write_only=True)
    sheet = book.create_sheet("rejected")
    sheet.append(header)
    for row in rows:
        made = []
        for value in row:
            cell = WriteOnlyCell(
                sheet, value=escaped(_plain(value)) if isinstance(value, (str, Lacking)) else value
            )
            if isinstance(value, (str, Lacking)):
                cell.data_type = "s"
            made.append(cell)
        sheet.append(made)
    whole = (
        io.BytesIO()
    )  # an archive that cannot be finished on a full disk would complain once more at its end
    book.save(whole)
    return whole.getvalue()
