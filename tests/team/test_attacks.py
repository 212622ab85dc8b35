"""Whatever SQL somebody gets through a connection of the screens or their own, they gain nothing by it."""

import hashlib

import orjson
import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from recommender.domain.case import Review
from recommender.precedents.store import documents
from recommender.precedents.store.records import Entry
from recommender.precedents.store.schema import metadata
from recommender.precedents.store.team import people
from tests.team.test_roles import approve

pytestmark = pytest.mark.postgres


STATE = " UNION ALL ".join(
    f"SELECT md5(string_agg(x::text, '|' ORDER BY x::text)) FROM {name} x"
    for name in metadata.tables
    if name != "sessions"
)


def state(team):
    """Everything in the library, as its owner sees it."""
    with team.open(team.owner).reading() as connection:
        return connection.execute(text(STATE)).all()


def gains(team, library, *statements, **values):
    """Runs SQL as that person; whether anything in the library changed by it, or any row came back."""
    before, rows = state(team), []
    try:
        with library.engine.connect().execution_options(rpd_write=True) as connection, connection.begin():
            person = library.person
            if person.token is not None:
                connection.execute(text("SELECT set_config('casebook.token', :t, true)"), {"t": person.token})
            for statement in statements:
                found = connection.execute(text(statement), values)
                rows = found.all() if found.returns_rows else []
    except DBAPIError:
        rows = []
    return bool(rows) or state(team) != before


def forged(case, **changed):
    """A document with its checksum."""
    document = documents.dump(case.model_copy(update=changed))
    return {"document": document, "checksum": hashlib.sha256(document.encode()).hexdigest(), "id": case.id}


VERSION = (
    "INSERT INTO versions (case_id, revision, kind, who, at, why, document, checksum) "
    "VALUES (:id, :next, :kind, :who, '2026-01-01T00:00:00.000Z', 'x', :document, :checksum)"
)
UPDATE = "UPDATE cases SET revision = :next, status = :status, serving = :serving WHERE id = :id"


@pytest.mark.parametrize("way", ["screens", "straight"])
@pytest.mark.parametrize("alias", ["LN", "DS", "RV"])
def test_no_role_is_taken_and_nothing_is_deleted(team, alias, way):
    case_id = team.draft("D2")
    library = team.as_(alias) if way == "screens" else team.open(team.address(f"u{team.prefix}_{alias.lower()}"))
    values = {"id": case_id}
    for role in ("designer", "reviewer", "steward", "app_steward", "app"):
        if (alias, role) in {("DS", "designer"), ("RV", "reviewer")}:
            continue
        for setting in (f"SET ROLE {team.prefix}_{role}", f"SET SESSION AUTHORIZATION {team.prefix}_{role}"):
            assert not gains(team, library, setting, "SELECT * FROM people")
    for table in ("versions", "cases", "people") if way == "straight" else metadata.tables:
        if table not in ("results", "principles", "mappings", "imports", "imported"):
            assert not gains(team, library, f"DELETE FROM {table}"), table
        assert not gains(team, library, f"TRUNCATE {table} CASCADE"), table
    for statement in (
        "UPDATE versions SET document = '{}' WHERE case_id = :id",
        "UPDATE versions SET who = 'XX'",
        "UPDATE cases SET title = 'other' WHERE id = :id",
        "UPDATE settings SET value = '{\"four_eyes\": false}' WHERE key = 'house'",
        "UPDATE people SET role = 'steward'",
        "INSERT INTO people (alias, role, login, who, at) VALUES ('XX', 'steward', 'x', 'x', 'x')",
        "SELECT * FROM people",
        "SELECT * FROM sessions",
        "SELECT * FROM team_log_in('k', 'st@lab.example', now())",
        "SELECT * FROM pg_authid",
        "ALTER TABLE versions DISABLE TRIGGER ALL",
        "SET session_replication_role = replica",
        "ALTER TABLE versions DISABLE ROW LEVEL SECURITY",
        "CREATE TABLE mine (x int)",
        "CREATE TEMP TABLE versions (x int)",
        "CREATE OR REPLACE FUNCTION team_role() RETURNS text LANGUAGE sql AS 'SELECT ''steward''::text'",
        "DROP TRIGGER team_version_in ON versions",
        "COPY (SELECT 1) TO PROGRAM 'true'",
    ):
        assert not gains(team, library, statement, **values), statement
    assert not gains(team, library, "SET LOCAL casebook.token = 'x'", "SELECT * FROM people")


