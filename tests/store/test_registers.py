"""Registers as laboratories keep them (invented ones): headings and cells in several languages, one numbering a table,
worksheets, and the rows that are refused, ready to be mended."""

import csv
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import Workbook, load_workbook

from recommender.cli.main import main
from recommender.domain import numbering
from recommender.domain.dentition import ARCH_ORDER
from recommender.domain.lexicon import Heading, guess_heading
from recommender.precedents.store import cells
from recommender.precedents.store.databases import create_database, open_database
from recommender.precedents.store.importing import columns, sheets
from recommender.precedents.store.importing.columns import REASON
from recommender.precedents.store.importing.register import open_register
from recommender.precedents.store.importing.rows import BadSource
from recommender.precedents.store.importing.tooth_cells import Evidence, pairs, teeth_in

HERE = Path(__file__).parent / "registers"
NAMES = ("northquay", "hafenlabor", "atelier-lagune", "taller-ribera", "mesa-bench")
MORE = ("fenbridge", "torrebianca", "molenkade", "serranova", "wislana", "cedarbench")  # headings alone
Run = Callable[..., Result]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("RPD_CASEBOOK_WHO", "KM")
    monkeypatch.delenv("RPD_CASEBOOK_LIBRARY", raising=False)
    create_database("cases.db").close()

    def call(*arguments: str, status: int = 0) -> Result:
        result = CliRunner().invoke(main, ["library", *arguments, "--library", "cases.db"])
        assert result.exit_code == status, (result.output, result.exception)
        return result

    return call


def cases_of(path: Path, mapping: dict[str, str] | None = None, system: str | None = None) -> list:
    register = open_register(path, mapping or {}, guessing=True, numbering=system)
    return [row.case or row.problems for row in register.rows()]


@pytest.mark.parametrize("name", NAMES + MORE)
def test_headings_are_guessed(name: str) -> None:
    """Held against what each heading means, written beside it; a column that may identify somebody is never read."""
    with (HERE / "meanings.csv").open(encoding="utf-8", newline="") as stream:
        expected = {row["heading"]: row["field"] for row in csv.DictReader(stream) if row["register"] == f"{name}.csv"}
    names = sheets.headings(HERE / f"{name}.csv") if name in NAMES else list(expected)
    assert set(names) == set(expected)
    assert len(names) == 34
    found = columns.understand(name, names, {}, guessing=True)
    known = [one for one in found.columns if one.left_out != "not understood"]
    right = [one.name for one in known if one.meaning == expected[one.name]]
    assert len(right) >= 25, sorted(set(names) - set(right))
    wrong = [one.name for one in found.columns if one.targets and one.meaning != expected[one.name]]
    assert wrong == []


def test_a_heading_that_names_two_fields_is_not_guessed() -> None:
    assert guess_heading("alloy ridge") is None
    assert guess_heading("our clasp design") == Heading("prescription.retainers", "retainer", None, "our", False)


def test_the_same_case_in_five_hands() -> None:
    """Decimal commas, F and w and mujer, CoCr, lower and UK and inférieur, ranges, what is said of which tooth."""
    read = {name: cases_of(HERE / f"{name}.csv") for name in NAMES}
    english, german, french, spanish, universal = (read[name] for name in NAMES)
    assert [len(found) for found in read.values()] == [3, 2, 2, 2, 2]
    assert {case.patient.sex for case in (english[0], german[0], french[0], spanish[0], universal[0])} == {"female"}
    for case in (english[0], english[1], german[0], french[0], spanish[1], universal[0]):
        assert case.prescription.alloy == "cobalt_chromium"
    assert [found[1].arch for found in read.values()] == ["mandible"] * 5
    assert english[0].spans[0].clearance_mm == german[0].spans[0].clearance_mm == 6.5
    assert (german[0].missing, german[0].absent) == ([16, 15, 14], [18, 28])
    assert {a.tooth: a.probing_mm for a in german[0].abutments} == {13: 2.5, 17: 3.0}
    said = {a.tooth: (a.mobility, a.bone_support) for a in english[0].abutments}
    assert said == {14: (0, "good"), 17: (1, "reduced")}
    assert english[0].prescription.retainers == {14: "i_bar", 17: "circumferential"}
    assert [(tuple(s.teeth), s.clearance_mm) for s in french[1].spans] == [((36, 37), 6.0), ((46,), 7.0)]
    # counted 1 to 32: 13-15 are 25, 26, 27, and 12 is the upper left first premolar
    assert (universal[0].missing, universal[0].prescription.retainers[24]) == ([25, 26, 27], "i_bar")
    assert universal[0].abutments[0].undercuts_mm.mesiofacial == 0.25
    assert english[0].patient.allergy == []
    assert english[2][0].field == "prescription.connector"
    assert "palatal_strap or complete_plate" in english[2][0].hint


