"""The verbs of the command line, end to end."""

import json
import os
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from recommender.cli.main import main
from recommender.precedents.store.databases import create_database, open_database
from recommender.precedents.store.schema import HEAD
from tests.store.invented import invented_cases

from .test_migrate_and_back_up import older_library

CASES = list(invented_cases(6, seed=21))
Run = Callable[..., Result]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("RPD_CASEBOOK_WHO", "KM")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.delenv("RPD_CASEBOOK_LIBRARY", raising=False)

    def call(*arguments: str, status: int = 0, where: str | None = "cases.db") -> Result:
        given = [*arguments] if where is None else [*arguments, "--library", where]
        result = CliRunner().invoke(main, given)
        assert result.exit_code == status, (result.output, result.exception)
        return result

    return call


@pytest.fixture
def filled(run: Run) -> None:
    with create_database("cases.db") as library:
        for case in CASES:
            library.add(case, who="KM")


def test_a_copy_of_the_demo_library_is_ones_own(run: Run) -> None:
    from recommender.precedents.source import demo_source

    run("library", "init", "cases.db", where=None)
    with open_database("cases.db") as library:
        assert [version.case for version in library.latest()] == list(demo_source().cases())
    run("library", "init", "cases.db", where=None, status=1)
    run("library", "init", "empty.db", "--empty", where=None)
    with open_database("empty.db") as library:
        assert library.heads() == []


def test_the_demo_library_is_read_only(run: Run) -> None:
    first = json.loads(run("library", "list", "--json", where=None).stdout.splitlines()[0])
    refused = run("library", "retire", first["case"], "--reason", "trying", where=None, status=1)
    assert "library init" in refused.stderr
    assert not os.listdir(".")


@pytest.mark.usefixtures("filled")
def test_list_show_history_restore(run: Run) -> None:
    rows = [json.loads(line) for line in run("library", "list", "--json").stdout.splitlines()]
    assert [row["case"] for row in rows] == [case.id for case in CASES]
    drafts = run("library", "list", "--json", "--status", "draft", "--arch", "maxilla").stdout.splitlines()
    expected = [row["case"] for row in rows if (row["status"], row["arch"]) == ("draft", "maxilla")]
    assert [json.loads(line)["case"] for line in drafts] == expected

    case = CASES[0]
    Path("c.yaml").write_text(
        run("library", "show", case.id).stdout.replace("invented:", "invented and changed:")
    )
    run("library", "edit", "c.yaml", "--opened", "1", "--why", "another title")
    stale = run("library", "edit", "c.yaml", "--opened", "1", "--why", "again", status=1)
    assert "KM saved revision 2" in stale.stderr
    history = [json.loads(line) for line in run("library", "history", case.id, "--json").stdout.splitlines()]
    assert [entry["why"] for entry in history] == ["", "another title"]
    assert [change["field"] for change in history[1]["changes"]] == ["review.status", "title"]
    run("library", "restore", case.id, "1", "--why", "the first was right")
    shown = json.loads(run("library", "show", case.id, "--json").stdout)
    assert shown["title"] == case.title
    old = run("library", "show", case.id, "--revision", "2").stdout
    assert "invented and changed" in old
    assert "no case 'nobody'" in run("library", "show", "nobody", status=1).stderr


@pytest.mark.usefixtures("filled")
def test_reasons_name_nobody(run: Run) -> None:
    Path("c.json").write_text(json.dumps(json.loads(run("library", "show", CASES[0].id, "--json").stdout)))
    refused = run("library", "edit", "c.json", "--why", "Mrs Ashcombe asked", status=1)
    assert "a name" in refused.stderr


@pytest.mark.usefixtures("filled")
def test_export_and_import(run: Run) -> None:
    for path in ("a.zip", "a.csv", "a.xlsx", "a.jsonl", "folder"):
        run("library", "export", path)
        run("library", "init", f"from-{path}.db", "--empty", where=None)
        dry = run("library", "import", path, where=f"from-{path}.db")
        assert "6 new" in dry.output
        with open_database(f"from-{path}.db") as library:
            assert library.heads() == []
        run("library", "import", path, "--apply", "all", "--keep-status", where=f"from-{path}.db")
        with open_database(f"from-{path}.db") as library:
            assert [version.case for version in library.latest()] == CASES


@pytest.mark.usefixtures("filled")
def test_a_bad_row_stops_all_or_nothing_and_is_told(run: Run) -> None:
    Path("in.jsonl").write_text(
        '{"format":1,"id":"good","arch":"maxilla","missing":[15]}\n{"format":1,"id":"bad","arch":"upper","missing":[15]}\n'
    )
    refused = run("library", "import", "in.jsonl", "--apply", "all", status=1)
    assert "arch: found upper; allowed maxilla | mandible" in refused.stdout
    assert "1 of 2 rows are invalid; nothing was imported" in refused.stderr
    rows = [
        json.loads(line)
        for line in run("library", "import", "in.jsonl", "--json", status=1).stdout.splitlines()
    ]
    assert rows[-1]["counts"]["invalid"] == 1
    assert rows[0]["error"][0]["field"] == "arch"
    run("library", "import", "in.jsonl", "--apply", "valid", status=1)
    assert run("library", "show", "good").stdout.startswith("format: 1\nid: good\n")