@pytest.mark.parametrize("alias", ["LN", "DS"])
def test_nobody_approves_without_the_role(team, alias):
    case_id = team.draft("D2")
    library, case = team.as_(alias), team.as_("DS").get(case_id).case
    approved = forged(case, review=Review(status="approved"))
    for kind in ("approved", "edited", "imported", "restored", "outcome", "redacted", "whatever"):
        for serving in (None, 1, 2):
            values = {"next": 2, "kind": kind, "who": alias, "status": "approved", "serving": serving, **approved}
            assert not gains(team, library, UPDATE, VERSION, **values), (kind, serving)
            assert not gains(team, library, VERSION, UPDATE, **values), (kind, serving)
    for status, serving in (("approved", 1), ("approved", 2), ("draft", 1), ("retired", None)):
        values = {"next": 2, "status": status, "serving": serving, "id": case_id}
        assert not gains(team, library, UPDATE, **values)
    draft = forged(case, title="other")
    assert not gains(team, library, VERSION, **{"next": 2, "kind": "edited", "who": "D2", **draft})
    # a new case that is approved at once
    new = Entry.of(case.model_copy(update={"id": f"forged-{alias}", "review": Review(status="approved")}))
    columns = {name: getattr(new.columns, name) for name in type(new.columns).__slots__}
    names = [*columns, "revision", "updated_at", "serving"]
    insert = f"INSERT INTO cases ({', '.join(names)}) VALUES ({', '.join(':c_' + name for name in names)})"
    values = {f"c_{name}": value for name, value in {**columns, "revision": 1, "updated_at": "x", "serving": 1}.items()}
    values |= forged(case, id=new.columns.id, review=Review(status="approved")) | {"id": new.columns.id}
    assert not gains(team, library, insert, VERSION, next=1, kind="added", who=alias, **values)
    assert not gains(team, library, insert, **values)


def test_follow_up_is_no_way_round_approval(team):
    case_id = team.draft("D2")
    approve(team.as_("RV"), case_id)
    library = team.as_("DS")
    case = library.get(case_id).case
    sneaky = forged(case, design=None)
    for kind in ("outcome", "edited", "restored"):
        values = {"next": 3, "kind": kind, "who": "DS", "status": "approved", "serving": 3, **sneaky}
        assert not gains(team, library, UPDATE, VERSION, **values), kind
    # a designer's own draft neither takes the approved one away nor moves what serves
    draft = forged(case, design=None, review=Review(status="draft"))
    for kind, serving in (("edited", None), ("edited", 3), ("edited", 1), ("drafted", None)):
        values = {"next": 3, "kind": kind, "who": "DS", "status": "draft", "serving": serving, **draft}
        assert not gains(team, library, UPDATE, VERSION, **values), (kind, serving)