def test_one_column_serves_two_fields_and_a_mapping_has_a_name(run: Run) -> None:
    Path("r.csv").write_text("Case;Jaw;Missing;Metal;Clasp\nK-1;upper;15-17;CoCr;14 Akers\n")
    run("import", "r.csv", "--map", "Metal=prescription.alloy", "--map", "Metal=design.alloy",
        "--map", "Clasp=design.retainers", "--guess", "--save-mapping", "bench book", "--apply", "all")  # fmt: skip
    case = json.loads(run("show", "K-1", "--json").stdout)
    assert case["prescription"]["alloy"] == case["design"]["alloy"] == "cobalt_chromium"
    assert case["design"]["retainers"] == [{"tooth": 14, "assembly": "circumferential"}]
    Path("s.csv").write_text("Metal;Case;Jaw;Missing;Clasp\nCoCr;K-2;lower;36 37;35 RPA\n")
    run("import", "s.csv", "--mapping", "bench book", "--apply", "all")
    assert json.loads(run("show", "K-2", "--json").stdout)["design"]["alloy"] == "cobalt_chromium"
    assert "bench book" in run("import", "s.csv", "--mapping", "other", status=1).stderr


def test_guesses_are_shown_first_and_taken_over_only_when_asked(run: Run) -> None:
    path = str(HERE / "hafenlabor.csv")
    trial = run("import", path)
    assert "guessed: 'Kiefer' is arch" in trial.stderr
    assert "'Geburtsdatum': may identify a patient (not read)" in trial.stderr
    assert "2 new; 0 written" in trial.stdout
    refused = run("import", path, "--apply", "all", status=1).stderr
    assert "--map 'Kiefer=arch'" in refused
    assert "2 written" in run("import", path, "--apply", "all", "--guess").stdout
    assert "2 identical; 0 written" in run("import", path, "--apply", "all").stdout  # remembered


def test_rejected_rows_are_mended_and_brought_in_again(run: Run) -> None:
    source = str(HERE / "northquay.csv")
    for name in ("no.csv", "no.xlsx"):
        run("import", source, "--guess", "--apply", "valid", "--rejected", name, status=1)
    book = load_workbook("no.xlsx")
    assert [cell.value for cell in book.active[1]][-1] == REASON
    assert "palatal plate" in book.active.cell(2, book.active.max_column).value
    rows = list(csv.reader(Path("no.csv").read_text(encoding="utf-8-sig").splitlines()))
    assert len(rows) == 2
    place = rows[0].index("Major connector")
    rows[1][place] = "complete palatal plate"
    with Path("mended.csv").open("w", newline="") as stream:
        csv.writer(stream).writerows(rows)
    assert "1 written" in run("import", "mended.csv", "--apply", "all", "--numbering", "iso").stdout
    assert json.loads(run("show", "NQ-103", "--json").stdout)["prescription"]["connector"] == "complete_plate"


