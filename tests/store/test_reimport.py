"""A grown register brought in again: merged by field, follow-up and review kept, nobody's patient overwritten."""

import json
from pathlib import Path
from typing import Any

import orjson
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.cli.main import main
from recommender.curation import review
from recommender.curation.outcomes import FollowUp, add_follow_up
from recommender.curation.redaction import redact
from recommender.domain.case import Case, Event
from recommender.precedents.store import documents
from recommender.precedents.store.checking import faults
from recommender.precedents.store.importing.batch import dry_run, import_all
from recommender.precedents.store.importing.merging import Change, merge
from recommender.precedents.store.importing.reports import ImportRefused, Report, Terms
from recommender.precedents.store.importing.rows import Row
from recommender.precedents.store.library import Library
from tests.store.invented import invented_cases

CASE = next(case for case in invented_cases(40, seed=3) if case.outcome is None and documents.status(case) == "draft")
AGE = CASE.patient.age if isinstance(CASE.patient.age, int) else 50


def changed(case: Case, **values: Any) -> Case:
    return case.model_copy(update=values)


def aged(case: Case, age: int) -> Case:
    return changed(case, patient=case.patient.model_copy(update={"age": age}))


def bring(library: Library, *cases: Case, **terms: Any) -> list[Report]:
    seen: list[Report] = []
    rows = [Row(f"row {number}", case) for number, case in enumerate(cases, start=1)]
    import_all(library, rows, Terms("KM", "register", **terms), seen.append)
    return seen


def edit(library: Library, **values: Any) -> None:
    held = library.get(CASE.id)
    library.save(changed(held.case, **values), opened=held.revision, who="tutor", why="put right")


def fates(report: Report) -> dict[str, str]:
    return {change.field: change.fate for change in report.changes}


def test_what_is_done_here_survives_a_grown_register(library: Library) -> None:
    """Follow-up, approval and an edit stay; the file's own news comes in; a new row is new."""
    bring(library, CASE)
    event = Event.model_validate({"event": "relined", "month": 20})
    add_follow_up(library, CASE.id, FollowUp(24, True, True, 4, [event]), who="KM", why="called", opened=None)
    review.approve(library, CASE.id, who="tutor", reason="agreed", contradictions=lambda _case: [])
    edit(library, title="retitled here", review=library.get(CASE.id).case.review)
    held = library.get(CASE.id).case
    other = changed(CASE, id="another-number")
    first, second = bring(library, aged(CASE, AGE + 1), other)
    assert (first.verdict, fates(first)) == ("changed", {"patient.age": "taken"})
    assert second.verdict == "near_duplicate"
    now = library.get(CASE.id).case
    assert (now.outcome, now.title, now.patient.age) == (held.outcome, "retitled here", AGE + 1)
    # the approved revision goes on serving until a reviewer looks at the new age
    assert library.serving_of([CASE.id])[CASE.id].case.patient.age == CASE.patient.age
    assert bring(library, aged(CASE, AGE + 1))[0].verdict == "identical"
    assert faults(library) == []


def test_a_silent_file_keeps_what_the_library_knows(library: Library) -> None:
    bring(library, CASE)
    bare = CASE.model_copy(update={"abutments": None, "patient": None, "design": None})
    assert bring(library, bare)[0].verdict == "identical"
    assert library.get(CASE.id).revision == 1


def test_what_both_changed_is_for_a_person_to_decide(library: Library) -> None:
    bring(library, CASE)
    edit(library, title="from the bench")
    newer = changed(CASE, title="from the office")
    with pytest.raises(ImportRefused, match="1 of 1 rows say what a person has to decide"):
        bring(library, newer)
    seen: list[Report] = []
    dry_run(library, [Row("row 1", newer)], Terms("KM", ""), seen.append)
    assert seen[0].verdict == "undecided"
    assert seen[0].changes == (Change("title", "from the bench", "from the office", "open"),)
    assert bring(library, newer, changed="keep")[0].verdict == "kept"
    # decided once: the same file says nothing new any more
    assert bring(library, newer)[0].verdict == "identical"
    assert library.get(CASE.id).case.title == "from the bench"
    newest = changed(CASE, title="from the office again")
    assert bring(library, newest, ask=lambda _report: "take")[0].verdict == "changed"
    assert library.get(CASE.id).case.title == "from the office again"


