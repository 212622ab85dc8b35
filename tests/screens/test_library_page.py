"""The page of the library: read-only demo, a library of one's own, and each part of the educator's work in it."""

import sqlite3
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from recommender.domain.case import Case
from recommender.precedents.source import demo_source
from recommender.precedents.store.databases import create_database, open_database
from recommender.precedents.store.documents import status
from recommender.precedents.store.library import Library
from recommender.screens.library import data
from tests.screens.conftest import ROOT, as_read, open_page, widget, words_on


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    whole = list(demo_source().cases())
    drafts = [case for case in whole if status(case) == "draft" and case.design and case.missing]
    return [*whole[:5], *drafts[:3]]


@pytest.fixture
def place(tmp_path: Path, cases: list[Case], monkeypatch: pytest.MonkeyPatch) -> str:
    where = str(tmp_path / "cases.db")
    with create_database(where) as library:
        for case in cases:
            library.add(case, who="KM", why="set up")
    monkeypatch.setenv("RPD_CASEBOOK_LIBRARY", where)
    return where


@pytest.fixture(autouse=True)
def own_home(tmp_path, monkeypatch):
    """What a page proposes as a place never lies in the user's own folder."""
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    (tmp_path / "home").mkdir()


@pytest.fixture(autouse=True)
def no_old_connections():
    yield
    data._writing.clear()


def at_part(part: str, who: str = "educator") -> AppTest:
    at = open_page("library", **{"library-part": part})
    if who:
        widget(at, "text_input", "casebook.who").set_value(who).run()
    assert not at.exception
    assert not at.error
    return at


def held(place: str) -> Library:
    return open_database(place)


def test_the_demo_is_shown_as_invented_and_read_only():
    at = open_page("library")
    assert not at.exception
    said = words_on(at)
    assert "INVENTED" in said
    assert "no log-in of their own" in said
    assert "114 cases" in said
    assert "read-only" in as_read(" ".join(one.label for one in at.expander))
    at = open_page("library", **{"library-part": "Bring in"})
    assert "For reading only" in words_on(at)
    assert not [one for one in at.button if one.key == "library.try"]


def test_a_copy_of_the_demo_is_made_opened_and_kept_for_the_next_start(tmp_path, monkeypatch):
    at = open_page("library")
    widget(at, "text_input", "library.new").set_value(str(tmp_path / "mine.db"))
    next(one for one in at.button if one.label == "Make the library").click().run(timeout=60)
    assert not at.exception
    assert not at.error
    said = words_on(at)
    assert "mine.db, 114 cases" in said
    assert "read-only" not in said
    with held(str(tmp_path / "mine.db")) as library:
        assert sum(library.counts().values()) == 114
        assert library.get("harbour-0001").why == "copied from the demo library (invented cases)"
    from recommender.precedents.store.opening import configured

    assert configured() == str(tmp_path / "mine.db")
    again = open_page("library")  # a new session
    assert "mine.db" in words_on(again)


def test_nothing_that_is_there_is_touched(tmp_path):
    (tmp_path / "mine.db").write_text("something else")
    at = open_page("library")
    widget(at, "text_input", "library.new").set_value(str(tmp_path / "mine.db"))
    next(one for one in at.button if one.label == "Make the library").click().run()
    assert "nothing was changed" in at.error[0].value
    assert (tmp_path / "mine.db").read_text() == "something else"


def test_filters_and_one_case_with_its_drawing(place, cases):
    at = at_part("Cases")
    widget(at, "selectbox", "library.status").set_value("draft").run()
    drafts = [case.id for case in cases if status(case) == "draft"]
    assert widget(at, "selectbox", "library.case").options
    assert len(widget(at, "selectbox", "library.case").options) == len(drafts)
    widget(at, "selectbox", "library.status").set_value(None)
    widget(at, "text_input", "library.text").set_value(cases[0].title.split()[0]).run()
    widget(at, "selectbox", "library.case").set_value(cases[0].id).run()
    assert not at.exception
    said = words_on(at)
    assert "data:image/svg+xml;base64," in said
    assert "Arch drawing" in said
    assert "followed" in said


