"""Each role does its work over the screens and straight at the database, and nothing beyond it."""

import pytest

from recommender.curation import review
from recommender.curation.outcomes import FollowUp, add_follow_up
from recommender.curation.redaction import redact
from recommender.precedents.store import backup, looked_at
from recommender.precedents.store.databases import open_database
from recommender.precedents.store.errors import LibraryError, NotAllowed, NotLoggedIn
from recommender.precedents.store.team import people
from recommender.precedents.store.team.roles import roles
from recommender.precedents.store.team.standing import log_out, still_there
from tests.screens.browser import ROOT

from .conftest import CASES, PEOPLE, SERVER, claims_of

pytestmark = pytest.mark.postgres


def free(_case):
    """No rule speaks against an invented design here: who may approve is asked, not what."""
    return []


def approve(library, case_id):
    return review.approve(library, case_id, who="", reason="", contradictions=free)


def test_a_case_goes_its_way_through_the_roles(team):
    case_id = team.draft("DS")
    designer, reviewer = team.as_("DS"), team.as_("RV")
    assert designer.get(case_id).who == "DS"
    with pytest.raises(LibraryError, match="no case"):
        team.as_("LN").get(case_id)
    approve(reviewer, case_id)
    assert team.as_("LN").get(case_id).case.id == case_id
    changed = designer.get(case_id).case.model_copy(update={"title": "better"})
    review.revise(designer, changed, opened=2, who="", why="measured again")
    with pytest.raises(LibraryError, match="no case"):
        team.as_("LN").get(case_id)  # a change waits; what a learner sees waits with it
    review.turn_down(reviewer, case_id, who="", reason="no better")
    add_follow_up(designer, case_id, FollowUp(months=600, still_worn=True), who="")
    history = designer.history(case_id)
    assert [(version.kind, version.who) for version in history] == [
        ("added", "DS"), ("approved", "RV"), ("edited", "DS"), ("restored", "RV"), ("outcome", "DS"),
    ]  # fmt: skip
    assert [head.serving for head in designer.heads() if head.id == case_id] == [5]
    review.retire(reviewer, case_id, who="", reason="too old")
    review.reopen(reviewer, case_id, who="", reason="needed again")


@pytest.mark.parametrize("alias", ["LN", "DS"])
def test_who_may_not_decide_is_told_in_one_sentence(team, alias):
    case_id = team.draft("D2")
    library = team.as_(alias)
    takes, role = "takes a reviewer or a steward", PEOPLE[alias]
    with pytest.raises(NotAllowed, match=f"{alias} is a {role}; to approve a case or turn a change down {takes}"):
        approve(library, case_id)
    with pytest.raises(NotAllowed, match=f"to say that a text identifies nobody {takes}"), library.writing("look_at"):
        pass


def test_nobody_approves_their_own_case_where_the_house_wants_four_eyes(team):
    case_id = team.draft("RV")
    mine, other = team.as_("RV"), team.as_("R2")
    assert people.entered_by_approver(mine, case_id)
    assert not people.entered_by_approver(other, case_id)
    with pytest.raises(LibraryError, match="somebody else approves it"):
        approve(mine, case_id)
    approve(other, case_id)
    # a change by R2 is R2's from then on
    changed = other.get(case_id).case.model_copy(update={"title": "better"})
    review.revise(other, changed, opened=2, who="", why="better")
    with pytest.raises(LibraryError, match="somebody else approves it"):
        approve(other, case_id)
    approve(mine, case_id)
    people.settle(team.as_("ST"), {"four_eyes": False})
    try:
        alone = team.draft("RV")
        assert approve(mine, alone).who == "RV"
    finally:
        people.settle(team.as_("ST"), {"four_eyes": True})


def test_a_steward_takes_a_text_out_of_history_and_backs_up(team, tmp_path):
    case_id = team.draft("DS")
    case = team.as_("DS").get(case_id).case
    team.as_("DS").save(case.model_copy(update={"title": "of somebody"}), opened=1, who="", why="told")
    for alias in ("DS", "RV"):
        with pytest.raises(NotAllowed):
            redact(team.as_(alias), case_id, "title", who="", why="named a patient")
        with pytest.raises(NotAllowed):
            backup.back_up(team.as_(alias), tmp_path / f"{alias}.db")
    steward = team.as_("ST")
    _, changed = redact(steward, case_id, "title", who="", why="named a patient")
    assert changed >= 1
    assert all(version.intact for version in steward.history(case_id))
    backup.back_up(steward, tmp_path / "copy.db")
    with open_database(str(tmp_path / "copy.db")) as copy:
        assert copy.get(case_id).case.title == "[taken out]"
    with pytest.raises(NotAllowed, match="the owner of the database"):
        backup.restore(steward, tmp_path / "copy.db", tmp_path)


