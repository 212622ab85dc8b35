"""Export: a folder or zip of YAML or JSON, JSON Lines, CSV, XLSX, or linked data; each reads back as the same
cases.

Every file is written beside its place and then put there, so a stop half-way leaves what was there before.
"""

import csv
import io
import os
import re
import zipfile
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any

import orjson

from recommender.domain import writing
from recommender.domain.case import Case
from recommender.precedents.store import cells, documents
from recommender.precedents.store.engine import in_words
from recommender.precedents.store.errors import LibraryError
from recommender.precedents.store.workbook import escaped

FORMATS = ("yaml", "json", "jsonl", "zip-yaml", "zip-json", "csv", "xlsx", "turtle", "json-ld")
_XLSX_ROWS = 1_048_575
Progress = Callable[[int], None]


def _silent(_done: int) -> None:
    return None


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """A path beside ``path`` to write to; put in its place when the block ends well, removed otherwise."""
    with in_words(str(path)), writing.replacing(path) as part:
        yield part


def as_json(case: Case) -> bytes:
    """A case as one JSON file, keys in the order of the format."""
    return orjson.dumps(documents.as_data(case), option=orjson.OPT_INDENT_2 | orjson.OPT_NON_STR_KEYS) + b"\n"


def as_yaml(case: Case) -> bytes:
    """A case as one YAML file, keys in the order of the format; texts that YAML would misread are quoted."""
    import yaml

    data = _tooth_keys(documents.as_data(case))
    text = yaml.dump(data, Dumper=_dumper(), sort_keys=False, allow_unicode=True, width=110)
    return str(text).encode()


@cache
def _dumper() -> Any:
    import yaml

    base = getattr(yaml, "CSafeDumper", yaml.SafeDumper)
    dumper: Any = type("CaseDumper", (base,), {})
    # the dumper follows YAML 1.1, where 1e5 is a text; in YAML 1.2 it is a number, so such a text needs quotes
    number = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
    dumper.add_implicit_resolver("tag:yaml.org,2002:float", number, list("-+0123456789."))
    return dumper


def _tooth_keys(value: object) -> object:
    if isinstance(value, dict):
        return {int(key) if key.isdigit() else key: _tooth_keys(inner) for key, inner in value.items()}
    return [_tooth_keys(item) for item in value] if isinstance(value, list) else value


def to_folder(cases: Iterable[Case], folder: Path, form: str, progress: Progress = _silent) -> int:
    """One file a case in a new folder. Raises ``LibraryError`` if the folder is there and not empty."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise LibraryError(f"{folder}: is there already and not an empty folder; nothing was written")
    write = as_yaml if form == "yaml" else as_json
    with in_words(str(folder)):
        folder.parent.mkdir(parents=True, exist_ok=True)
        made = Path(mkdtemp(prefix=f".{folder.name}.", suffix=".part", dir=folder.parent))
        try:
            count = 0
            for count, case in enumerate(cases, start=1):
                (made / f"{case.id}.{form}").write_bytes(write(case))
                progress(count)
            made.chmod(0o755)
            os.replace(made, folder)
        except BaseException:
            _remove(made)
            raise
    return count


def _remove(folder: Path) -> None:
    import shutil

    shutil.rmtree(folder, ignore_errors=True)


def to_zip(cases: Iterable[Case], path: Path, form: str, progress: Progress = _silent) -> int:
    """One member a case in a zip archive."""
    write = as_yaml if form == "yaml" else as_json
    count = 0
    with (
        replacing(path) as part,
        zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED, compresslevel=6) as archive,
    ):
        for count, case in enumerate(cases, start=1):
            # a fixed time, so that the same cases make the same archive
            archive.writestr(
                zipfile.ZipInfo(f"{case.id}.{form}", (2000, 1, 1, 0, 0, 0)), write(case), zipfile.ZIP_DEFLATED
            )
            progress(count)
    return count


def to_lines(cases: Iterable[Case], path: Path, progress: Progress = _silent) -> int:
    """JSON Lines: one case a line."""
    count = 0
    with replacing(path) as part, part.open("wb") as stream:
        for count, case in enumerate(cases, start=1):
            stream.write(orjson.dumps(documents.as_data(case), option=orjson.OPT_NON_STR_KEYS) + b"\n")
            progress(count)
    return count


def table_columns(read: Callable[[], Iterable[Case]]) -> list[str]:
    """Every column that some case uses: the order of the format, list entries by their count."""
    used: set[str] = set()
    for case in read():
        used.update(cells.to_cells(documents.as_data(case)))
    order = {name: index for index, name in enumerate(Case.model_fields)}

    def key(path: str) -> tuple[int, tuple[tuple[int, str], ...]]:
        place = cells.place(path)
        steps = place.steps
        inner = tuple((step, "") if isinstance(step, int) else (0, step) for step in steps[1:])
        # an interval's three columns stand together, rising
        inner = (*inner, (("low", "value", "high").index(place.bound), ""))
        return order.get(str(steps[0]), len(order)), inner

    return ["numbering", *sorted(used, key=key)]


def _row(case: Case) -> dict[str, str]:
    # says itself how its teeth are numbered, so that nobody has to guess when it comes back
    return {"numbering": "iso", **cells.to_cells(documents.as_data(case))}


def to_csv(read: Callable[[], Iterable[Case]], path: Path, progress: Progress = _silent) -> int:
    """One row a case. ``read`` is called twice: for the columns, then for the rows."""
    names = table_columns(read)
    count = 0
    with replacing(path) as part, part.open("w", encoding="utf-8-sig", newline="") as stream:
        writer = csv.DictWriter(stream, names, restval="", quoting=csv.QUOTE_MINIMAL)
        writer.writeheader()
        for count, case in enumerate(read(), start=1):
            writer.writerow(_row(case))
            progress(count)
    return count


def to_xlsx(read: Callable[[], Iterable[Case]], path: Path, progress: Progress = _silent) -> int:
    """One row a case, every cell a text, so that a spreadsheet changes none. ``read`` is called twice."""
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell

    names = table_columns(read)
    if len(names) > 16_384:
        raise LibraryError(f"{path}: {len(names):,} columns do not fit a workbook; export to CSV or JSON")
    book = Workbook(write_only=True)
    sheet = book.create_sheet("cases")
    sheet.append(names)
    count = 0
    for count, case in enumerate(read(), start=1):
        if count > _XLSX_ROWS:
            raise LibraryError(
                f"{path}: more than {_XLSX_ROWS:,} cases do not fit a workbook; export to CSV or JSON"
            )
        found = _row(case)
        row: list[object] = []
        for name in names:
            text = found.get(name)
            if text is None:
                row.append(None)
                continue
            cell = WriteOnlyCell(sheet, value=escaped(text))
            cell.data_type = "s"
            row.append(cell)
        sheet.append(row)
        progress(count)
    whole = (
        io.BytesIO()
    )  # an archive that cannot be finished on a full disk would complain once more at its end
    book.save(whole)
    with replacing(path) as part:
        part.write_bytes(whole.getbuffer())
    return count
