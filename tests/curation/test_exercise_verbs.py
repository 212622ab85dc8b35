"""The ``exercise`` verbs, end to end."""

import json
import os
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from recommender.cli.main import main
from recommender.curation.teaching.exercises import exercise_id
from recommender.precedents.source import demo_source
from recommender.precedents.store.databases import create_database
from recommender.precedents.store.documents import status
from recommender.wording.words import Words

CASES = [
    case for case in demo_source().cases() if status(case) == "approved" and case.design and case.missing
][:3]


@pytest.fixture(autouse=True)
def library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("RPD_CASEBOOK_LIBRARY", str(tmp_path / "cases.db"))
    with create_database("cases.db") as made:
        for case in CASES:
            made.add(case, who="KM")


def run(*arguments: str, exit_code: int = 0) -> Result:
    result = CliRunner().invoke(main, ["exercise", *arguments])
    assert result.exit_code == exit_code, (result.output, result.exception)
    return result


def test_set_answer_results_forget() -> None:
    made = json.loads(run("set", "--learner", "blue heron", "--json").stdout)
    case = next(case for case in CASES if exercise_id(case.id, 1) == made["exercise"])
    assert "design" not in made["case"]
    assert case.id not in json.dumps(made)
    answers = {question["decision"]: question["options"][0] for question in made["questions"]}
    Path("answers.yaml").write_text("".join(f'"{key}": {option}\n' for key, option in answers.items()))
    said = run(
        "answer", made["exercise"], "--answers", "answers.yaml", "--learner", "blue heron", "--json"
    ).stdout
    lines = [json.loads(line) for line in said.splitlines()]
    assert [line["decision"] for line in lines] == list(answers)
    assert all(line["standing"] == "favoured" or line["instead"] for line in lines)
    kept = json.loads(run("results", "--json").stdout)
    assert kept["answers"] == len(answers)
    assert {line["decision"]: line["answer"] for line in kept["answered"]} == answers
    missed = {principle for line in lines for principle in line["missed"]}
    assert {principle["id"] for principle in kept["principles"]} == missed
    run("results")
    run("forget", "--learner", "blue heron", "--yes")
    assert run("results", "--json").stdout == ""


def test_as_text() -> None:
    shown = run("set", "--learner", "blue heron", "--case", CASES[0].id).stdout
    assert "major connector (connector):" in shown
    said = run(
        "answer", exercise_id(CASES[0].id, 1), f"connector={CASES[0].design.connector}", "--learner", "heron"
    )
    assert "the case in the library: " + Words().option("connector", CASES[0].design.connector) in said.stdout
    assert "nearest precedent for it: " in said.stdout or "nearest precedent against it: " in said.stdout


def test_a_whole_framework_is_checked_as_the_programs_own() -> None:
    name = exercise_id(CASES[0].id, 1)
    told = json.loads(run("whole", name, f"connector={CASES[0].design.connector}", "--json").stdout)
    assert told["built"]
    assert told["behind"] >= 0
    from recommender.advice.frameworks.choices import framework_around
    from recommender.advice.model import Decision
    from recommender.api.libraries import recommender
    from recommender.curation.teaching.exercises import hidden

    analysis = recommender().work(hidden(CASES[0], CASES[0].id))
    own = framework_around(analysis, {Decision("connector"): CASES[0].design.connector})
    assert {check["id"]: check["outcome"] for check in told["checks"]} == {c.id: c.outcome for c in own.checks}
    spoken_against = [
        f"{one.key}={option.option}"
        for one in analysis.decisions() if one.kind == "retainer"
        for option in analysis.decide(one).ranked if option.status == "advised_against"
    ]  # fmt: skip
    tried = (json.loads(run("whole", name, part, "--json").stdout) for part in spoken_against)
    built = next(one for one in tried if one["built"])
    assert [check["outcome"] for check in built["checks"] if check["id"] == "accepted"] == ["failed"]
    said = run("whole", name, f"connector={CASES[0].design.connector}", "--drawing", "drawn.svg").stdout
    assert f"of {len(own.checks)} checks fail" in said
    assert Path("drawn.svg").read_text().startswith("<svg")
    barred = run("whole", name, f"retainer:{CASES[0].design.retainers[0].tooth}=unilateral", exit_code=2).stderr
    assert "is not an option" in barred
    assert "not asked" in run("whole", name, "retainer:99=i_bar", exit_code=2).stderr


def test_progress_of_a_learner_and_of_the_class() -> None:
    name = exercise_id(CASES[0].id, 1)
    assert "Nothing is kept" in run("progress").stdout
    for learner in ("heron", "kite"):
        run("answer", name, f"connector={CASES[0].design.connector}", "--learner", learner)
    one = json.loads(run("progress", "--learner", "heron", "--json").stdout)
    whole = json.loads(run("progress", "--items", "--json").stdout)
    assert [week["answers"] for week in one["weeks"]] == [1]
    assert [week["answers"] for week in whole["weeks"]] == [2]
    assert [(item["decision"], item["answers"]) for item in whole["items"]] == [("connector", 2)]
    assert "answered most" in run("progress", "--items").stdout
    assert "100%" in run("progress", "--learner", "kite").stdout


def test_misuse_is_told() -> None:
    name = exercise_id(CASES[0].id, 1)
    assert "DECISION=OPTION" in run("answer", name, "connector", "--learner", "heron", exit_code=2).stderr
    assert "not asked" in run("answer", name, "retainer:99=i_bar", "--learner", "heron", exit_code=2).stderr
    assert "no exercise" in run("answer", "ex-0", "connector=x", "--learner", "heron", exit_code=1).stderr
    assert "give at least one" in run("answer", name, "--learner", "heron", exit_code=2).stderr
    assert "letters" in run("set", "--learner", "a@b.org", exit_code=1).stderr


def test_the_sheet_and_its_key() -> None:
    run("print", "-o", "sheet.html", "--key", "key.html", "--case", CASES[0].id, "--case", CASES[1].id)
    sheet, key = Path("sheet.html").read_text(), Path("key.html").read_text()
    for case in CASES[:2]:
        assert exercise_id(case.id, 1) in sheet
        assert exercise_id(case.id, 1) in key
    assert "the case in the library" not in sheet
    assert key.count("the case in the library") >= 6
    assert "http" not in sheet
    assert sorted(os.listdir(".")) == ["cases.db", "key.html", "sheet.html"]


def test_without_a_database_nothing_is_stored(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    from recommender.precedents.store.exporting.export import to_folder

    to_folder(CASES, tmp_path / "cases", "yaml")
    monkeypatch.setenv("RPD_CASEBOOK_LIBRARY", str(tmp_path / "cases"))
    made = json.loads(run("set", "--learner", "heron", "--json").stdout)
    last = made["questions"][-1]
    result = run("answer", made["exercise"], f"{last['decision']}={last['options'][0]}", "--learner", "heron")
    assert "Not stored" in result.stderr
    assert "no database" in run("results", exit_code=1).stderr
