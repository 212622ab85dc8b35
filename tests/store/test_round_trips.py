"""Out and in again by every format: the same cases. Spreadsheets take no cell for a formula."""

import csv
import os
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.domain.case import Case
from recommender.domain.reader import read_value
from recommender.precedents.store import cells, documents
from recommender.precedents.store.errors import LibraryError
from recommender.precedents.store.exporting import export, linked_data
from recommender.precedents.store.importing import columns, sheets
from recommender.precedents.store.importing import rows as incoming
from recommender.precedents.store.workbook import escaped, unescaped
from tests.store.invented import invented_cases

TITLES = [
    "", "=1+1", "+1", "-1", "@x", "'x", "''", "_x0041_ a\r\nb", "  sp ", " ", "yes", "12", "[]", "{}", "a\tb", "\tb",
    "null", "~", "0x1F", "2020-01-01", "a: b", "# no", "- dash", "1e5", "née 齒 🦷", "\u2028",
    "=cmd|' /C calc'!A0", "＝1",
]  # fmt: skip
CASES = [
    case.model_copy(update={"title": title})
    for case, title in zip(invented_cases(len(TITLES), seed=3), TITLES, strict=True)
]


def read_table(path: Path) -> list[Case]:
    found = columns.understand(str(path), sheets.headings(path), {})
    rows = list(sheets.rows(path, found))
    assert [row.problems for row in rows if row.problems] == []
    return [row.case for row in rows if row.case is not None]


@pytest.mark.parametrize("name", ["a.csv", "a.xlsx"])
def test_tables(tmp_path: Path, name: str) -> None:
    write = export.to_csv if name.endswith("csv") else export.to_xlsx
    assert write(lambda: iter(CASES), tmp_path / name) == len(CASES)
    assert read_table(tmp_path / name) == CASES


@pytest.mark.parametrize("form", ["yaml", "json"])
def test_files_and_archives(tmp_path: Path, form: str) -> None:
    export.to_folder(CASES, tmp_path / "cases", form)
    export.to_zip(CASES, tmp_path / "cases.zip", form)
    for source in (tmp_path / "cases", tmp_path / "cases.zip"):
        rows = list(incoming.rows(source))
        assert [row.case for row in rows] == CASES
        assert incoming.count(source) == len(CASES)
    assert sorted(os.listdir(tmp_path)) == ["cases", "cases.zip"]


def test_the_same_cases_make_the_same_archive(tmp_path: Path) -> None:
    export.to_zip(CASES, tmp_path / "a.zip", "json")
    export.to_zip(CASES, tmp_path / "b.zip", "json")
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()


def test_lines(tmp_path: Path) -> None:
    export.to_lines(CASES, tmp_path / "a.jsonl")
    assert [row.case for row in incoming.rows(tmp_path / "a.jsonl")] == CASES


@pytest.mark.parametrize("form", ["turtle", "json-ld"])
def test_linked_data(tmp_path: Path, form: str) -> None:
    """Through rdflib: exact documents, and the choices found by a SPARQL query as by plain Python."""
    rdflib = pytest.importorskip("rdflib")
    assert linked_data.write(CASES, tmp_path / "a", form) == len(CASES)
    assert list(linked_data.read(tmp_path / "a", form)) == CASES
    graph = rdflib.Graph().parse(tmp_path / "a", format=form)
    found = graph.query(
        "PREFIX rpd: <urn:rpd-casebook:vocabulary:> PREFIX skos: <http://www.w3.org/2004/02/skos/core#> "
        "PREFIX dcterms: <http://purl.org/dc/terms/> "
        "SELECT ?id ?option WHERE { ?case a rpd:Case; dcterms:identifier ?id; rpd:uses ?c . "
        "?c skos:inScheme <urn:rpd-casebook:vocabulary:connector>; skos:notation ?option . ?c skos:prefLabel ?l }"
    )
    expected = {(case.id, case.design.connector) for case in CASES if case.design}
    assert {(str(row.id), str(row.option)) for row in found} == expected


