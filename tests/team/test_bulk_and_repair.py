"""Bulk review, deletion, mending and the house's profile by each role: what is allowed works, what is not is told in
one sentence and changes nothing, and no SQL goes round it."""

import json
from functools import partial

import pytest
from click.testing import CliRunner
from sqlalchemy import text

from recommender.cli.main import main
from recommender.curation.bulk import ACTS, traces
from recommender.curation.house import keeping
from recommender.precedents.store.checking import faults
from recommender.precedents.store.database_source import DatabaseSource
from recommender.precedents.store.documents import status
from recommender.precedents.store.errors import NotAllowed
from recommender.precedents.store.looked_at import unseen
from recommender.precedents.store.team.roles import roles
from tests.curation.test_house import OWN

from .conftest import CASES, PEOPLE
from .test_attacks import gains, state
from .test_roles import approve

pytestmark = pytest.mark.postgres
EVERYBODY = ["LN", "DS", "RV", "ST"]


def run(team, alias, *arguments):
    """A verb as that person's database user runs it (the owner's: ``None``); exit status and what it said."""
    where = team.owner if alias is None else team.address(f"u{team.prefix}_{alias.lower()}")
    found = CliRunner().invoke(main, [*arguments, "--library", where])
    assert found.exception is None or isinstance(found.exception, SystemExit), found.exception
    return found.exit_code, found.output.strip()


def one_sentence(said, alias):
    assert said.count("\n") == 0, said
    assert said.startswith(f"{alias} is a {PEOPLE[alias]}; to "), said


@pytest.fixture(scope="module")
def case_for(team):
    """A case on which an act can be done, by ``D2``; its id."""

    def made(act, alias):
        case_id = f"{act}-{alias}"
        title = "for Mrs Ashcombe" if act in ("looked-at", "redact") else "plain"
        team.as_("D2").add(CASES[1].model_copy(update={"id": case_id, "title": title}), who="")
        if act in ("retire", "reopen"):
            approve(team.as_("R2"), case_id)
        if act == "reopen":
            from recommender.curation import review

            review.retire(team.as_("R2"), case_id, who="", reason="too old")
        return case_id

    return made


DONE = {
    "approve": lambda library, case_id: status(library.get(case_id).case) == "approved",
    "looked-at": lambda library, case_id: not unseen(library, library.get(case_id).case),
    "redact": lambda library, case_id: {v.case.title for v in library.history(case_id)} == {"[taken out]"},
    "retire": lambda library, case_id: status(library.get(case_id).case) == "retired",
    "reopen": lambda library, case_id: status(library.get(case_id).case) == "draft",
    "delete": lambda library, case_id: case_id not in {head.id for head in library.heads()},
}


@pytest.mark.parametrize("act", ACTS)
def test_bulk_review_goes_by_the_role(team, case_for, act):
    library = team.open(team.owner)
    for alias in EVERYBODY:
        case_id = case_for(act, alias)
        more = ("--case", case_id, "--reason", "agreed upon", *(("--field", "title") if act == "redact" else ()))
        asked = partial(run, team, alias, "library", "bulk", act, *more)
        before = state(team)
        tried, told = asked(), ""
        assert state(team) == before
        if not roles().may(PEOPLE[alias], ACTS[act]):
            for code, told in (tried, asked("--apply")):
                assert code == 1
                one_sentence(told, alias)
            assert state(team) == before
            assert not DONE[act](library, case_id)
            continue
        assert tried[0] == 0, tried[1]
        assert "1 would be done, 0 refused" in tried[1]
        code, told = asked("--apply")
        assert (code, "1 done, 0 refused" in told) == (0, True), told
        assert DONE[act](library, case_id)
        if act == "delete":
            trace = library.setting(f"deleted:{case_id}")
            assert [one.case_id for one in traces(library) if one.case_id == case_id] == [case_id]
            assert (trace["who"], trace["why"], trace["revisions"]) == (alias, "agreed upon", 1)
        else:
            assert library.get(case_id).who in (alias, "D2")
    assert faults(library) == []


def test_nobody_approves_their_own_cases_in_bulk(team):
    mine, other = team.draft("RV"), team.draft("DS")
    more = ("--case", mine, "--case", other, "--reason", "agreed upon")
    code, told = run(team, "RV", "library", "bulk", "approve", *more, "--apply")
    assert (code, "1 done, 1 refused" in told) == (1, True), told
    held = team.open(team.owner)
    assert [status(held.get(case_id).case) for case_id in (mine, other)] == ["draft", "approved"]


def test_nothing_is_deleted_without_a_trace_and_no_trace_is_changed(team):
    gone, other = team.draft("DS"), team.draft("DS")
    call = "SELECT team_delete(:id, 1, :why)"
    for alias in ("LN", "DS", "RV"):
        assert not gains(team, team.as_(alias), call, id=other, why="x"), alias
    steward = team.as_("ST")
    assert not gains(team, steward, "SELECT team_delete(:id, 2, 'x')", id=other)  # changed meanwhile
    assert not gains(team, steward, call, id=other, why=" ")
    assert gains(team, steward, call, id=gone, why="asked to")
    key = f"deleted:{gone}"
    for attack in (
        "DELETE FROM settings WHERE key = :key",
        "UPDATE settings SET value = '{\"who\": \"RV\"}' WHERE key = :key",
        "UPDATE settings SET key = 'other' WHERE key = :key",
        "INSERT INTO settings (key, value) VALUES ('deleted:never', '{}')",
        "DELETE FROM cases WHERE id = :other",
        "DELETE FROM versions WHERE case_id = :other",
    ):
        values = {name: value for name, value in (("key", key), ("other", other)) if f":{name}" in attack}
        assert not gains(team, steward, attack, **values), attack
    assert team.open(team.owner).setting(key)["who"] == "ST"