def test_taken_in_hand_changed_and_kept_as_a_new_version(place, cases):
    at = at_part("Cases")
    widget(at, "selectbox", "library.case").set_value(cases[0].id).run()
    widget(at, "button", "library.take").click().run()
    assert at.session_state["casebook"]["casebook.case"].id == cases[0].id
    at.session_state["casebook"]["casebook.case"] = cases[0].model_copy(update={"title": "Another title"})
    at.run()
    widget(at, "button", "library.keep").click().run()
    assert "say in a few words why" in at.error[0].value
    widget(at, "text_input", "library.keep_why").set_value("clearer title").run()
    widget(at, "button", "library.keep").click().run()
    assert not at.error
    with held(place) as library:
        version = library.get(cases[0].id)
        assert (version.revision, version.who, version.why) == (2, "educator", "clearer title")
        assert version.case.title == "Another title"


def test_a_save_by_somebody_else_is_told_and_not_written_over(place, cases):
    at = at_part("Cases")
    widget(at, "selectbox", "library.case").set_value(cases[0].id).run()
    widget(at, "button", "library.take").click().run()
    with open_database(place, write=True) as other:
        other.save(cases[0].model_copy(update={"title": "Theirs"}), opened=1, who="AB", why="meanwhile")
    at.session_state["casebook"]["casebook.case"] = cases[0].model_copy(update={"title": "Mine"})
    at.run()
    widget(at, "text_input", "library.keep_why").set_value("title").run()
    widget(at, "button", "library.keep").click().run()
    assert "AB saved revision 2" in at.error[0].value
    with held(place) as library:
        assert library.get(cases[0].id).case.title == "Theirs"


def test_an_earlier_version_is_compared_and_brought_back(place, cases):
    with open_database(place, write=True) as other:
        other.save(cases[0].model_copy(update={"title": "Second"}), opened=1, who="AB", why="renamed")
    at = at_part("Cases")
    widget(at, "selectbox", "library.case").set_value(cases[0].id).run()
    said = words_on(at)
    assert "renamed" in said
    assert "Second" in said  # in the comparison of the two versions
    next(one for one in at.button if one.label == "Bring it back").click().run()
    with held(place) as library:
        assert library.get(cases[0].id).revision == 3
        assert library.get(cases[0].id).case.title == cases[0].title
        assert library.get(cases[0].id, 2).case.title == "Second"


def test_nothing_is_changed_by_nobody(place, cases):
    at = at_part("Review", who="")
    draft = next(case for case in cases if status(case) == "draft")
    widget(at, "selectbox", "library.review").set_value(draft.id).run()
    assert "who you are" in words_on(at)
    assert not [one for one in at.button if one.key == "library.approve"]


def test_identity_blocks_approval_until_somebody_looked(place, cases):
    draft = next(case for case in cases if status(case) == "draft")
    named = draft.model_copy(update={"title": "Upper strap for Mrs Brown"})
    with open_database(place, write=True) as other:
        other.save(named, opened=1, who="AB", why="a slip")
    at = at_part("Review")
    widget(at, "selectbox", "library.review").set_value(draft.id).run()
    widget(at, "text_area", f"library.reason.{draft.id}").set_value("shown to the dentist").run()
    assert "may identify a patient" in words_on(at)
    assert widget(at, "button", "library.approve").disabled
    at.text_input[-2 if at.text_input[-1].label == "Reason" else -1].set_value("an invented name")
    next(one for one in at.button if one.label == "Looked at").click().run()
    widget(at, "text_area", f"library.reason.{draft.id}").set_value("shown to the dentist").run()
    assert not widget(at, "button", "library.approve").disabled
    widget(at, "button", "library.approve").click().run()
    assert not at.error
    with held(place) as library:
        assert status(library.get(draft.id).case) == "approved"
        assert [version.kind for version in library.history(draft.id)] == ["added", "edited", "approved"]


def test_a_change_of_an_approved_case_is_shown_and_turned_down(place, cases):
    from recommender.curation.review import revise

    approved = next(case for case in cases if status(case) == "approved")
    with open_database(place, write=True) as other:
        changed = approved.model_copy(
            update={"absent": [*(approved.absent or []), 48 if approved.arch == "mandible" else 18]}
        )
        revise(other, changed, opened=1, who="AB", why="a slip")
    at = at_part("Review")
    assert "serves as it was until a reviewer decides: 1" in words_on(at)
    widget(at, "selectbox", "library.review").set_value(approved.id).run()
    assert "A change of an approved case" in words_on(at)
    box = next(one for one in at.expander if one.label == "Turn the change down")
    box.text_input[0].set_value("measured wrongly")
    next(one for one in at.button if one.label == "Turn it down").click().run()
    assert not at.error
    with held(place) as library:
        assert library.get(approved.id).case == approved
        assert [head.waits for head in library.heads() if head.id == approved.id] == [False]