def test_cells_in_more_languages(tmp_path: Path, run: Run) -> None:
    """Italian and Dutch; headings that are surnames too, or speak of a name, are headings."""
    Path("it.csv").write_text(
        "Numero scheda,Cognome E Nome,Arcata,Denti mancanti,Sesso,Igiene orale,Cresta,Denti pilastro,Supporto osseo,"
        "Ganci,Connettore principale\nI-1,,superiore,26,F,buona,dura,\"25, 27\",\"buono, ridotto\",\"25 barra a I, 27 "
        "circonferenziale\",barra palatina\n", encoding="utf-8",
    )  # fmt: skip
    Path("nl.csv").write_text(
        "Opdrachtnr,Patient Name,Kaak,Ontbrekende elementen,Geslacht,Mondhygiëne,Kaakwal,Pijlerelementen,Botsteun,"
        "Ankers,Grote verbinder\nI-2,,onder,36,v,goed,stevig,\"35, 37\",\"goed, verminderd\",\"35 I-anker, "
        "37 ringanker\",linguale beugel\n", encoding="utf-8",
    )  # fmt: skip
    for name in ("it.csv", "nl.csv"):
        assert "1 written" in run("import", name, "--guess", "--apply", "all").stdout
    with open_database("cases.db") as library:
        first, second = (library.get(case_id).case for case_id in ("I-1", "I-2"))
    for case in (first, second):
        assert (case.patient.sex, case.patient.hygiene, case.spans[0].ridge) == ("female", "good", "firm")
        assert [abutment.bone_support for abutment in case.abutments] == ["good", "reduced"]
    assert (first.prescription.connector, first.prescription.retainers[25]) == ("palatal_bar", "i_bar")
    assert (second.prescription.connector, second.prescription.retainers[37]) == ("lingual_bar", "ring")


# numbering: one for a whole table, never by the row


def table(tmp_path: Path, *rows: str, name: str = "t.csv") -> Path:
    path = tmp_path / name
    path.write_text("\n".join(("id,arch,missing", *rows)) + "\n", encoding="utf-8")
    return path


def test_a_table_counted_1_to_32_is_never_read_as_two_digits(tmp_path: Path) -> None:
    """4 is no two-digit tooth, so 14, 15 and 16 in the row above are upper left molars."""
    first, second = cases_of(table(tmp_path, "a,maxilla,14 15 16", "b,maxilla,4 5"))
    assert (first.missing, second.missing) == ([26, 27, 28], [15, 14])
    first, second = cases_of(table(tmp_path, "a,maxilla,14 15 16", "b,mandible,36"))
    assert (first.missing, second.missing) == ([14, 15, 16], [36])
    # 21 and 22 are lower teeth in one system and upper ones in the other: the arch decides
    assert cases_of(table(tmp_path, "a,lower,21 22", "b,upper,14"))[1].missing == [26]
    # whichever number of a list it is: 26 is an upper tooth in two digits alone
    assert cases_of(table(tmp_path, "a,upper,15 26"))[0].missing == [15, 26]


def test_quadrant_and_place_with_a_stop_between_are_one_tooth(tmp_path: Path) -> None:
    """As several countries write ISO 3950: 1.6 is the upper right first molar, never teeth 1 and 6."""
    first, second = cases_of(table(tmp_path, "a,maxilla,1.5 1.6", 'b,mandible,"4.6, 4.7"'))
    assert (first.missing, second.missing) == ([15, 16], [46, 47])
    with pytest.raises(BadSource, match=r"both systems .1\.6 in row 2 is two-digit, 19 in row 3 counts 1 to 32"):
        cases_of(table(tmp_path, "a,maxilla,1.6", "b,mandible,19 30"))
    with pytest.raises(cells.CellError):
        teeth_in("1.6", "universal", None)
    assert [(one.teeth, one.words) for one in pairs("14 mesial rest, 1.5 mm")] == [("14", "mesial rest, 1.5 mm")]


def test_a_numbering_that_is_not_settled_is_asked_for(tmp_path: Path, run: Run) -> None:
    path = table(tmp_path, "a,maxilla,14 15 16")
    with pytest.raises(BadSource, match=r"fits both systems .*--numbering iso or --numbering universal"):
        cases_of(path)
    assert cases_of(path, system="universal")[0].missing == [26, 27, 28]
    assert cases_of(path, system="iso")[0].missing == [14, 15, 16]
    mixed = table(tmp_path, "a,maxilla,4", "b,mandible,36")
    with pytest.raises(BadSource, match=r"both systems .36 in row 3 is two-digit, 4 in row 2 counts 1 to 32"):
        cases_of(mixed)
    assert "--numbering" in run("import", str(mixed), status=1).stderr
    (first, second) = cases_of(mixed, system="iso")
    assert first[0].field.startswith("missing")
    assert second.missing == [36]