def test_a_damaged_library_is_mended_by_its_owner_alone(team):
    case_id = team.draft("DS")
    owner = team.open(team.owner)
    again = owner.get(case_id).case.model_copy(update={"title": "again"})
    team.as_("DS").save(again, opened=1, who="", why="measured again")
    with owner.writing() as connection:
        spoilt = "UPDATE versions SET document = replace(document, 'again', 'agaim') WHERE case_id = :id"
        connection.execute(text(spoilt), {"id": case_id})
    assert any(case_id in line for line in faults(owner))
    before = state(team)
    for alias in EVERYBODY:
        code, told = run(team, alias, "library", "repair", "--yes")
        assert code == 1
        one_sentence(told, alias)
        assert "takes the owner of the database" in told
        assert state(team) == before
    code, told = run(team, None, "library", "repair", "--yes")
    assert code == 0, told
    assert f"{case_id}: " in told
    assert faults(owner) == []
    assert run(team, None, "library", "repair", "--yes")[1].endswith("nothing is damaged")


def test_what_a_learner_may_not_see_is_no_damage(team):
    """A learner sees the approved version of a case and none before it: nothing is missing."""
    case_id = team.draft("DS")
    approve(team.as_("RV"), case_id)
    source = DatabaseSource(team.as_("LN"))
    assert case_id in {case.id for case in source.cases()}
    assert source.left_out == {}
    code, told = run(team, "LN", "library", "check")
    assert code == 1
    one_sentence(told, "LN")


def test_a_profile_of_the_house_is_adopted_by_a_steward_and_read_by_everybody(team, tmp_path):
    keeping.write(OWN, tmp_path / "own.yaml")
    for alias in ("LN", "DS", "RV"):
        before = state(team)
        for verb in (["adopt", str(tmp_path / "own.yaml")],):
            code, told = run(team, alias, "profile", *verb)
            assert (code, "to adopt changed rules and weights or a profile of the house takes a steward" in told) == (
                1, True,
            ), told  # fmt: skip
        assert state(team) == before
    code, told = run(team, "ST", "profile", "adopt", str(tmp_path / "own.yaml"))
    assert code == 0, told
    number = told.split()[1]
    for alias in EVERYBODY:
        shown = json.loads(run(team, alias, "profile", "show", "--json")[1])
        assert [(one["number"], one["counts"]) for one in shown["kept"]] == [(number, True)]
        assert keeping.adopted(team.as_(alias)).digest == OWN.digest
        assert keeping.knowledge_of(team.as_(alias)).house.digest == OWN.digest
    assert keeping.adopted(team.service).digest == OWN.digest  # which makes the advice of the screens
    assert run(team, "DS", "profile", "take-back")[0] == 1
    assert run(team, "ST", "profile", "take-back") == (0, "Taken back: every answer is the textbook's again.")
    assert keeping.adopted(team.as_("DS")) is None
    with pytest.raises(NotAllowed):
        keeping.adopt_again(team.as_("RV"), number)
    assert run(team, "ST", "profile", "adopt", number)[0] == 0
    with team.open(team.owner).reading() as connection:
        rows = connection.execute(text("SELECT who, document <> '' FROM profiles ORDER BY seq")).all()
    assert [tuple(row) for row in rows] == [("ST", True), ("ST", False), ("ST", True)]


def test_no_sql_adopts_a_profile_or_changes_one(team):
    insert = (
        "INSERT INTO profiles (who, at, document, checksum) "
        "VALUES ('RV', '2020-01-01T00:00:00.000Z', :document, encode(sha256(convert_to(:document, 'UTF8')), 'hex'))"
    )
    document = OWN.model_dump_json()
    for alias in ("LN", "DS", "RV"):
        for way in (team.as_(alias), team.open(team.address(f"u{team.prefix}_{alias.lower()}"))):
            assert not gains(team, way, insert, document=document), alias
    steward = team.as_("ST")
    assert gains(team, steward, insert, document=document)
    last = keeping.kept(steward)[0]
    assert last.profile.digest == OWN.digest
    with team.open(team.owner).reading() as connection:
        who, at = connection.execute(text("SELECT who, at FROM profiles ORDER BY seq DESC LIMIT 1")).one()
    assert (who, at > "2026") == ("ST", True)  # says the database, whatever was given
    assert not gains(team, steward, insert.replace("encode(sha256(convert_to(:document, 'UTF8')), 'hex')", "'x'"),
                     document=document)  # fmt: skip
    for attack in ("DELETE FROM profiles", "UPDATE profiles SET who = 'RV'", "UPDATE profiles SET document = ''"):
        assert not gains(team, steward, attack), attack