@pytest.mark.usefixtures("filled")
def test_a_mapping_is_remembered(run: Run) -> None:
    Path("t.csv").write_text("Case no,Jaw,Gone,Remark\nK-1,maxilla,15 16,x\n")
    refused = run("library", "import", "t.csv", "--apply", "all", status=1)
    assert "t.csv:1:1: found the column Case no" in refused.stderr
    assert "--map 'Case no=id'" in refused.stderr
    assert "no column means missing" in run("library", "import", "t.csv", status=1).stderr
    mapping = ["--numbering", "iso"]
    mapping += ["--map", "Case no=id", "--map", "Jaw=arch", "--map", "Gone=missing", "--ignore", "Remark"]
    assert "1 new" in run("library", "import", "t.csv", *mapping).output
    Path("u.csv").write_text("Case no,Jaw,Gone,Remark\nK-2,mandible,36,y\n")
    assert "1 written" in run("library", "import", "u.csv", "--apply", "all").output
    assert "--map Jaw" in run("library", "import", "t.csv", "--map", "Jaw", status=2).stderr


@pytest.mark.usefixtures("filled")
def test_follow_up_and_survival(run: Run) -> None:
    case = next(case for case in CASES if case.outcome is None)
    run("library", "outcome", case.id, "--months", "20", "--event", "relined:12", "--accepted", "--worn")
    shown = json.loads(run("library", "show", case.id, "--json").stdout)["outcome"]
    assert shown == {
        "accepted": True, "followed_months": 20.0, "still_worn": True, "events": [{"month": 12.0, "event": "relined"}],
    }  # fmt: skip
    assert "not 3" in run("library", "outcome", case.id, "--months", "3", status=1).stderr
    assert "KIND one of" in run("library", "outcome", case.id, "--event", "fell_off", status=2).stderr
    answer = json.loads(run("library", "survival", "--json", "--drafts").stdout)
    assert answer["definition"]["id"] == "replaced_or_not_worn"
    assert answer["definition"]["text"]
    run("library", "survival", "--definition", "part_failed", "--make-default")
    assert json.loads(run("library", "survival", "--json").stdout)["definition"]["id"] == "part_failed"
    drawn = " ".join(run("library", "survival", "--drafts").stdout.split())
    assert "lost its hold or lost its tooth" in drawn
    curves = json.loads(run("library", "survival", "--json", "--drafts").stdout)["curves"]
    assert all(curve["too_few"] and not curve["steps"] for curve in curves)
    assert "any_retreatment" in run("library", "survival", "--list-definitions").stdout


def test_approval_by_command(run: Run) -> None:
    with create_database("cases.db") as library:
        case = CASES[0].model_copy(
            update={"id": "a", "title": "for Mrs Ashcombe (an invented name)", "review": None}
        )
        library.add(case, who="KM")
    assert "may identify a patient" in run("library", "approve", "a", status=1).stderr
    assert "identity: a: title" in run("library", "check", status=1).stdout
    run("library", "looked-at", "a", "--note", "an invented name")
    run("library", "approve", "a", "--reason", "as taught", "--teaching-note", "bounded space")
    assert "nothing found" in run("library", "check").stdout
    run("library", "retire", "a", "--reason", "superseded")
    run("library", "reopen", "a", "--reason", "to be looked at")
    kinds = [
        json.loads(line)["kind"] for line in run("library", "history", "a", "--json").stdout.splitlines()
    ]
    assert kinds == ["added", "approved", "retired", "drafted"]


@pytest.mark.usefixtures("filled")
def test_backup_and_restore(run: Run) -> None:
    run("library", "backup", "b.db")
    run("library", "retire", CASES[0].id, "--reason", "superseded")
    out = run("library", "restore-backup", "b.db", "--yes").stdout
    assert len(run("library", "history", CASES[0].id, "--json").stdout.splitlines()) == 1
    before = out.split("what was there before: ")[1].strip()
    assert len(run("library", "history", CASES[0].id, "--json", where=before).stdout.splitlines()) == 2
    Path("b.db.sha256").write_text("0" * 64 + "  b.db\n")
    assert "does not match its checksum" in run("library", "restore-backup", "b.db", "--yes", status=1).stderr


def test_migration_keeps_a_copy(run: Run) -> None:
    older_library("cases.db")
    assert "library migrate" in run("library", "list", status=1).stderr
    result = run("library", "migrate", "cases.db", where=None)
    assert f"from tables 0001 to {HEAD}" in result.stdout
    assert Path("cases.db.tables-0001").exists()
    run("library", "list")
    assert "up to date" in run("library", "migrate", "cases.db", where=None).stdout