def test_a_case_against_a_rule_needs_a_reason(place, cases):
    from recommender.curation.contradictions import contradictions

    against = next(case for case in demo_source().cases() if contradictions(case))
    again = against.model_copy(update={"id": "again-1", "review": None})
    with open_database(place, write=True) as other:
        other.add(again, who="AB")
    at = at_part("Review")
    widget(at, "selectbox", "library.review").set_value("again-1").run()
    assert "go against a rule" in words_on(at)
    assert widget(at, "button", "library.approve").disabled
    widget(at, "text_area", "library.reason.again-1").set_value("the patient asked for it").run()
    widget(at, "button", "library.approve").click().run()
    with held(place) as library:
        assert library.get("again-1").case.review.reason == "the patient asked for it"


def test_a_follow_up_is_added(place, cases):
    chosen = next(case for case in cases if case.design and not case.outcome)
    at = at_part("Outcomes")
    widget(at, "selectbox", "library.followed").set_value(chosen.id).run()
    at.number_input[0].set_value(14)
    next(one for one in at.selectbox if one.label == "Still worn").set_value("yes")
    next(one for one in at.button if one.label == "Add the follow-up").click().run()
    assert not at.error
    with held(place) as library:
        outcome = library.get(chosen.id).case.outcome
        assert (outcome.followed_months, outcome.still_worn, outcome.accepted) == (14, True, None)


def test_survival_says_its_definition_the_number_at_risk_and_too_few():
    at = open_page("library", **{"library-part": "Outcomes"})
    said = words_on(at)
    assert "no longer worn" in said
    assert "too few to say" in said
    assert "n 37" in said or ", n " in said
    assert "INVENTED" in said
    widget(at, "selectbox", "library.definition").set_value("any_retreatment").run()
    assert "Any event beyond adjustment" in words_on(at)


def test_coverage_as_table_and_picture():
    at = open_page("library", **{"library-part": "Coverage"})
    assert not at.exception
    said = words_on(at)
    assert "would help most" in said
    assert "Curtis" in said
    assert len(at.get("vega_lite_chart")) == 2
    assert "commonest make" in said


def test_like_situations_side_by_side():
    at = open_page("library", **{"library-part": "Alike and at odds"})
    assert not at.exception
    said = words_on(at)
    assert "alike over what both recorded" in said
    assert said.count("data:image/svg+xml;base64,") == 2


def test_export_and_backup_are_offered_and_sound(place, cases):
    at = at_part("Take out")
    widget(at, "selectbox", "library.form").set_value("jsonl").run()
    widget(at, "button", "library.make_file").click().run()
    assert not at.error
    content = at.session_state["library.file"][1]
    assert content.count(b"\n") == len(cases)
    widget(at, "button", "library.backup").click().run()
    import hashlib

    name, copy, stamp = at.session_state["library.backup_file"]
    assert stamp.split() == [hashlib.sha256(copy).hexdigest(), name]


def test_bringing_in_tries_first_and_then_takes_all_or_the_valid_ones(place, tmp_path):
    source = tmp_path / "past"
    source.mkdir()
    (source / "a.yaml").write_text("format: 1\nid: new-1\narch: maxilla\nmissing: [15]\n")
    (source / "b.yaml").write_text("format: 1\nid: new-2\narch: nowhere\nmissing: [15]\n")
    at = at_part("Bring in")
    widget(at, "text_input", "library.path").set_value(str(source)).run()
    widget(at, "button", "library.try").click().run()
    said = words_on(at)
    assert "Nothing was written" in said
    assert "past/b.yaml:3:7" in said
    assert "nowhere" in said
    with held(place) as library:
        assert library.held(["new-1"]) == {}
    assert widget(at, "button", "library.all").disabled
    widget(at, "button", "library.valid").click().run()
    assert not at.error
    with held(place) as library:
        assert status(library.get("new-1").case) == "draft"
        assert library.get("new-1").who == "educator"
        assert library.held(["new-2"]) == {}
    # the same number for another mouth, and a field that was not there before
    (source / "a.yaml").write_text("format: 1\nid: new-1\narch: mandible\nmissing: [36]\n")
    (source / "b.yaml").write_text("format: 1\nid: new-2\narch: maxilla\nmissing: [15]\n")
    widget(at, "button", "library.try").click().run()
    said = words_on(at)
    assert "another case of this number" in said
    assert "arch: maxilla" in said
    assert "arch: mandible" in said


