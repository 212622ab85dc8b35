"""The page of practice: nothing tells the answer before it is given, and every choice is spoken to after."""

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from recommender.curation.teaching import learners
from recommender.curation.teaching.exercises import exercise_id
from recommender.domain.case import Case
from recommender.precedents.source import demo_source
from recommender.precedents.store.databases import create_database, open_database
from recommender.screens.library import data as library_data
from recommender.screens.practice import data as practice_data
from tests.screens.conftest import open_page, widget, words_on


@pytest.fixture(scope="module")
def cases() -> list[Case]:
    return [case for case in demo_source().cases() if case.design and case.missing][:6]


@pytest.fixture
def place(tmp_path: Path, cases: list[Case], monkeypatch: pytest.MonkeyPatch) -> str:
    where = str(tmp_path / "cases.db")
    with create_database(where) as library:
        for case in cases:
            library.add(case, who="KM", why="set up")
    monkeypatch.setenv("RPD_CASEBOOK_LIBRARY", where)
    monkeypatch.setattr(practice_data, "POOL", 4)
    return where


@pytest.fixture(autouse=True)
def no_old_connections():
    yield
    library_data._writing.clear()


def questions(at: AppTest):
    """The choices to make: every select box whose key names a decision."""
    return [box for box in at.selectbox if box.key and box.key.startswith("practice.ex-")]


def opened(case: Case, revision: int, alias: str = "") -> AppTest:
    at = open_page("practice", exercise=exercise_id(case.id, revision))
    if alias:
        widget(at, "text_input", "casebook.alias").set_value(alias).run()
    assert not at.exception
    return at


def answer_all(at: AppTest, place: int) -> AppTest:
    for box in questions(at):
        box.select_index(min(place, len(box.options) - 1))
    at.run()
    return at


def test_nothing_tells_the_answer_before_it_is_given(place, cases):
    case = cases[0]
    at = opened(case, 1)
    said = words_on(at)
    assert case.id not in said
    assert case.title not in said
    assert case.review is None or not case.review.teaching_note or case.review.teaching_note not in said
    assert questions(at)
    for box in questions(at):
        assert box.value is None
        assert list(box.options) == sorted(box.options, key=str.casefold)
    assert widget(at, "button", "practice.commit").disabled


def test_committed_told_kept_and_due_again(place, cases):
    case = cases[0]
    at = opened(case, 1, "blue heron")
    answer_all(at, 0)
    widget(at, "button", "practice.commit").click().run(timeout=60)
    assert not at.exception
    said = words_on(at)
    assert "kept under blue heron" in said
    assert case.id in said  # now it may be known
    labels = [one.label for one in at.expander]
    with open_database(place) as library:
        done = learners.progress(library, "blue heron")
    assert done.answers == len([label for label in labels if " — " in label])
    told = " ".join(labels) + words_on(at)
    for standing, number in done.by_standing.items():
        if standing == "excluded" and number:
            assert "✕ excluded" in told
    at = open_page("practice", **{"practice-part": "Results"})
    widget(at, "text_input", "casebook.alias").set_value("blue heron").run()
    said = words_on(at)
    assert f"{done.answers} choices of blue heron" in said
    assert "FSRS" in said or not done.principles
    assert "week by week" in said
    widget(at, "checkbox", "practice.sure").check().run()
    widget(at, "button", "practice.forget").click().run()
    with open_database(place) as library:
        assert learners.progress(library, "blue heron").answers == 0


def test_answers_stay_while_another_page_is_looked_at(place, cases):
    at = opened(cases[0], 1)
    first = questions(at)[0]
    first.select_index(1).run()
    chosen, key = questions(at)[0].value, first.key
    at.query_params["practice-part"] = "On paper"
    at.session_state["practice-part"] = "On paper"
    at.run()
    at.session_state["practice-part"] = "Exercise"
    at.run()
    assert next(box for box in questions(at) if box.key == key).value == chosen


def test_the_demo_can_be_practised_and_keeps_nothing():
    case = next(case for case in demo_source().cases() if case.design and case.missing)
    at = opened(case, 0, "heron")
    answer_all(at, 0)
    widget(at, "button", "practice.commit").click().run(timeout=60)
    assert not at.exception
    assert "the result is not kept" in words_on(at)
    assert "INVENTED" in words_on(at)


def test_an_exercise_is_chosen_by_difficulty(place):
    at = open_page("practice")
    widget(at, "radio", "practice.way").set_value("by difficulty").run()
    widget(at, "button_group", "practice.difficulty").set_value(["middling"]).run()
    widget(at, "button", "practice.set").click().run(timeout=60)
    assert not at.exception
    said = words_on(at)
    assert "middling" in said or "No exercise of that difficulty" in said


def test_a_faulty_alias_and_an_unknown_exercise_are_told(place):
    at = open_page("practice", exercise="ex-00000000")
    assert "There is no exercise" in at.warning[0].value
    widget(at, "text_input", "casebook.alias").set_value("7 <script>").run()
    widget(at, "button", "practice.set").click().run(timeout=60)
    assert any("An alias has" in one.value for one in at.warning)


def test_sheet_and_key_are_files_apart(place, cases):
    at = open_page("practice", **{"practice-part": "On paper"})
    widget(at, "multiselect", "practice.picked").set_value([cases[0].id]).run()
    widget(at, "button", "practice.paper").click().run(timeout=60)
    assert not at.exception
    names, sheet, key = at.session_state["practice.papers"]
    assert names == [cases[0].id]
    assert cases[0].id not in sheet
    assert "points" not in sheet
    from recommender.wording.words import Words

    assert f"{Words().option('connector', cases[0].design.connector)} (" in key


def test_one_decision_after_the_other(place, cases):
    """Feedback comes right after a decision, with precedents on both sides, and the decision stays."""
    at = opened(cases[0], 1, "")
    first = next(box for box in at.selectbox if str(box.key).count(".") == 2 and "practice.ex-" in str(box.key))
    first.select_index(0).run()
    name = str(first.key).split(".", 2)[2]
    widget(at, "button", f"practice.commit.{name}").click().run(timeout=60)
    assert not at.exception
    assert any(" — " in one.label for one in at.expander)
    assert all(box.key != first.key for box in at.selectbox)


def test_a_whole_framework_is_drawn_and_checked(place, cases):
    """Parts chosen on the arch are held against the same checks as the program's own frameworks."""
    name = exercise_id(cases[0].id, 1)
    at = open_page("practice", exercise=name, **{"practice-part": "Whole framework"})
    boxes = [box for box in at.selectbox if str(box.key).startswith("practice.whole.")]
    connector = next(box for box in boxes if str(box.key).endswith("connector"))
    connector.select_index(list(connector.options).index("lingual bar")).run()
    tooth = next(int(str(box.key).rsplit(":", 1)[1]) for box in boxes if ".retainer:" in str(box.key))
    at.session_state["practice.whole.tooth"] = tooth  # as a click on the arch leaves it
    at.run()
    first = [str(box.key) for box in at.selectbox if str(box.key).startswith("practice.whole.")]
    assert first[0].endswith(f"retainer:{tooth}")
    assert len(first) == len(set(first)) == len(boxes)
    widget(at, "button", "practice.check").click().run(timeout=60)
    assert not at.exception
    said = words_on(at)
    assert "checks fail" in said
    assert "rules between parts" in said