def test_a_file_of_something_else_is_not_touched(run: Run) -> None:
    with sqlite3.connect("other.db") as other:
        other.execute("CREATE TABLE notes (text TEXT)")
    other.close()
    before = Path("other.db").read_bytes()
    for call in (
        ["library", "list"],
        ["library", "retire", "a", "--reason", "x"],
        ["library", "backup", "b.db"],
    ):
        assert "no case library" in run(*call, where="other.db", status=1).stderr
    assert "no case library" in run("library", "migrate", "other.db", where=None, status=1).stderr
    assert Path("other.db").read_bytes() == before
    assert os.listdir(".") == ["other.db"]


@pytest.mark.usefixtures("filled")
def test_what_an_educator_looks_through(run: Run) -> None:
    Path("copy.jsonl").write_text(
        CASES[0].model_copy(update={"id": "a-copy"}).model_dump_json(exclude_none=True) + "\n"
    )
    run("library", "import", "copy.jsonl", "--apply", "all")
    pairs = [json.loads(line) for line in run("library", "duplicates", "--json").stdout.splitlines()]
    assert [(pair["first"], pair["second"]) for pair in pairs] == [("a-copy", CASES[0].id)]
    run("library", "duplicates")
    found = json.loads(run("library", "coverage", "--json", "--picture", "c.svg").stdout)
    rows = [json.loads(line) for line in run("library", "list", "--json").stdout.splitlines()]
    assert 0 < found["cases"] < len(rows) == 7
    assert found["cases"] == sum(row["status"] == "approved" for row in rows), "drafts do not count"
    from xml.etree import ElementTree

    picture = ElementTree.parse("c.svg").getroot()
    texts = [element.text or "" for element in picture.iter() if element.tag.endswith("text")]
    for cell in found["cells"]:
        assert cell["label"] in texts
        assert any(text.startswith(f"{cell['held']} of {cell['expected']:.1f}") for text in texts)
    run("library", "coverage")
    run("library", "conflicts", "--json")
    run("library", "conflicts")


def test_every_verb_has_help_with_an_example(run: Run) -> None:
    from recommender.cli.library.group import library
    from recommender.cli.teach.exercise import exercise

    for group, name in ((library, "library"), (exercise, "exercise")):
        import click

        for verb in group.list_commands(click.Context(group)):
            assert "Example: rpd-casebook" in run(name, verb, "--help", where=None).stdout, verb


def test_screen_text_says_of_each_line_what_it_holds(run: Run) -> None:
    Path("notes.txt").write_text("Klammer an 13\nHerrn Müller, geboren 1950\n\n王小明，job 1234567\n", encoding="utf-8")
    lines = run("library", "screen-text", "notes.txt", "--json", where=None).stdout.splitlines()
    told = [json.loads(line) for line in lines]
    assert told == [
        {"line": 1, "found": []},
        {"line": 2, "found": [{"kind": "name", "words": "Herrn Müller"}, {"kind": "date", "words": "geboren 1950"}]},
        {"line": 3, "found": []},
        {"line": 4, "found": [{"kind": "name", "words": "王小明"}]},
    ]
    assert "2 of 4 lines" in run("library", "screen-text", "notes.txt", where=None).stdout
    Path("latin.txt").write_bytes("Herrn Müller".encode("latin-1"))
    assert "no UTF-8" in run("library", "screen-text", "latin.txt", where=None, status=1).stderr
    run("library", "screen-text", "none.txt", where=None, status=1)


@pytest.mark.usefixtures("filled")
def test_a_name_put_into_an_approved_case_waits_outside(run: Run) -> None:
    """By edit and by import that keeps approvals; what advice is drawn from stays what was approved."""
    case = next(case for case in CASES if case.review and case.review.status == "approved")
    shown = run("library", "show", case.id, "--json").stdout
    named = json.loads(shown) | {"title": "Herrn Müller, OK"}
    Path("c.json").write_text(json.dumps(named))
    edited = run("library", "edit", "c.json", "--why", "another title")
    assert "serves as it was approved" in edited.stderr
    taken = run("library", "import", "c.json", "--keep-status", "--apply", "all")
    assert "may identify a patient" in taken.stdout + taken.stderr or "identical" in taken.stdout
    (row,) = [
        row
        for row in map(json.loads, run("library", "list", "--json").stdout.splitlines())
        if row["case"] == case.id
    ]
    assert (row["status"], row["serving"], row["title"]) == ("draft", 1, "Herrn Müller, OK")
    with open_database("cases.db") as library:
        (served,) = [version for version in library.serving() if version.case_id == case.id]
    assert served.case == case
    assert "may identify" in run("library", "approve", case.id, "--reason", "as it is", status=1).stderr
    run("library", "turn-down", case.id, "--reason", "a name came in")
    run("library", "redact", case.id, "title", "--why", "a name came in", "--yes")
    assert b"M\\u00fcller" not in Path("cases.db").read_bytes()
    assert "Müller".encode() not in Path("cases.db").read_bytes()