def test_a_table_with_foreign_headings_is_mapped_and_the_mapping_remembered(place, tmp_path):
    table = tmp_path / "past.csv"
    table.write_text("Case number,Lugar,missing\nold-1,upper,15\n")
    at = at_part("Bring in")
    widget(at, "text_input", "library.path").set_value(str(table)).run()
    assert "No column means Arch yet" in words_on(at)
    assert next(one for one in at.selectbox if one.label == "“Case number”").value == "id"
    next(one for one in at.selectbox if one.label == "“Lugar”").set_value("arch").run()
    assert "every tooth number fits both systems" in at.warning[0].value
    widget(at, "radio", "library.numbering").set_value("iso").run()
    next(one for one in at.text_input if one.label.startswith("Save it under a name")).set_value("bench book")
    next(one for one in at.button if one.label == "Remember these columns").click().run()
    widget(at, "button", "library.try").click().run()
    widget(at, "button", "library.all").click().run()
    assert not at.error
    with held(place) as library:
        assert library.get("old-1").case.missing == [15]
    again = at_part("Bring in")
    widget(again, "text_input", "library.path").set_value(str(table)).run()
    assert next(one for one in again.selectbox if one.label == "“Lugar”").value == "arch"
    # other headings beside it: only the mapping that was saved by name knows the column
    table.write_text("Lugar,Case number,missing,title\nlower,old-2,36,a title\n")
    again.run()
    assert next(one for one in again.selectbox if one.label == "“Lugar”").value == "-"
    widget(again, "selectbox", "library.saved_mapping").set_value("bench book").run()
    assert next(one for one in again.selectbox if one.label == "“Lugar”").value == "arch"


def test_rejected_rows_come_back_with_the_reason_and_are_mended(place, tmp_path):
    table = tmp_path / "past.csv"
    table.write_text("numbering,id,arch,missing\niso,m-1,maxilla,15\niso,m-2,sideways,16\n")
    at = at_part("Bring in")
    widget(at, "text_input", "library.path").set_value(str(table)).run()
    widget(at, "button", "library.try").click().run()
    widget(at, "button", "library.valid").click().run()
    assert not at.error
    assert "Brought in: 1 of 2 rows" in words_on(at)
    name, content, number = at.session_state["library.tried"].rejected
    assert (name, number) == ("past-rejected.csv", 1)
    text = content.decode("utf-8-sig")
    assert "m-1" not in text
    assert "invalid: arch: found" in text
    (tmp_path / name).write_text(text.replace("iso,m-2,sideways", "iso,m-2,mandible").replace(",16,", ",46,"))
    widget(at, "text_input", "library.path").set_value(str(tmp_path / name)).run()
    widget(at, "button", "library.try").click().run()
    widget(at, "button", "library.all").click().run()
    assert not at.error
    with held(place) as library:
        assert library.get("m-2").case.missing == [46]


def test_many_cases_are_tried_then_acted_on_and_what_is_deleted_leaves_its_trace(place, cases):
    at = at_part("Many at once")
    assert "Say which cases" in words_on(at)
    widget(at, "selectbox", "library.many_status").set_value("draft").run()
    assert f"{sum(status(case) == 'draft' for case in cases)} cases fit" in words_on(at)
    widget(at, "selectbox", "library.many_act").set_value("retire")
    widget(at, "text_input", "library.many_why").set_value("told by Mrs Miller").run()
    assert "a name" in at.error[0].value
    widget(at, "text_input", "library.many_why").set_value("trial cases").run()
    widget(at, "button", "library.many_try").click().run()
    assert "would be retired" in words_on(at)
    with held(place) as library:
        assert "retired" not in library.counts()
    widget(at, "button", "library.many_do").click().run()
    assert not at.error
    with held(place) as library:
        assert library.counts()["retired"] == 3
    gone = cases[0].id
    widget(at, "selectbox", "library.many_status").set_value(None)
    widget(at, "multiselect", "library.many_ids").set_value([gone]).run()
    widget(at, "selectbox", "library.many_act").set_value("delete").run()
    widget(at, "text_input", "library.many_why").set_value("entered twice").run()
    widget(at, "button", "library.many_try").click().run()
    assert widget(at, "button", "library.many_do").disabled
    widget(at, "checkbox", "library.many_sure").check().run()
    widget(at, "button", "library.many_do").click().run()
    assert not at.exception
    assert "Deleted so far: 1" in [one.label for one in at.expander]
    with held(place) as library:
        assert library.held([gone]) == {}