def test_a_database_user_has_the_role_of_the_person(team):
    for alias, role in (("DS", "designer"), ("RV", "reviewer"), ("ST", "steward")):
        with open_database(team.address(f"u{team.prefix}_{alias.lower()}"), write=True) as library:
            assert (library.person.alias, library.person.role) == (alias, role)
            case = CASES[0].model_copy(update={"id": f"straight-{alias}"})
            assert library.add(case, who="somebody else").who == alias
    with open_database(team.address(f"u{team.prefix}_ds"), write=True) as library, pytest.raises(NotAllowed):
        approve(library, "straight-RV")
    import psycopg

    with psycopg.connect(SERVER, autocommit=True) as connection:
        connection.execute(f"CREATE ROLE stranger_{team.prefix} LOGIN")
    with pytest.raises(NotAllowed, match="no rights there"):
        open_database(team.address(f"stranger_{team.prefix}"))


def test_people_come_and_go(team):
    steward = team.as_("ST")
    people.add(steward, "TMP", "designer", login="tmp@lab.example")
    held = team.person("TMP")
    assert team.over_screens(held).counts() is not None
    people.add(steward, "TMP", "reviewer")
    assert not still_there(team.service, held)  # the log-in of before does not fit the new role
    with pytest.raises(NotLoggedIn, match="log in again"):
        team.over_screens(held).acting(lambda: None).counts()
    assert team.over_screens(held).counts() == {}
    people.remove(steward, "TMP")
    with pytest.raises(NotAllowed, match="not among the people"):
        team.person("TMP")
    entry = next(one for one in people.listed(steward) if one.alias == "TMP")
    assert (entry.login, entry.database_user) == (None, None)
    assert entry.ended is not None
    for alias in ("LN", "DS", "RV"):
        with pytest.raises(NotAllowed, match="to add and remove people takes a steward"):
            people.add(team.as_(alias), "XX", "steward", login="x@lab.example")
    with pytest.raises(LibraryError, match="is no user for a person"):
        people.add(steward, "XX", "steward", database_user=f"{team.prefix}_app_designer")
    with pytest.raises(LibraryError, match="is no user for a person"):
        people.add(steward, "XX", "learner", database_user=f"owner_{team.prefix}")


def test_a_log_in_ends_and_does_not_come_back(team):
    from recommender.precedents.store.team.standing import log_in

    said = claims_of("DS")
    person = log_in(team.service, said, "email")
    assert log_in(team.service, said, "email").alias == "DS"  # a second tab
    person = log_in(team.service, said, "email")
    log_out(team.service, person)
    assert team.over_screens(person).counts() == {}
    with pytest.raises(NotLoggedIn, match="log in again"):
        log_in(team.service, said, "email")
    old = claims_of("DS", iat=said["iat"] - 11 * 3600)
    with pytest.raises(NotLoggedIn, match="log in again"):
        log_in(team.service, old, "email")
    with pytest.raises(NotAllowed, match="not verified"):
        log_in(team.service, claims_of("DS", email_verified=False), "email")


def test_every_table_and_kind_stands_in_the_file():
    from recommender.precedents.store.schema import metadata

    assert set(roles().tables) == set(metadata.tables)
    kinds = [kind for act in roles().acts.values() for kind in act.kinds]
    assert sorted(kinds) == sorted(
        ["added", "imported", "edited", "restored", "approved", "retired", "drafted", "outcome", "redacted"]
    )


def test_the_readme_says_what_each_role_may():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for name, act in roles().acts.items():
        if act.least != "owner":
            marks = " | ".join("✓" if roles().may(role, name) else "–" for role in roles().roles)
            assert f"| {act.says} | {marks} |" in text


def test_a_library_in_a_file_has_one_person(tmp_path):
    from recommender.precedents.store.databases import create_database
    from recommender.precedents.store.team import guard

    with create_database(str(tmp_path / "cases.db")) as library:
        with pytest.raises(LibraryError, match="has one person, who may do everything"):
            guard.start(library)
        with pytest.raises(LibraryError, match="one person works here"):
            people.listed(library)
        library.add(CASES[0], who="KM")
        assert looked_at.unseen(library, CASES[0]) is not None