@given(st.lists(st.tuples(st.sampled_from(sorted(ARCH_ORDER)), st.sets(st.integers(0, 15), min_size=1)), min_size=1),
       st.sampled_from(["iso", "universal"]))  # fmt: skip
@settings(max_examples=80)
def test_evidence_never_names_the_wrong_system(rows: list[tuple[str, set[int]]], system: str) -> None:
    found = Evidence()
    for arch, places in rows:
        teeth = [ARCH_ORDER[arch][place] for place in places]
        found.take([t if system == "iso" else numbering.to_universal(t) for t in teeth], arch, "row")
    assert found.settled in (system, None)


def test_worksheets_are_all_read_or_chosen_and_the_rest_is_named(tmp_path: Path, run: Run) -> None:
    book = Workbook()
    book.active.title = "2019"
    for title, row in (("2019", ("a", "upper", "26")), ("2020", ("b", "lower", "36")), ("prices", ("x", "y", "z"))):
        sheet = book[title] if title in book.sheetnames else book.create_sheet(title)
        sheet.append(["item", "each", "net"] if title == "prices" else ["Case no", "Jaw", "Missing teeth"])
        sheet.append(row)
    book.create_sheet("empty")
    book.save("two.xlsx")
    told = run("import", "two.xlsx", "--guess", "--apply", "all")
    assert "2 written" in told.stdout
    assert "worksheet prices is not read" in told.stderr
    assert "empty (empty) is not read" in told.stderr
    assert "two.xlsx[2020]:2" in run("import", "two.xlsx", "--sheet", "2020", "--guess", "--every-row").stdout
    assert "worksheet 2019 is not read" in run("import", "two.xlsx", "--sheet", "2020", "--guess").stderr
    assert "there are 2019, 2020" in run("import", "two.xlsx", "--sheet", "2021", status=1).stderr


def test_cells_of_teeth() -> None:
    assert [(one.teeth, one.words) for one in pairs("14: 1; 24: 0,5")] == [("14", "1"), ("24", "0.5")]
    assert [(one.teeth, one.words) for one in pairs("Akers 14, 24; RPA 35")] == [
        ("14", "Akers"), ("24", "Akers"), ("35", "RPA"),
    ]  # fmt: skip
    assert teeth_in("UR6, UL7", "iso", None) == [16, 27]
    assert teeth_in("13 to 23", "iso", "maxilla") == [13, 12, 11, 21, 22, 23]
    assert teeth_in("#2-#5", "universal", "maxilla") == [2, 3, 4, 5]
    with pytest.raises(cells.CellError):
        teeth_in("the molars", "iso", "maxilla")


# what a spreadsheet program leaves behind


def test_windows_1252_is_read_and_said(tmp_path: Path, run: Run) -> None:
    Path("w.csv").write_bytes("id;arch;missing;title\nw-1;mandible;36;Gerüst für Prüfung\n".encode("cp1252"))
    told = run("import", "w.csv", "--apply", "all")
    assert "no UTF-8; read as Windows-1252" in told.stderr
    assert "Gerüst für Prüfung" in run("show", "w-1").stdout
    Path("x.csv").write_bytes(b"id;arch;missing\n\x81\x8d;mandible;36\n")
    assert "neither UTF-8 nor Windows-1252" in run("import", "x.csv", status=1).stderr


def test_a_formula_without_its_value_is_told(tmp_path: Path) -> None:
    book = Workbook()
    book.active.append(["id", "arch", "missing", "patient.age"])
    book.active.append(["a", "mandible", "36", "=50+8"])
    book.active.append(["b", "mandible", "36", 58])
    book.save(tmp_path / "f.xlsx")
    first, second = cases_of(tmp_path / "f.xlsx")
    assert "the formula =50+8, whose value is not stored" in str(first[0])
    assert second.patient.age == 58


