"""One act on many cases: tried first, told case by case, never on all of them unnamed."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner
from sqlalchemy import select

from recommender.cli.main import main
from recommender.curation.bulk import Search, act_on, trace_of, traces
from recommender.precedents.store.checking import faults
from recommender.precedents.store.databases import open_database
from recommender.precedents.store.errors import NoSuchCase, UnfitText
from recommender.precedents.store.library import Library
from recommender.precedents.store.schema import settings
from tests.store.invented import invented_cases

CASES = [
    case.model_copy(update={"review": None, "title": "for Mrs Ashcombe" if number == 1 else f"plain {number}"})
    for number, case in enumerate(invented_cases(5, seed=31))
]


def test_a_trial_writes_nothing_and_says_what_the_act_then_does(library: Library) -> None:
    for case in CASES:
        library.add(case, who="KM")
    stamp = library.version()
    tried = list(act_on(library, "approve", Search(status="draft"), who="tutor", why="agreed upon"))
    assert library.version() == stamp
    assert [one.case_id for one in tried if one.refused] == [CASES[1].id]
    assert "a name" in tried[1].refused
    done = list(act_on(library, "approve", Search(status="draft"), who="tutor", why="agreed upon", trial=False))
    assert [(one.case_id, bool(one.refused)) for one in done] == [(one.case_id, bool(one.refused)) for one in tried]
    assert library.counts() == {"approved": 4, "draft": 1}
    list(act_on(library, "looked-at", Search(text="ashcombe"), who="tutor", why="an invented name", trial=False))
    assert next(iter(act_on(library, "approve", Search(text="ashcombe"), who="tutor", why="agreed upon"))).done
    with pytest.raises(UnfitText, match="which cases"):
        list(act_on(library, "retire", Search(), who="tutor", why="all"))


def test_what_is_deleted_leaves_its_trace(library: Library) -> None:
    for case in CASES:
        library.add(case, who="KM")
    list(act_on(library, "delete", Search(ids=(CASES[1].id,)), who="steward", why="asked to", trial=False))
    with pytest.raises(NoSuchCase):
        library.get(CASES[1].id)
    assert len(library.heads()) == 4
    (trace,) = traces(library)
    assert (trace.case_id, trace.who, trace.why, trace.revisions) == (CASES[1].id, "steward", "asked to", 1)
    assert faults(library) == []


def test_traces_of_long_numbers_stay_apart(library: Library) -> None:
    names = [f"{'upper-strap-' * 5}{end}" for end in ("a", "b")]
    for name in names:
        library.add(CASES[0].model_copy(update={"id": name, "title": None}), who="KM")
    list(act_on(library, "delete", Search(ids=tuple(names)), who="steward", why="asked to", trial=False))
    assert sorted(trace.case_id for trace in traces(library)) == names
    library.add(CASES[0].model_copy(update={"id": "miller-karl", "title": None}), who="KM")
    list(act_on(library, "delete", Search(ids=("miller-karl",)), who="steward", why="a name", trial=False))
    with library.reading() as connection:
        kept = connection.execute(select(settings.c.key, settings.c.value)).all()
    assert "miller" not in str(kept)
    assert trace_of(library, "miller-karl").why == "a name"


def test_a_text_that_only_history_holds_is_taken_out(library: Library) -> None:
    library.add(CASES[1], who="KM")
    library.save(CASES[1].model_copy(update={"title": None}), opened=1, who="KM", why="a slip")
    search = Search(ids=(CASES[1].id,))
    assert next(iter(act_on(library, "redact", search, who="KM", why="named somebody", field="title"))).done
    list(act_on(library, "redact", search, who="KM", why="named somebody", field="title", trial=False))
    assert "Ashcombe" not in "".join(version.document for version in library.history(CASES[1].id))


def test_the_verb(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)

    def run(*arguments: str, status: int = 0) -> str:
        result = CliRunner().invoke(main, ["library", *arguments, "--library", "cases.db", "--who", "tutor"])
        assert result.exit_code == status, result.output
        return result.output

    from recommender.precedents.store.databases import create_database

    with create_database("cases.db") as library:
        for case in CASES:
            library.add(case, who="KM")
    assert "5 would be done, 0 refused" in run("bulk", "retire", "--text", "inv", "--reason", "superseded")
    told = run("bulk", "redact", "--field", "title", "--case", CASES[1].id, "--reason", "a name", "--apply", "--json")
    assert json.loads(told.splitlines()[0])["done"] == "title was taken out"
    with open_database("cases.db") as library:
        assert "Ashcombe" not in library.get(CASES[1].id).document
    run("bulk", "redact", "--case", CASES[1].id, "--reason", "a name", status=2)
