"""The screens of a team: nobody in without a log-in, pages by role, and a page that is tampered with gains nothing."""

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from recommender.curation.house import keeping
from recommender.precedents.store.errors import LibraryError
from recommender.precedents.store.team import people
from recommender.precedents.store.team.standing import log_out
from recommender.screens.library.page import PARTS
from recommender.screens.session import person
from tests.curation.test_house import OWN
from tests.screens.conftest import words_on

from .conftest import claims_of
from .test_roles import approve

pytestmark = pytest.mark.postgres

PAGE = (
    "from recommender.screens.session import person, state\n"
    "from recommender.screens.ui import door\n"
    "import importlib\n"
    "barred = person.admitted()\n"
    "if barred is None:\n"
    "    state.sync()\n    door.who()\n"
    "    importlib.import_module('recommender.screens.{}.page').page()\n"
    "else:\n    door.draw(barred)\n"
)


@pytest.fixture(autouse=True)
def screens(team, tmp_path, monkeypatch):
    """The screens as a server starts them for a team."""
    monkeypatch.setenv("RPD_CASEBOOK_LIBRARY", team.service_url)
    monkeypatch.setenv("RPD_CASEBOOK_DRAFTS", str(tmp_path / "drafts"))
    yield
    st.cache_resource.clear()


def visit(monkeypatch, page, alias, case=None, said=None, **params):
    """A page as somebody sees it whom the provider of identities vouches for."""
    monkeypatch.setattr(person, "claims", lambda: (said or claims_of(alias)) if alias else {})
    at = AppTest.from_string(PAGE.format(page), default_timeout=60)
    if case is not None:
        at.query_params["case"] = case
    for name, value in params.items():
        at.query_params[name.replace("_", "-")] = value
    return at.run()


def parts(at):
    return list(at.get("button_group")[0].options)


def test_nobody_comes_in_without_a_log_in(team, monkeypatch):
    at = visit(monkeypatch, "library", None)
    assert [title.value for title in at.title] == ["Log in"]
    assert not at.get("button_group")
    at = visit(monkeypatch, "library", "ST", said=claims_of("XX"))
    assert "You are not among the people of this library" in words_on(at)
    assert not at.get("button_group")


@pytest.mark.parametrize(
    ("alias", "barred"),
    [("LN", {"Bring in", "Review", "Many at once", "Alike and at odds", "Take out", "People"}), ("RV", {"People"})],
)
def test_pages_show_what_the_role_may_do(team, monkeypatch, alias, barred):
    hidden, shown = team.draft("D2"), team.draft("D2")
    approve(team.as_("R2"), shown)
    at = visit(monkeypatch, "library", alias, case=hidden)
    assert not at.exception
    assert set(parts(at)) == set(PARTS) - barred
    assert (at.session_state["casebook"].get("casebook.case") is None) == (alias == "LN")
    listed = {head for frame in at.dataframe for head in frame.value["case"]}
    assert shown in listed
    assert (hidden in listed) == (alias != "LN")
    assert f"{alias}**" in words_on(at)
    at.session_state["library-part"] = "Review"  # as the address of a part that is not for one
    at.run()
    assert ("Draft → approved" in words_on(at)) == (alias == "RV")


def test_a_page_is_tampered_with_and_nothing_comes_of_it(team, monkeypatch):
    """A visitor who makes the page believe in another role still has the connection of their own."""
    case_id = team.draft("D2")
    at = visit(monkeypatch, "library", "DS")
    held = at.session_state["casebook"]["casebook.person"]
    from recommender.precedents.store.team.roles import Person

    for role in ("reviewer", "steward"):
        at.session_state["casebook"]["casebook.person"] = Person("RV", role, held.token)
        at.session_state["library-part"] = "Review"
        at.run()
        assert case_id not in words_on(at)
        forged = team.over_screens(Person("RV", role, held.token))
        with pytest.raises(LibraryError):
            approve(forged, case_id)
        with pytest.raises(LibraryError):
            people.add(forged, "DS", "steward")
    at.session_state["casebook"]["casebook.person"] = Person("LN", "designer", held.token)
    assert team.over_screens(Person("LN", "designer", held.token)).get(case_id).who == "D2"  # still DS's own rights
    assert [version.who for version in team.as_("DS").history(case_id)] == ["D2"]


