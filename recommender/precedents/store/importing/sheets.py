"""Cases out of tables: rows read one by one, errors with row and column, one numbering for each table."""

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from recommender.domain import dentition
from recommender.domain.errors import CaseError, Problem, shown
from recommender.domain.intake import build
from recommender.domain.parsing import Document, field_name
from recommender.precedents.store import cells
from recommender.precedents.store.importing import columns as meanings
from recommender.precedents.store.importing.columns import LEAVE_OUT, Column, Columns, digest_of, heading_row
from recommender.precedents.store.importing.gathered import Gathering
from recommender.precedents.store.importing.register_words import not_recorded, value_of
from recommender.precedents.store.importing.rows import BadSource, Row, hide_age
from recommender.precedents.store.importing.tables import SUFFIXES, Cells, Lacking, Table, tables_of
from recommender.precedents.store.importing.tooth_cells import Evidence, has_stopped, teeth_in

__all__ = ["LEAVE_OUT", "SUFFIXES", "digest_of", "headings", "rows", "settled"]


def _table(source: Path | Table) -> Table:
    return source if isinstance(source, Table) else tables_of(source)[0][0]


def headings(source: Path | Table) -> tuple[str, ...]:
    """The heading row of a table (of a workbook: its first worksheet). Raises ``BadSource``."""
    path = source if isinstance(source, Path) else source.path
    tables = [source] if isinstance(source, Table) else tables_of(source)[0]
    for table in tables[:1]:
        for _, first in table.rows():
            return heading_row(table.name, first)
    raise BadSource(f"{path}:1: no headings; the first row names the columns")


def settled(source: Path | Table, columns: Columns) -> str:
    """The numbering of a table, found from all of it: ``iso`` or ``universal``. Raises ``BadSource`` where it could be
    either, or is both."""
    table = _table(source)
    if _has_own(columns):
        return "iso"
    found = Evidence()
    for column in columns.columns:
        found.take(
            (one.tooth for one in column.targets if one.tooth is not None),
            None,
            f"the heading {column.name!r}",
        )
    all_ = list(enumerate(columns.columns))
    toothed = [place for place, column in all_ if any(_holds_teeth(one) for one in column.targets)]
    listed = {place for place in toothed if all(_lists_teeth(one) for one in columns.columns[place].targets)}
    arches = [place for place, column in all_ if any(one.path == "arch" for one in column.targets)]
    for number, raw in table.rows():
        if number == 1:
            continue
        arch = _arch(raw[arches[0]], columns.columns[arches[0]]) if arches and arches[0] < len(raw) else None
        for place in toothed:
            if place < len(raw) and raw[place] not in (None, ""):
                found.take_cell(_plain(raw[place]), arch, f"row {number}", listed=place in listed)
    system = found.settled
    if system is None:
        raise BadSource(found.why_not(table.name))
    return system


def _has_own(columns: Columns) -> bool:
    return any(one.path == "numbering" for column in columns.columns for one in column.targets)


def _holds_teeth(one: meanings.Target) -> bool:
    return one.group in ("map", "assembly") or _lists_teeth(one)


def _lists_teeth(one: meanings.Target) -> bool:
    shape = one.place.shape
    plain = one.group == "plain" and "tooth" in (shape.kind, shape.item.kind if shape.item else "")
    return plain or one.base == "abutments.tooth"


def _plain(cell: Any) -> str:
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell)


def _arch(cell: Any, column: Column) -> str | None:
    one = next(one for one in column.targets if one.path == "arch")
    try:
        found: str = value_of(_plain(cell), one.base, one.kind, one.place.shape)
    except cells.CellError:
        return None
    return found if found in dentition.ARCH_ORDER else None


def rows(source: Path | Table, columns: Columns, system: str | None = None) -> Iterator[Row]:
    """A row of the source for each row of the table below the headings; wholly empty rows are passed over.

    ``system``: the numbering of its teeth, found from the whole table where it is left out.
    """
    table = _table(source)
    chosen = settled(table, columns) if system is None else system
    reader = _Reader(columns, chosen)
    for number, raw in table.rows():
        if number == 1 or not any(cell not in (None, "") for cell in raw):
            continue
        yield reader.row(f"{table.name}:{number}", raw)