def test_a_damaged_library_gives_what_is_sound_and_is_mended(place, cases):
    with sqlite3.connect(place) as connection:
        connection.execute(
            "UPDATE versions SET document = replace(document, 'alloy', 'aloly') WHERE case_id = ?", (cases[1].id,)
        )
    connection.close()
    at = at_part("Take out")
    widget(at, "selectbox", "library.form").set_value("jsonl").run()
    widget(at, "button", "library.make_file").click().run()
    assert cases[1].id in as_read(at.error[0].value)
    assert "library.file" not in at.session_state
    widget(at, "checkbox", "library.sound").check().run()
    widget(at, "button", "library.make_file").click().run()
    _, content, left_out = at.session_state["library.file"]
    assert content.count(b"\n") == len(cases) - 1
    assert list(left_out) == [cases[1].id]
    widget(at, "button", "library.look").click().run()
    assert "changed after it was saved" in words_on(at)
    widget(at, "checkbox", "library.mend_sure").check().run()
    widget(at, "button", "library.mend").click().run()
    assert "1 lost" in words_on(at)
    widget(at, "button", "library.look").click().run()
    assert "Nothing is damaged" in words_on(at)


def test_a_library_is_looked_through_once_and_again_after_a_change(monkeypatch, tmp_path):
    """The coverage part reads every case the first time, none the second, and all again for another library."""
    from recommender.screens.session import whole_library

    read = []
    real = whole_library._cases
    monkeypatch.setattr(whole_library, "_cases", lambda: (read.append(case.id) or case for case in real()))
    whole_library._kept().clear()
    at = open_page("library", **{"library-part": "Coverage"})
    assert not at.exception, at.exception
    first = len(read)
    assert first == len(set(read)) > 100
    assert "In numbers" in words_on(at)
    at.run()
    assert len(read) == first
    (tmp_path / "cases").mkdir()
    one = ROOT / "cases_demo" / "harbour-0001.yaml"
    (tmp_path / "cases" / one.name).write_bytes(one.read_bytes())
    monkeypatch.setenv("RPD_CASEBOOK_LIBRARY", str(tmp_path / "cases"))
    at = open_page("library", **{"library-part": "Coverage"})
    assert not at.exception, at.exception
    assert read[first:] == ["harbour-0001"]


def test_own_choices_and_the_houses_hand(place, tmp_path, monkeypatch):
    """Worked out when asked for; a profile that counts is shown line by line and taken back."""
    from recommender.curation.house import keeping
    from tests.curation.test_house import OWN

    monkeypatch.setenv(keeping.ENVIRONMENT, str(tmp_path / "profiles"))
    at = at_part("Own choices")
    widget(at, "button", "library.own_choices").click().run(timeout=120)
    assert not at.exception
    said = words_on(at)
    assert "always the commonest" in said
    assert "lead over the runner-up" in said.lower()
    keeping.adopt(place, OWN)
    at = at_part("The house's hand")
    assert "favours RPA" in words_on(at)
    widget(at, "button", "library.house.back").click().run()
    assert not at.exception
    assert "No profile counts" in words_on(at)


def test_what_was_said_of_how_sure_is_held_against_the_library(place, monkeypatch):
    from recommender.screens.library import how_sure

    monkeypatch.setattr(how_sure, "MOST_CASES", 2)
    at = open_page("library", **{"library-part": "How sure"})
    widget(at, "toggle", "library.calibrate").set_value(True).run()
    assert not at.exception
    assert "Brier score" in words_on(at)
    widget(at, "toggle", "library.sets").set_value(True).run()
    assert not at.exception
    assert "prediction sets need at least 60" in words_on(at)