def test_a_follow_up_that_nobody_can_read_takes_no_case_out_of_advice(team):
    case_id = team.draft("D2")
    approve(team.as_("RV"), case_id)
    library = team.as_("DS")
    data = orjson.loads(library.get(case_id).document)
    sound = {"accepted": True, "followed_months": 12.5, "satisfaction": 4, "still_worn": True}
    sound["events"] = [{"event": "relined", "month": 6, "tooth": 14, "part": "base"}]
    unread = [
        5, [], {"followed_months": "abc"}, {"followed_months": -4}, {"nonsense": 1}, {"events": [{"month": 1}]},
        {"events": [{"event": "x"}]}, {"events": {}}, {"satisfaction": 4.5}, {"accepted": None}, {"still_worn": "yes"},
    ]  # fmt: skip
    answers = [{"item": "connector", "answer": "accepted", "reason": "x" * 6000}, {"item": "connector"}, "x"]
    documents_ = [orjson.dumps({**data, "outcome": outcome}).decode() for outcome in unread]
    documents_ += [orjson.dumps({**data, "dentist_answer": [answer]}).decode() for answer in answers]
    whole = orjson.dumps({**data, "outcome": sound}).decode()
    # the database takes the last of two keys; a reader could choke on the first
    documents_.append(f'{{"outcome":{"[" * 3000}{"]" * 3000},{whole[1:]}')
    values = {"next": 3, "kind": "outcome", "who": "DS", "status": "approved", "serving": 3, "id": case_id}
    for document in documents_:
        sealed = {"document": document, "checksum": hashlib.sha256(document.encode()).hexdigest()}
        assert not gains(team, library, UPDATE, VERSION, **values, **sealed), document[:300]
    assert gains(
        team, library, UPDATE, VERSION, **values, document=whole, checksum=hashlib.sha256(whole.encode()).hexdigest()
    )
    assert library.get(case_id).case.outcome.followed_months == 12.5


def test_history_is_rewritten_by_no_other_door(team):
    case_id = team.draft("DS")
    other = forged(team.as_("DS").get(case_id).case, title="other")
    conflict = "ON CONFLICT (case_id, revision) DO UPDATE SET document = excluded.document"
    again = f"{VERSION.replace(':next', '1')} {conflict}"
    matched = "MERGE INTO versions v USING (SELECT 1) s ON v.case_id = :id WHEN MATCHED THEN"
    for alias in ("DS", "RV", "ST"):
        library = team.as_(alias)
        assert not gains(team, library, again, kind="edited", who=alias, **other)
        assert not gains(team, library, f"{matched} DELETE", id=case_id)
        assert not gains(team, library, f"{matched} UPDATE SET document = :document, checksum = :checksum", **other)
        for column in ("kind = 'approved'", "at = 'x'", "why = 'y'", "revision = 9", "case_id = 'z'", "seq = 1"):
            assert not gains(team, library, f"UPDATE versions SET {column} WHERE case_id = :id", id=case_id), column
        for statement in (
            "SELECT setval('versions_seq_seq', 1)", "SELECT pg_read_file('PG_VERSION')",
            "CREATE SCHEMA mine",
            "CREATE FUNCTION pg_temp.team_digest(text) RETURNS text LANGUAGE sql AS 'SELECT 1::text'",
            "ALTER ROLE CURRENT_USER SUPERUSER", "LOCK TABLE versions IN ACCESS EXCLUSIVE MODE",
        ):  # fmt: skip
            assert not gains(team, library, statement), statement


def test_who_did_it_says_the_database(team):
    case_id = team.draft("DS")
    library = team.as_("DS")
    held = library.get(case_id)
    values = {"next": 2, "kind": "edited", "who": "RV", "status": "draft", "serving": None}
    set_title = "UPDATE cases SET revision = 2, title = 'other' WHERE id = :id"
    assert gains(team, library, set_title, VERSION, **values, **forged(held.case, title="other"))
    last = library.get(case_id)
    assert (last.who, last.at[:4] != "2026" or last.at > "2026-01-02") == ("DS", True)


def test_four_eyes_hold_in_sql(team):
    case_id = team.draft("RV")
    library = team.as_("RV")
    case = library.get(case_id).case
    approved = {"next": 2, "kind": "approved", "status": "approved", "serving": 2}
    for who in ("RV", "R2", "DS"):
        values = {**approved, "who": who, **forged(case, review=Review(status="approved"))}
        assert not gains(team, library, UPDATE, VERSION, **values)
    other = team.draft("DS")
    case = library.get(other).case
    # to approve something else than what stands there is to approve one's own
    changed = {**approved, "who": "RV", **forged(case, design=None, review=Review(status="approved"))}
    assert not gains(team, library, UPDATE, VERSION, **changed)
    token = library.person.token
    assert not gains(team, library, f"SELECT set_config('casebook.token', '{token}x', true)", "SELECT * FROM cases")


