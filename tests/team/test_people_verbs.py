"""The command line of a team: who one is comes from the database user, and a refusal is one sentence."""

import pytest
import yaml
from click.testing import CliRunner

from recommender.cli.library.group import library as verbs

from .conftest import PEOPLE

pytestmark = pytest.mark.postgres


def run(team, alias, *arguments):
    """A verb as that person's database user runs it; exit status and what it said."""
    where = team.owner if alias is None else team.address(f"u{team.prefix}_{alias.lower()}")
    found = CliRunner().invoke(verbs, [*arguments, "--library", where])
    assert found.exception is None or isinstance(found.exception, SystemExit), found.exception
    return found.exit_code, found.output


def test_who_one_is_comes_from_the_database_user(team):
    for alias, role in PEOPLE.items():
        code, said = run(team, alias, "people", "me")
        assert code == 0
        assert said.startswith(f"{alias}, {role}: ")
    assert "you may do everything" in run(team, None, "people", "me")[1]
    assert "✕ approve a case" in run(team, "DS", "people", "me")[1]


def test_a_change_carries_the_alias_and_a_refusal_is_one_sentence(team, tmp_path):
    case_id = team.draft("DS")
    file = tmp_path / "case.yaml"
    code, said = run(team, "DS", "show", case_id)
    assert code == 0
    case = yaml.safe_load(said)
    file.write_text(yaml.safe_dump({**case, "title": "again"}), encoding="utf-8")
    assert run(team, "DS", "edit", str(file), "--why", "measured again")[0] == 0
    assert [version.who for version in team.as_("DS").history(case_id)] == ["DS", "DS"]
    code, said = run(team, "DS", "approve", case_id)
    decide = "to approve a case or turn a change down takes a reviewer or a steward"
    assert (code, said) == (1, f"DS is a designer; {decide}\n")
    code, said = run(team, "LN", "edit", str(file), "--why", "measured again")
    assert code == 1
    assert said.strip().count("\n") == 0
    code, said = run(team, "RV", "redact", case_id, "title", "--why", "named somebody", "--yes")
    assert (code, "takes a steward" in said) == (1, True)


def test_a_steward_keeps_the_people(team):
    added = run(team, "ST", "people", "add", "NN", "--role", "learner", "--log-in", "nn@lab.example")
    assert added == (0, "NN: learner\n")
    assert '"alias":"NN","role":"learner"' in run(team, "ST", "people", "list", "--json")[1]
    assert "nn@lab.example" in run(team, "ST", "people", "list")[1]
    assert run(team, "ST", "people", "remove", "NN") == (0, "NN: no longer works here\n")
    assert run(team, "ST", "people", "house", "--idle-minutes", "45")[1].endswith("45 without a click\n")
    for alias in ("LN", "DS", "RV"):
        for verb in ("list", "remove ST", "add ST --role learner", "house --no-four-eyes", "start"):
            code, said = run(team, alias, "people", *verb.split())
            assert (code, said.strip().count("\n")) == (1, 0), (alias, verb, said)
    code, said = run(team, "ST", "people", "start")
    assert code == 1
    assert run(team, None, "people", "start")[0] == 0  # again, as after a change of the roles
    assert run(team, "ST", "people", "house")[1].endswith("45 without a click\n")