def test_a_reviewer_is_told_on_the_page_why_their_own_case_waits(team, monkeypatch):
    case_id = team.draft("RV")
    at = visit(monkeypatch, "library", "RV", library_part="Review")
    chosen = next(box for box in at.selectbox if box.label == "Case to review")
    chosen.select(next(option for option in chosen.options if option.startswith(case_id))).run()
    assert "in this house somebody else approves it" in words_on(at)
    assert next(button for button in at.button if button.key == "library.approve").disabled


def test_a_session_ends_on_the_page(team, monkeypatch):
    said = claims_of("DS")
    at = visit(monkeypatch, "library", "DS", said=said)
    assert parts(at)
    log_out(team.service, at.session_state["casebook"]["casebook.person"])
    monkeypatch.setattr(person, "_EVERY_SECONDS", 0.0)
    at.run()
    assert "Your session has ended" in words_on(at)
    at = visit(monkeypatch, "library", "DS", said=said)  # the same evidence again
    assert "Your session has ended; log in again" in words_on(at).replace("your", "Your")
    assert not at.get("button_group")


def test_a_steward_keeps_the_people_on_the_page(team, monkeypatch):
    at = visit(monkeypatch, "library", "ST", library_part="People")
    assert parts(at)[-1] == "People"
    form = {field.label: field for field in at.text_input}
    form["Alias (no name)"].set_value("VN")
    form["Log-in, as the provider of identities says it"].set_value("vn@lab.example")
    next(button for button in at.button if button.label == "Add").click().run()
    assert "VN is a learner from now on" in words_on(at)
    assert team.person("VN").role == "learner"
    box = next(box for box in at.checkbox if box.label.startswith("Somebody else approves"))
    box.uncheck()
    next(button for button in at.button if button.label == "Settle").click().run()
    assert not people.house(team.as_("ST")).four_eyes
    people.settle(team.as_("ST"), {"four_eyes": True})


def test_the_houses_hand_is_one_for_everybody_and_a_stewards_to_change(team, monkeypatch):
    keeping.adopt(team.as_("ST"), OWN)
    for alias, may in (("DS", False), ("ST", True)):
        at = visit(monkeypatch, "library", alias, library_part="The house's hand")
        assert not at.exception
        assert "favours RPA" in words_on(at)
        back = [button for button in at.button if button.key == "library.house.back"]
        assert bool(back) == may
    back[0].click().run()
    assert not at.exception
    assert "No profile counts" in words_on(at)
    assert keeping.adopted(team.as_("DS")) is None


def test_two_tabs_of_one_log_in_work_side_by_side_and_end_together(team, monkeypatch):
    said = claims_of("DS")
    first, second = (visit(monkeypatch, "library", "DS", said=said) for _ in range(2))
    monkeypatch.setattr(person, "_EVERY_SECONDS", 0.0)
    for at in (first, second):
        at.run()
        assert parts(at)
    log_out(team.service, second.session_state["casebook"]["casebook.person"])
    for at in (first, second):
        at.run()
        assert "Your session has ended" in words_on(at)


def test_working_copies_are_each_persons_own(team, monkeypatch):
    case_id = team.draft("D2")
    at = visit(monkeypatch, "library", "DS", case=case_id)
    assert at.session_state["casebook"]["casebook.case"].id == case_id
    from recommender.screens.session import drafts

    folders = set()
    for alias in ("DS", "D2"):
        monkeypatch.setattr(person, "current", lambda alias=alias: team.person(alias))
        folders.add(drafts.folder())
    assert {folder.name for folder in folders} == {"DS", "D2"}