def test_a_steward_changes_history_only_by_taking_texts_out(team):
    case_id = team.draft("DS")
    library = team.as_("ST")
    case = library.get(case_id).case
    change = "UPDATE versions SET document = :document, checksum = :checksum WHERE case_id = :id AND revision = 1"
    assert not gains(team, library, change, **forged(case, title="other"))
    assert not gains(team, library, change, **forged(case, title="[taken out]"))  # without a version that says so
    assert not gains(team, library, "DELETE FROM versions")
    assert not gains(team, library, "UPDATE versions SET who = 'XX'")


def test_a_learner_sees_what_is_approved_and_their_own_results_only(team):
    hidden, shown = team.draft("DS"), team.draft("DS")
    approve(team.as_("RV"), shown)
    insert = (
        "INSERT INTO results (learner, exercise, case_id, revision, decision, answer, verdict, principles, at) "
        "VALUES (:who, 'e', 'c', 1, 'd', 'a', 'v', '[]', 'x')"
    )
    assert gains(team, team.as_("LN"), insert, who="LN")
    assert not gains(team, team.as_("LN"), insert, who="L2")
    learner, other = team.as_("LN"), team.as_("L2")
    assert not gains(team, other, "SELECT * FROM results")
    assert gains(team, learner, "SELECT * FROM results")
    assert not gains(team, other, "DELETE FROM results")
    assert gains(team, learner, "SELECT * FROM versions WHERE case_id = :id", id=shown)
    assert not gains(team, learner, "SELECT * FROM versions WHERE case_id = :id", id=hidden)
    assert not gains(team, learner, "SELECT * FROM versions WHERE case_id = :id AND revision = 1", id=shown)
    for table in ("looked", "mappings", "imports", "imported", "people", "sessions"):
        assert not gains(team, learner, f"SELECT * FROM {table}"), table
    assert not gains(team, learner, "SELECT * FROM team_authors(:id)", id=hidden)


def test_what_one_person_leaves_on_a_connection_meets_nobody_else(team):
    first, second = team.as_("DS"), team.as_("D2")
    assert first.engine is second.engine
    with first.engine.connect() as connection:
        connection.execute(text("SELECT set_config('casebook.token', :t, false)"), {"t": first.person.token})
        connection.execute(text("SET default_transaction_read_only = on"))
        connection.execute(text("SELECT pg_advisory_lock(7)"))
        connection.commit()
    with second.engine.connect() as connection:
        assert connection.scalar(text("SELECT current_setting('casebook.token', true)")) in (None, "")
        assert connection.scalar(text("SHOW default_transaction_read_only")) == "off"
    # nor is a token ever to be read in what the server shows of other connections
    with first.writing("edit") as held, second.reading() as looking:
        held.execute(text("SELECT 1"))
        shown = " ".join(str(row) for row in looking.execute(text("SELECT query FROM pg_stat_activity")))
    assert first.person.token not in shown


def test_the_service_makes_advice_and_logs_in_and_nothing_else(team):
    service = team.service
    with service.reading() as connection:
        assert connection.scalar(text("SELECT count(*) FROM cases")) > 0
    for statement in (
        "UPDATE cases SET status = 'approved'", "DELETE FROM versions", "UPDATE settings SET value = '{}'",
        "SELECT * FROM people", "SELECT * FROM sessions", "SELECT * FROM results",
    ):  # fmt: skip
        with pytest.raises(DBAPIError), service.engine.connect() as connection:
            connection.execution_options(rpd_write=True).execute(text(statement))


def test_settings_of_the_house_are_the_stewards(team):
    assert people.house(team.as_("ST")).four_eyes
    value = orjson.dumps({"four_eyes": False}).decode()
    for alias in ("DS", "RV"):
        assert not gains(team, team.as_(alias), "UPDATE settings SET value = :v WHERE key = 'house'", v=value)
