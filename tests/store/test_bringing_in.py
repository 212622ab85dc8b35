"""Import: every row gets its verdict first; then all of it or the valid rows; nothing by halves."""

import zipfile
from pathlib import Path

import pytest
from sqlalchemy import select

from recommender.domain.case import Case
from recommender.precedents.store import documents
from recommender.precedents.store.checking import faults
from recommender.precedents.store.exporting import export
from recommender.precedents.store.importing import columns, sheets
from recommender.precedents.store.importing import rows as incoming
from recommender.precedents.store.importing.batch import dry_run, import_all, import_valid
from recommender.precedents.store.importing.reports import ImportRefused, Report, Terms
from recommender.precedents.store.importing.rows import BadSource, Row
from recommender.precedents.store.library import Library
from recommender.precedents.store.schema import imports
from tests.store.invented import invented_cases

CASES = list(invented_cases(12, seed=5))
BARE = "format: 1\nid: {}\narch: maxilla\nmissing: [15, 16]\n"


def terms(**changes: object) -> Terms:
    return Terms(**({"who": "KM", "why": "past work"} | changes))  # type: ignore[arg-type]


def rows_of(cases: list[Case]) -> list[Row]:
    return [Row(f"row {number}", case) for number, case in enumerate(cases, start=1)]


def verdicts(reports: list[Report]) -> dict[str, str]:
    return {str(report.case_id): report.verdict for report in reports}


def as_draft(case: Case) -> Case:
    """What a stated approval becomes on its way in."""
    if documents.status(case) == "draft":
        return case
    return case.model_copy(update={"review": case.review.model_copy(update={"status": "draft"})})


def test_every_row_gets_its_verdict_and_nothing_is_written(library: Library, tmp_path: Path) -> None:
    import_all(library, rows_of(CASES[:4]), terms(keep_status=True), lambda _: None)
    near = CASES[1].model_copy(update={"id": "copy-of-1", "title": "again"})
    changed = CASES[2].model_copy(update={"title": "another title"})
    bad = tmp_path / "bad.yaml"
    bad.write_text(
        "format: 1\nid: bad\narch: maxilla\nmissing: [15]\nabutments:\n  - tooth: 14\n    mobility: 9\n"
    )
    rows = [*rows_of([CASES[0], near, changed, CASES[5]]), incoming.from_bytes(bad.read_bytes(), str(bad))]
    stamp = library.version()
    seen: list[Report] = []
    summary = dry_run(library, rows, terms(), seen.append)
    assert library.version() == stamp
    assert verdicts(seen[:4]) == {
        CASES[0].id: "identical", "copy-of-1": "near_duplicate", CASES[2].id: "changed", CASES[5].id: "new",
    }  # fmt: skip
    assert (seen[1].of, seen[1].overlap) == (CASES[1].id, 1.0)
    assert seen[4].verdict == "invalid"
    assert str(seen[4].problems[0]).startswith(f"{bad}:7:15: abutments[14].mobility: found 9; allowed ")
    told = {verdict: number for verdict, number in summary.counts.items() if number}
    assert told == {"new": 1, "changed": 1, "identical": 1, "near_duplicate": 1, "invalid": 1}


def test_all_or_nothing(library: Library) -> None:
    rows = [*rows_of(CASES), incoming.from_bytes(b"format: 1\nid: no", "broken.yaml")]
    with pytest.raises(ImportRefused) as refused:
        import_all(library, rows, terms(), lambda _: None)
    assert "1 of 13 rows" in str(refused.value)
    assert library.heads() == []
    summary = import_all(library, rows[:-1], terms(), lambda _: None)
    assert summary.written == 12
    assert {version.case_id: version.case for version in library.latest()} == {
        c.id: as_draft(c) for c in CASES
    }
    assert {version.kind for case in CASES for version in library.history(case.id)} == {"imported"}
    assert faults(library) == []


def test_the_valid_ones_only(library: Library) -> None:
    rows = [*rows_of(CASES[:3]), incoming.from_bytes(b"{", "broken.json"), *rows_of(CASES[3:])]
    summary = import_valid(library, rows, terms(), lambda _: None, digest="d", name="rows")
    assert (summary.written, summary.counts["invalid"]) == (12, 1)
    assert len(library.heads()) == 12
    again = import_valid(library, rows, terms(), lambda _: None, digest="d", name="rows")
    assert (again.written, again.counts["identical"]) == (0, 12)


