"""A register as a person brings it: a table or the worksheets of a workbook, each understood, and what is not read."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from recommender.precedents.store.importing import sheets
from recommender.precedents.store.importing.columns import Columns, understand
from recommender.precedents.store.importing.rows import BadSource, Row
from recommender.precedents.store.importing.tables import Table, encoding_of, tables_of


@dataclass(frozen=True, slots=True)
class Part:
    """One table of a register: its columns understood, and the numbering of its teeth."""

    table: Table
    columns: Columns
    system: str


@dataclass(frozen=True, slots=True)
class Register:
    """Every table that is read, and a line for everything that is not."""

    path: Path
    parts: tuple[Part, ...]
    not_read: tuple[str, ...]

    def rows(self) -> Iterator[Row]:
        """Every row of every table."""
        for part in self.parts:
            yield from sheets.rows(part.table, part.columns, part.system)

    @property
    def guessed(self) -> dict[str, str]:
        """What was guessed of headings: field by heading."""
        return {heading: field for part in self.parts for heading, field in part.columns.guessed.items()}

    @property
    def stamp(self) -> str:
        """What tells this reading of the file from another, for going on after a stop."""
        return repr([
            (part.table.sheet, part.system, [(one.name, one.meaning) for one in part.columns.columns])
            for part in self.parts
        ])  # fmt: skip


def open_register(
    path: Path,
    mapping: Mapping[str, str],
    *,
    wanted: Sequence[str] = (),
    numbering: str | None = None,
    guessing: bool = False,
    rest: bool = False,
    remembered: Callable[[Sequence[str]], Mapping[str, str]] = lambda _names: {},
) -> Register:
    """Reads headings and numbering of each table. ``wanted``: only these worksheets; ``numbering``: of all teeth,
    found from each whole table where it is left out; ``remembered``: the mapping kept for a row of headings.

    Raises ``BadSource``: a table that is not understood, a numbering that is not settled, a mapped heading that is
    nowhere.
    """
    tables, left = tables_of(path, wanted)
    not_read = [f"{path}: worksheet {name} is not read" for name in left]
    if not tables:
        raise BadSource(f"{path}: no table with anything in it")
    if path.suffix.lower() != ".xlsx" and (encoding := encoding_of(path)) != "utf-8-sig":
        told = "Windows-1252" if encoding == "cp1252" else encoding.upper()
        not_read.append(f"{path}: no UTF-8; read as {told}: look at letters with accents")
    understood: list[tuple[Table, Columns]] = []
    seen: set[str] = set()
    refused: list[BadSource] = []
    for table in tables:
        try:
            names = sheets.headings(table)
            seen.update(names)
            meant = {
                heading: field
                for heading, field in {**remembered(names), **mapping}.items()
                if heading in names
            }
            understood.append((table, understand(table.name, names, meant, guessing=guessing, rest=rest)))
        except BadSource as error:
            if wanted or len(tables) == 1:
                raise
            refused.append(error)
            not_read.append(f"{path}: worksheet {table.sheet} is not read: {str(error).splitlines()[0]}")
    if not understood:
        raise BadSource("\n".join(str(error) for error in refused))
    if unknown := sorted(set(mapping) - seen):
        raise BadSource(f"{path}:1: mapped, but not among the headings: {', '.join(map(repr, unknown))}")
    for table, columns in understood:
        not_read += [f"{table.name}: column {told} (not read)" for told in columns.not_read]
    parts = tuple(
        Part(table, columns, numbering or sheets.settled(table, columns)) for table, columns in understood
    )
    return Register(path, parts, tuple(not_read))