def test_a_cell_far_out_costs_nothing(tmp_path: Path) -> None:
    """One cell in the last corner of a sheet: read as what it is, within the 512 MB and 10 s that the limits name."""
    import subprocess
    import sys

    book = Workbook()
    book.active.append(["id", "arch", "missing"])
    book.active.append(["a", "mandible", "36"])
    book.active.cell(1_048_576, 16_384).value = "x"
    book.save(tmp_path / "far.xlsx")
    first, last = cases_of(tmp_path / "far.xlsx")
    assert first.missing == [36]
    assert "no cell beyond the headings" in str(last[0])
    # A process of its own: this one has held other things before.
    limits = "import resource; resource.setrlimit(resource.RLIMIT_CPU, (10, 10));"
    read = (
        "from pathlib import Path; from recommender.precedents.store.importing.register import open_register;"
        f"list(open_register(Path({str(tmp_path / 'far.xlsx')!r}), {{}}, guessing=True, numbering=None).rows());"
    )
    # ru_maxrss would count what the parent held when it started the process
    code = limits + read + "print(open('/proc/self/status').read().split('VmHWM:')[1].split()[0])"
    told = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert int(told.stdout) < 512 * 1024


def test_an_export_says_its_numbering(run: Run) -> None:
    with open_database("cases.db", write=True) as library:
        from recommender.domain.case import Case

        library.add(Case.model_validate({"format": 1, "id": "a", "arch": "maxilla", "missing": [14, 15]}), who="KM")
    for name in ("a.csv", "a.xlsx"):
        run("export", name)
        assert "1 identical" in run("import", name).stdout


def test_a_case_with_many_events_goes_out_and_comes_back(tmp_path: Path) -> None:
    from recommender.domain.case import Case
    from recommender.precedents.store.exporting import export

    events = [{"month": month, "event": "relined"} for month in range(65)]
    case = Case.model_validate({"format": 1, "id": "a", "arch": "maxilla", "missing": [15],
                                "outcome": {"followed_months": 65, "events": events}})  # fmt: skip
    export.to_csv(lambda: [case], tmp_path / "a.csv")
    export.to_xlsx(lambda: [case], tmp_path / "a.xlsx")
    assert cases_of(tmp_path / "a.csv") == cases_of(tmp_path / "a.xlsx") == [case]


@pytest.mark.parametrize("text", [
    '{"format":1,"id":"a","arch":"maxilla","missing":[15],"patient":{"age":58,"age":61}}',
    '{"format":1,"id":"a","arch":"maxilla","missing":[15],"missing":[16]}',
])  # fmt: skip
def test_a_key_that_stands_there_twice_is_refused(tmp_path: Path, text: str) -> None:
    from recommender.precedents.store.importing import rows as incoming

    (tmp_path / "a.jsonl").write_text(text + "\n")
    (row,) = incoming.rows(tmp_path / "a.jsonl")
    assert row.case is None
    assert "once" in str(row.problems[0])
    spaced = text.replace(',"age":61', "").replace(',"missing":[16]', "").replace('":', '" : ')
    (tmp_path / "a.jsonl").write_text(spaced + "\n")
    assert next(iter(incoming.rows(tmp_path / "a.jsonl"))).case is not None


def test_a_stopped_import_with_another_mapping_begins_anew(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    from recommender.precedents.store.importing import batch, sorting

    Path("r.csv").write_text("id,arch,missing,a,b\n" + "".join(f"r-{n},lower,36,{50 + n},{70 + n}\n" for n in range(9)))
    monkeypatch.setattr(sorting, "BATCH", 3)
    real, calls = batch._write, iter(range(99))

    def stopping(*arguments: object) -> list[str]:
        if next(calls) == 2:
            raise KeyboardInterrupt
        return real(*arguments)

    monkeypatch.setattr(batch, "_write", stopping)
    wrong = ["--map", "a=patient.age", "--ignore", "b"]
    CliRunner().invoke(main, ["library", "import", "r.csv", "--apply", "valid", *wrong, "--library", "cases.db"])
    monkeypatch.setattr(batch, "_write", real)
    right = ["--map", "b=patient.age", "--ignore", "a"]
    told = run("import", "r.csv", "--apply", "valid", *right).stdout
    assert "6 changed" in told
    assert "3 new" in told
    assert [json.loads(run("show", f"r-{n}", "--json").stdout)["patient"]["age"] for n in (0, 8)] == [70, 78]