def test_a_stopped_import_goes_on(library: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    from recommender.precedents.store.importing import sorting

    monkeypatch.setattr(sorting, "BATCH", 3)

    def stopping():
        for number, row in enumerate(rows_of(CASES)):
            if number == 8:
                raise KeyboardInterrupt
            yield row

    with pytest.raises(KeyboardInterrupt):
        import_valid(library, stopping(), terms(), lambda _: None, digest="d", name="rows")
    assert len(library.heads()) == 6
    seen: list[Report] = []
    summary = import_valid(library, rows_of(CASES), terms(), seen.append, digest="d", name="rows")
    assert (summary.passed_over, summary.written) == (6, 6)
    assert [report.case_id for report in seen] == [case.id for case in CASES[6:]]
    assert len(library.heads()) == 12
    with library.reading() as connection:
        assert connection.execute(select(imports)).all() == []


def test_the_same_id_twice_in_one_source(library: Library) -> None:
    seen: list[Report] = []
    dry_run(library, rows_of([CASES[0], CASES[0]]), terms(), seen.append)
    assert [report.verdict for report in seen] == ["new", "invalid"]
    assert "first in row 1" in seen[1].problems[0].allowed


def test_somebody_else_saves_meanwhile(library: Library) -> None:
    from recommender.precedents.store.errors import LibraryError

    library.add(CASES[0], who="KM")
    changed = CASES[0].model_copy(update={"title": "from the file"})
    mine = CASES[0].model_copy(update={"title": "from the bench"})

    def rows():
        yield Row("row 1", changed)
        yield Row("row 2", CASES[1])

    def meanwhile(report: Report) -> None:
        if report.case_id == CASES[1].id:
            library.save(mine, opened=1, who="tutor", why="meanwhile")

    with pytest.raises(LibraryError, match="changed by somebody else"):
        import_all(library, rows(), terms(changed="take"), meanwhile)
    assert library.get(CASES[0].id).case == mine
    assert [head.id for head in library.heads()] == [CASES[0].id]


def test_approval_is_not_brought_in_unless_asked_for(library: Library) -> None:
    approved = next(case for case in CASES if documents.status(case) == "approved")
    seen: list[Report] = []
    import_all(library, rows_of([approved]), terms(), seen.append)
    assert library.heads()[0].status == "draft"
    assert "comes in as a draft" in seen[0].notes[0]
    import_all(library, rows_of([approved]), terms(keep_status=True), seen.append)
    assert library.heads()[0].status == "approved"
    assert library.get(approved.id).case == approved


def test_what_looks_like_a_person_comes_in_as_a_draft(library: Library) -> None:
    approved = next(case for case in CASES if documents.status(case) == "approved")
    seen: list[Report] = []
    named = approved.model_copy(update={"title": "for Mrs Ashcombe"})
    import_all(library, rows_of([named]), terms(keep_status=True), seen.append)
    assert library.heads()[0].status == "draft"
    assert seen[0].notes[0] == "may identify a patient: title, character 5: a name ('Mrs Ashcombe')"
    assert library.heads()[0].serving is None


def test_a_changed_case_has_to_be_approved_again(library: Library) -> None:
    approved = next(case for case in CASES if documents.status(case) == "approved")
    import_all(library, rows_of([approved]), terms(keep_status=True), lambda _: None)
    import_all(library, rows_of([approved]), terms(), lambda _: None)
    assert library.heads()[0].revision == 1  # the same content does not undo an approval
    import_all(library, rows_of([approved.model_copy(update={"title": "x"})]), terms(), lambda _: None)
    assert (library.heads()[0].status, library.heads()[0].revision) == ("draft", 2)
    # until a reviewer decides, the approved content serves; asking for the file's own approval changes nothing of that
    import_all(
        library, rows_of([approved.model_copy(update={"title": "y"})]), terms(keep_status=True), lambda _: None
    )
    assert (library.heads()[0].serving, next(library.serving()).case) == (1, approved)


def test_near_duplicates_within_one_source_and_left_out_by_choice(library: Library) -> None:
    copy = CASES[0].model_copy(update={"id": "a-copy"})
    seen: list[Report] = []
    summary = import_all(library, rows_of([CASES[0], copy, CASES[1]]), terms(skip_near=True), seen.append)
    assert [report.verdict for report in seen] == ["new", "near_duplicate", "new"]
    assert (seen[1].of, summary.written) == (CASES[0].id, 2)
    assert [head.id for head in library.heads()] == sorted([CASES[0].id, CASES[1].id])


@pytest.mark.parametrize("age", [90, 97, 104])
def test_great_ages_are_not_kept(library: Library, tmp_path: Path, age: int) -> None:
    for name, text in (
        ("a.yaml", BARE.format("a") + f"patient: {{age: {age}}}\n"),
        ("b.json", f'{{"format":1,"id":"b","arch":"maxilla","missing":[15],"patient":{{"age":{age}}}}}'),
    ):
        (tmp_path / name).write_text(text)
    (tmp_path / "c.csv").write_text(f"id,arch,missing,patient.age\nc,maxilla,15,{age}\n")
    table = columns.understand(str(tmp_path / "c.csv"), sheets.headings(tmp_path / "c.csv"), {})
    rows = [*incoming.rows(tmp_path), *sheets.rows(tmp_path / "c.csv", table, "iso")]
    import_all(library, rows, terms(), lambda _: None)
    assert {head.age for head in library.heads()} == {"90+"}
    assert all(f'"age":{age}' not in version.document for version in library.latest())
    assert all("90+" in row.notes[0] for row in rows)


# tables that people make


def table(tmp_path: Path, text: str, mapping: dict[str, str] | None = None, name: str = "t.csv") -> list[Row]:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return list(sheets.rows(path, columns.understand(str(path), sheets.headings(path), mapping or {}), "iso"))


def test_a_table_with_its_own_headings(tmp_path: Path) -> None:
    text = "Case;Jaw;Gone;Age;Remark\nK-1;maxilla;15 16;58;long\nK-2;mandible;36, 37;;\n"
    mapping = {"Case": "id", "Jaw": "arch", "Gone": "missing", "Age": "patient.age", "Remark": "-"}
    first, second = table(tmp_path, text, mapping)
    assert (first.problems, second.problems) == ((), ())
    assert (first.case.id, first.case.missing, first.case.patient.age) == ("K-1", [15, 16], 58)
    assert (second.case.missing, second.case.patient) == ([36, 37], None)


def test_universal_numbers_in_a_table(tmp_path: Path) -> None:
    (row,) = table(tmp_path, "id,arch,missing,numbering\nu,maxilla,4 3,universal\n")
    assert row.case.missing == [15, 16]


@pytest.mark.parametrize(
    ("cell", "column", "expected"),
    [
        ("9", "abutments[1].mobility", ":2:5: abutments[14].mobility: found 9; allowed a whole number from 0 to 3"),
        ("0.25 kg", "abutments[1].crown_height_mm", ':2:5: abutments[1].crown_height_mm: found "0.25 kg"; allowed'),
        ("maybe", "abutments[1].tissue_undercut", "allowed true | false | yes | no"),
        ("i-bat", "prescription.retainers.14", "did you mean"),
        ("x", "design", "{} here, or one column for each entry"),
    ],
)  # fmt: skip
def test_a_bad_cell_is_told_with_row_and_column(
    tmp_path: Path, cell: str, column: str, expected: str
) -> None:
    (row,) = table(tmp_path, f'id,arch,missing,abutments[1].tooth,{column}\na,maxilla,15,14,"{cell}"\n')
    assert row.case is None
    assert expected in str(row.problems[0])
    assert str(row.problems[0]).startswith(f"{tmp_path / 't.csv'}:2:5")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "no headings"),
        ("id,arch,missing,id\n", "stands there twice"),
        ("id,arch,missing,mobilty\n", ":1:4: "),
        ("id,arch\n", "no column means missing"),
        ("id,arch,missing,missing[1]\n", "the column missing[1] and"),
        ("id,arch,missing\n\"a", "cannot be read on"),
    ],
)  # fmt: skip
def test_a_table_that_cannot_be_used_says_why(tmp_path: Path, text: str, expected: str) -> None:
    if "missing[1]" in text:
        (row,) = table(tmp_path, text + "a,maxilla,15,16\n")
        assert any("one or the other" in str(problem) for problem in row.problems)
        return
    with pytest.raises(BadSource) as caught:
        table(tmp_path, text)
    assert expected in str(caught.value)