def test_another_sex_or_a_fallen_age_may_be_another_patient(library: Library) -> None:
    sex = {"male": "female"}.get(str(CASE.patient.sex), "male")
    bring(library, changed(CASE, patient=CASE.patient.model_copy(update={"age": 60, "sex": sex})))
    for update in ({"age": 41, "sex": sex}, {"age": 60, "sex": "female" if sex == "male" else "male"}):
        other = changed(CASE, patient=CASE.patient.model_copy(update=update))
        seen: list[Report] = []
        dry_run(library, [Row("row 1", other)], Terms("KM", ""), seen.append)
        assert seen[0].verdict == "undecided"
    assert bring(library, aged(changed(CASE, patient=CASE.patient.model_copy(update={"sex": sex})), 63))
    assert library.get(CASE.id).case.patient.age == 63


def test_another_dentition_under_the_same_number_is_refused_with_both_shown(library: Library) -> None:
    bring(library, CASE)
    order = ["maxilla", "mandible"]
    other = Case.model_validate({
        "format": 1, "id": CASE.id, "arch": order[1 - order.index(CASE.arch)],
        "missing": [15] if CASE.arch == "mandible" else [35],
    })  # fmt: skip
    for options in ({}, {"changed": "take"}, {"named": frozenset({"outcome", "review"})}):
        with pytest.raises(ImportRefused, match="another patient's arch or dentition"):
            bring(library, other, **options)
    seen: list[Report] = []
    dry_run(library, [Row("row 1", other)], Terms("KM", ""), seen.append)
    assert seen[0].verdict == "collision"
    assert CASE.arch in seen[0].problems[0].allowed
    assert other.arch in seen[0].problems[0].found
    assert library.get(CASE.id).revision == 1


def test_a_dentition_put_right_here_is_no_collision(library: Library) -> None:
    bare = Case.model_validate({"format": 1, "id": CASE.id, "arch": "maxilla", "missing": [15]})
    bring(library, bare)
    edit(library, arch="maxilla", missing=[15, 16], abutments=None, spans=None, design=None)
    assert bring(library, changed(bare, title="a title at last"))[0].verdict == "changed"
    assert library.get(CASE.id).case.missing == [15, 16]


def test_follow_up_is_taken_back_only_by_name(library: Library) -> None:
    told = CASE.model_copy(update={"outcome": _outcome(accepted=True, followed_months=12)})
    bring(library, told)
    add_follow_up(library, CASE.id, FollowUp(24, None, None, None, []), who="KM", why="called", opened=None)
    older = CASE.model_copy(update={"outcome": _outcome(accepted=True, followed_months=6)})
    (report,) = bring(library, older, changed="take")
    assert (report.verdict, fates(report)) == ("kept", {"outcome.followed_months": "kept"})
    oldest = CASE.model_copy(update={"outcome": _outcome(accepted=True, followed_months=5)})
    assert bring(library, oldest, named=frozenset({"outcome"}))[0].verdict == "changed"
    assert library.get(CASE.id).case.outcome.followed_months == 5


def test_events_of_both_are_kept(library: Library) -> None:
    first, second, third = ({"event": "relined", "month": month} for month in (6, 12, 18))
    bring(library, CASE.model_copy(update={"outcome": _outcome(followed_months=30, events=[first])}))
    add_follow_up(library, CASE.id, FollowUp(30, None, None, None, [Event.model_validate(second)]), who="KM",
                  why="called", opened=None)  # fmt: skip
    bring(library, CASE.model_copy(update={"outcome": _outcome(followed_months=30, events=[first, third])}))
    assert [event.month for event in library.get(CASE.id).case.outcome.events] == [6, 12, 18]