def test_through_pandas(tmp_path: Path) -> None:
    """A table read by pandas, written by pandas, and read again is the same cases."""
    import pandas as pd

    export.to_csv(lambda: iter(CASES), tmp_path / "a.csv")
    frame = pd.read_csv(tmp_path / "a.csv", dtype=str, keep_default_na=False, encoding="utf-8-sig")
    assert list(frame["id"]) == [case.id for case in CASES]
    frame.to_csv(tmp_path / "b.csv", index=False)
    frame.to_excel(tmp_path / "c.xlsx", index=False)
    assert read_table(tmp_path / "b.csv") == CASES
    export.to_xlsx(lambda: iter(CASES), tmp_path / "d.xlsx")
    book = pd.read_excel(tmp_path / "d.xlsx", dtype=str, keep_default_na=False)
    assert (book["id"] == frame["id"]).all()
    assert set(book.columns) == set(frame.columns)


@pytest.mark.parametrize("name", ["a.csv", "a.xlsx"])
def test_no_cell_begins_as_a_formula(tmp_path: Path, name: str) -> None:
    """The characters listed by OWASP, "CSV Injection": = + - @ tab and carriage return (page, from memory)."""
    write = export.to_csv if name.endswith("csv") else export.to_xlsx
    write(lambda: iter(CASES), tmp_path / name)
    if name.endswith("csv"):
        with (tmp_path / name).open(encoding="utf-8-sig", newline="") as stream:
            found = [cell for row in csv.reader(stream) for cell in row]
    else:
        from openpyxl import load_workbook

        sheet = load_workbook(tmp_path / name).worksheets[0]
        found = [cell.value for row in sheet.iter_rows() for cell in row if cell.value is not None]
        assert {cell.data_type for row in sheet.iter_rows() for cell in row if cell.value is not None} == {
            "s"
        }
    risky = [cell for cell in found if str(cell).startswith(("=", "+", "-", "@", "\t", "\r"))]
    assert risky == []
    assert any("1+1" in str(cell) for cell in found)


def test_a_stop_half_way_leaves_what_was_there(tmp_path: Path) -> None:
    (tmp_path / "a.jsonl").write_text("what was there\n")

    def failing():
        yield from CASES[:3]
        raise RuntimeError("stopped")

    for write in (
        lambda: export.to_lines(failing(), tmp_path / "a.jsonl"),
        lambda: export.to_folder(failing(), tmp_path / "folder", "yaml"),
        lambda: export.to_zip(failing(), tmp_path / "a.zip", "json"),
    ):
        with pytest.raises(RuntimeError):
            write()
    assert os.listdir(tmp_path) == ["a.jsonl"]
    assert (tmp_path / "a.jsonl").read_text() == "what was there\n"


def test_a_folder_with_something_in_it_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("x")
    with pytest.raises(LibraryError):
        export.to_folder(CASES, tmp_path, "yaml")
    assert os.listdir(tmp_path) == ["mine.txt"]


@settings(max_examples=60, deadline=None)
@given(
    st.text(
        alphabet=st.characters(exclude_categories=("Cs", "Cc")) | st.sampled_from("\t\n\r_x0D'=+-@"),
        max_size=30,
    )
)
def test_any_text_survives_a_cell_and_a_workbook(text: str) -> None:
    shape = cells.place("title").shape
    assert cells.value(cells.guarded(text), shape) == text
    assert unescaped(escaped(text)) == text
    assert not cells.guarded(text).startswith(tuple("=+-@\t\r"))


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32))
def test_any_case_survives_its_cells(seed: int) -> None:
    case = next(iter(invented_cases(1, seed=seed)))
    row = cells.to_cells(documents.as_data(case))
    values = {path: cells.value(cell, cells.place(path).shape) for path, cell in row.items()}
    assert read_value(cells.from_cells(values)) == case


def test_archive_members_are_readable_by_any_tool(tmp_path: Path) -> None:
    export.to_zip(CASES, tmp_path / "a.zip", "yaml")
    with zipfile.ZipFile(tmp_path / "a.zip") as archive:
        assert archive.testzip() is None
        assert archive.namelist() == [f"{case.id}.yaml" for case in CASES]