def test_an_unknown_column_gets_a_suggestion(tmp_path: Path) -> None:
    with pytest.raises(BadSource, match=r'did you mean "patient\.hygiene"'):
        table(tmp_path, "id,arch,missing,patient.hygeine\n")


def test_dates_and_formulas_in_a_workbook(tmp_path: Path) -> None:
    from datetime import date

    from openpyxl import Workbook

    book = Workbook()
    book.active.append(["id", "arch", "missing", "title", "patient.age"])
    book.active.append(["a", "maxilla", 17, date(2020, 1, 1), 58.0])
    book.active.append(["b", "maxilla", "17", "fine", 58])
    book.save(tmp_path / "t.xlsx")
    path = tmp_path / "t.xlsx"
    first, second = sheets.rows(path, columns.understand(str(path), sheets.headings(path), {}))
    assert "a date or time" in first.problems[0].found
    assert first.problems[0].at == f"{path}:2:4"
    assert (second.case.missing, second.case.patient.age) == ([17], 58)


# archives


def make_zip(path: Path, members: dict[str, bytes], **attributes: int) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            entry = zipfile.ZipInfo(name)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = attributes.get("external_attr", 0)
            archive.writestr(entry, data)
    return path


@pytest.mark.parametrize(
    "name", ["../out.yaml", "/etc/out.yaml", "a/../../out.yaml", "..\\out.yaml", "C:/out.yaml"]
)
def test_an_archive_that_points_outside_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(BadSource, match="outside the archive"):
        list(incoming.rows(make_zip(tmp_path / "a.zip", {name: BARE.format("a").encode()})))