def test_a_text_that_was_taken_out_stays_out(library: Library) -> None:
    named = changed(CASE, title="for Mrs Ashcombe")
    bring(library, named)
    redact(library, CASE.id, "title", who="tutor", why="named a patient")
    for again in (named, changed(CASE, title="for Mrs Ashcombe, upper"), aged(named, AGE + 2)):
        bring(library, again, changed="take")
        assert "Ashcombe" not in library.get(CASE.id).document
        with library.reading() as connection:
            kept = connection.exec_driver_sql("SELECT document FROM imported").scalar()
        assert "Ashcombe" not in str(kept)


def test_a_retired_case_stays_retired(library: Library) -> None:
    bring(library, CASE)
    review.retire(library, CASE.id, who="tutor", reason="superseded")
    assert bring(library, aged(CASE, AGE + 1), keep_status=True)[0].verdict == "changed"
    assert library.heads()[0].status == "retired"


def _outcome(**values: Any) -> Any:
    from recommender.domain.case import Outcome

    return Outcome.model_validate(values)


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("RPD_CASEBOOK_WHO", "KM")
    monkeypatch.delenv("RPD_CASEBOOK_LIBRARY", raising=False)
    return tmp_path


def test_the_dry_run_names_every_changed_case_with_old_and_new(place: Path) -> None:
    def run(*arguments: str, status: int = 0) -> str:
        result = CliRunner().invoke(main, ["library", *arguments])
        assert result.exit_code == status, result.output
        return result.output

    Path("r.csv").write_text("id,arch,missing,patient.age,title\nr-1,maxilla,15 16,58,one\nr-2,mandible,36,61,two\n")
    run("init", "cases.db", "--empty")
    run("import", "r.csv", "--library", "cases.db", "--apply", "all")
    Path("e.yaml").write_text(run("show", "r-2", "--library", "cases.db").replace("two", "two again"))
    run("edit", "e.yaml", "--library", "cases.db", "--why", "better")
    Path("r.csv").write_text("id,arch,missing,patient.age,title\nr-1,maxilla,15 16,59,one\nr-2,mandible,36,61,zwei\n")
    dry = run("import", "r.csv", "--library", "cases.db", status=1)
    assert "r-1: changed" in dry
    assert "patient.age: library 58, file 59: the file's is taken" in dry
    assert "title: library two again, file zwei: to be decided" in dry
    assert "1 changed, 1 undecided; 0 written" in dry
    rows = run("import", "r.csv", "--library", "cases.db", "--json", "--apply", "valid", status=1)
    told = [json.loads(line) for line in rows.splitlines() if line.startswith("{")]
    assert told[0]["changes"] == [{"field": "title", "library": "two again", "file": "zwei", "fate": "open"}]
    assert told[-1]["written"] == 1
    assert "1 written" in run("import", "r.csv", "--library", "cases.db", "--changed", "take", "--apply", "all")


_VALUES = st.dictionaries(st.sampled_from(["title", "source"]), st.sampled_from(["a", "b", "c"]))


@given(_VALUES, _VALUES, _VALUES)
@settings(max_examples=60)
def test_a_merge_is_right_field_by_field(last: dict[str, str], given_: dict[str, str], held: dict[str, str]) -> None:
    """Against the plain definition, for every mixture of silent, same and different."""
    merged = merge(last, given_, held)
    for name in ("title", "source"):
        was, file, here = last.get(name), given_.get(name), held.get(name)
        if file is None or file in (here, was):
            assert merged.data.get(name) == here
        elif here == was:
            assert merged.data.get(name) == file
        else:
            assert [change.fate for change in merged.changes if change.field == name] == ["open"]
            assert merged.data.get(name) == here
    assert merge(last, given_, merge(last, given_, held, "take").data, "take").changes == ()


def test_a_case_merged_with_itself_is_itself() -> None:
    for case in invented_cases(20, seed=9):
        data = orjson.loads(documents.dump(case))
        for last in (None, data, {}):
            merged = merge(last, data, data)
            assert merged.changes == ()
            assert merged.data == {key: value for key, value in data.items() if key != "review"}