class _Reader:
    """Reads the rows of one table."""

    def __init__(self, columns: Columns, system: str) -> None:
        self.columns, self.system = columns.columns, system
        self.own = _has_own(columns)
        # the arch first: a range of teeth is a range of an arch; teeth before what is said of them
        self.order = sorted(range(len(self.columns)), key=lambda place: (self._rank(place), place))

    def _rank(self, place: int) -> int:
        ranks = [
            _RANKS.get(one.base, _LATE if one.group != "plain" else 4) for one in self.columns[place].targets
        ]
        return min(ranks, default=4)

    def row(self, place: str, raw: Cells) -> Row:
        found: dict[str, Any] = {}
        where: dict[str, int] = {}
        problems: list[Problem] = []
        gathering = Gathering(self.system)
        for index in range(len(self.columns), len(raw)):
            if raw[index] not in (None, ""):
                problems.append(
                    Problem(f"{place}:{index + 1}", "", shown(str(raw[index])), "no cell beyond the headings")
                )
        for index in self.order:
            if index >= len(raw) or raw[index] in (None, ""):
                continue
            for one in self.columns[index].targets:
                try:
                    self._cell(raw[index], one, found, gathering)
                    where[one.path] = index + 1
                except cells.CellError as error:
                    problems.append(
                        Problem(f"{place}:{index + 1}", one.path, error.found, error.allowed, error.hint)
                    )
        kept = tuple(raw)
        found.setdefault("format", 1)
        if not self.own and self.system == "universal":
            found["numbering"] = "universal"
        try:
            data = gathering.into(cells.from_cells(found))
        except cells.CellError as error:
            problems.append(Problem(place, "", error.found, error.allowed, error.hint))
            return Row(place, None, tuple(problems), cells=kept)
        notes = hide_age(data)
        try:
            case = build(Document(place, data))
        except CaseError as error:
            columns_of = _columns_by_field(where, data)
            known = {problem.field for problem in problems}
            # a field whose cell was refused is missing from the case; told once is enough
            later = (problem for problem in error.problems if problem.field not in known)
            problems += [_placed(problem, place, columns_of) for problem in later]
            return Row(place, None, tuple(problems), notes, cells=kept)
        return Row(place, None if problems else case, tuple(problems), notes, cells=kept)

    def _cell(self, cell: Any, one: meanings.Target, found: dict[str, Any], gathering: Gathering) -> None:
        text = _text(cell)
        shape = one.place.shape
        if shape.kind != "text" and one.path != "id" and not_recorded(text):
            return
        if one.group != "plain":
            gathering.take(text, one)
            return
        value = self._value(text, one, found.get("arch"))
        found[one.path] = value
        if one.path == "arch":
            gathering.arch = value if value in dentition.ARCH_ORDER else None
        elif one.path == "missing" and isinstance(value, list):
            gathering.missing = value

    def _value(self, text: str, one: meanings.Target, arch: str | None) -> Any:
        shape = one.place.shape
        if shape.kind == "list" and shape.item is not None and shape.item.kind == "tooth":
            if has_stopped(text):
                return teeth_in(text, self.system, arch)
            try:
                return cells.value(text, shape)
            except cells.CellError:
                return teeth_in(text, self.system, arch)
        if shape.kind == "tooth":
            return _one(teeth_in(text, self.system, arch), text)
        return value_of(text, one.base, one.kind, shape)


_RANKS = {"numbering": 0, "arch": 1, "missing": 2, "abutments.tooth": 3}
_LATE = 5


def _one(teeth: Sequence[int], text: str) -> int:
    if len(teeth) != 1:
        raise cells.CellError(f'"{text}"', "one tooth")
    return teeth[0]


def _text(cell: Any) -> str:
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, (int, float)):
        return repr(int(cell)) if float(cell).is_integer() and abs(cell) < 1e15 else repr(cell)
    if isinstance(cell, Lacking):
        raise cells.CellError(
            f"the formula {shown(cell.formula)}, whose value is not stored in the file", "a text or a number",
            "open the workbook in a spreadsheet program, let it calculate, and save it; or paste the values",
        )  # fmt: skip
    raise cells.CellError(
        f"{shown(str(cell))} (a date or time)", "a text or a number", "format the cell as text"
    )


def _columns_by_field(where: Mapping[str, int], data: Mapping[str, Any]) -> dict[str, int]:
    found: dict[str, int] = {}
    for path, column in where.items():
        try:
            meant = cells.place(path)
        except cells.CellError:
            found.setdefault(path, column)
            continue
        steps = [step - 1 if isinstance(step, int) else step for step in meant.steps]
        keyed = tuple(int(step) if isinstance(step, str) and step.isdigit() else step for step in steps)
        name = field_name(keyed, data)
        if meant.bound == "value":
            found.setdefault(name, column)
        found.setdefault(f"{name}.{meant.bound}", column)
    return found


def _placed(problem: Problem, place: str, columns: Mapping[str, int]) -> Problem:
    spoken = problem.field.replace("[", ".").replace(
        "]", ""
    )  # abutments[14].mobility, mapped as abutments.14.mobility
    short = ".".join(step for step in spoken.split(".") if not step.isdigit())
    column = next((columns[one] for one in (problem.field, spoken, short) if one in columns), None)
    at = f"{place}:{column}" if column else place
    return Problem(at, problem.field, problem.found, problem.allowed, problem.hint)