def test_links_and_bombs_are_refused(tmp_path: Path) -> None:
    with pytest.raises(BadSource, match="is a link"):
        list(
            incoming.rows(
                make_zip(tmp_path / "a.zip", {"a.yaml": b"/etc/passwd"}, external_attr=0xA1ED << 16)
            )
        )
    with pytest.raises(BadSource, match="times its size"):
        list(incoming.rows(make_zip(tmp_path / "b.zip", {"a.yaml": b" " * 50_000_000})))


def test_a_member_that_lies_about_its_size_is_one_bad_row(tmp_path: Path) -> None:
    path = make_zip(
        tmp_path / "a.zip", {"a.yaml": BARE.format("a").encode(), "b.yaml": BARE.format("b").encode()}
    )
    data = bytearray(path.read_bytes())
    place = data.find(b"missing") if b"missing" in data else 45
    data[place] ^= 0xFF
    path.write_bytes(bytes(data))
    rows = list(incoming.rows(path))
    assert len(rows) == 2
    assert [row.case is None for row in rows] == [True, False]


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04", b"not a zip" * 100])
def test_what_is_no_archive_is_told(tmp_path: Path, content: bytes) -> None:
    for name in ("a.zip", "a.xlsx"):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(BadSource):
            list(incoming.rows(tmp_path / name)) if name == "a.zip" else sheets.headings(tmp_path / name)


def test_a_folder_is_read_in_a_fixed_order_and_bad_files_stop_nothing(
    tmp_path: Path, library: Library
) -> None:
    (tmp_path / "in").mkdir()
    for name in ("b", "a", "c"):
        (tmp_path / "in" / f"{name}.yaml").write_text(BARE.format(name))
    (tmp_path / "in" / "bad.yaml").write_bytes(b"\xff\xfe\x00")
    rows = list(incoming.rows(tmp_path / "in"))
    assert [row.case.id if row.case else "-" for row in rows] == ["a", "b", "-", "c"]
    export.to_folder([row.case for row in rows if row.case], tmp_path / "out", "json")
    assert len(list(incoming.rows(tmp_path / "out"))) == 3
