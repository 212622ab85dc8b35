"""The page of the rules: read, drawn, changed in a draft, tried on the library, adopted by an explicit step."""

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from recommender.knowledge import adopted, drafts
from recommender.knowledge.differences import differences
from recommender.knowledge.in_force import knowledge
from recommender.knowledge.load import packaged_knowledge
from recommender.knowledge.packaged import RULES_ENVIRONMENT
from recommender.precedents.source import demo_source
from recommender.precedents.store.databases import create_database
from recommender.screens.library import data
from tests.screens.conftest import open_page, widget, words_on


@pytest.fixture(autouse=True)
def own_home(tmp_path, monkeypatch):
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv(RULES_ENVIRONMENT, raising=False)
    yield
    data._writing.clear()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "casebook-rules"  # where the page proposes it
    drafts.start(made)
    return made


@pytest.fixture
def small_library(tmp_path, monkeypatch):
    where = str(tmp_path / "cases.db")
    with create_database(where) as library:
        for case in [case for case in demo_source().cases() if case.design and case.missing][:4]:
            library.add(case, who="KM")
    monkeypatch.setenv("RPD_CASEBOOK_LIBRARY", where)


def at_step(step: str) -> AppTest:
    at = open_page("rules", **{"rules-part": "Draft"})
    widget(at, "text_input", "casebook.who").set_value("educator").run()
    at.session_state["rules.step"] = step
    at.run()
    assert not at.exception
    return at


def test_rules_about_an_option_with_condition_in_words_and_source():
    at = open_page("rules")
    widget(at, "selectbox", "rules.option.retainer").set_value("i_bar").run()
    assert not at.exception
    said = words_on(at)
    known = packaged_knowledge()
    named = next(
        rule for rule in known.by_decision["retainer"] if "i_bar" in rule.options and rule.effect == "favours"
    )
    assert named.why.split("'")[0][:40] in said
    assert named.source.split("'")[0][:20] in said
    assert "is at least" in said or "is yes" in said or "” is " in said


def test_both_sides_of_what_is_disputed():
    disputed = next(rule for rule in packaged_knowledge().rules if rule.disputed)
    at = open_page("rules")
    widget(at, "radio", "rules.way").set_value("words or id").run()
    widget(at, "text_input", "rules.words").set_value(disputed.id).run()
    widget(at, "checkbox", "rules.disputed").check().run()
    said = words_on(at)
    assert "Disputed: the other side" in said
    assert disputed.disputed.split("'")[0][:40] in said


def test_by_fact_and_by_source():
    at = open_page("rules")
    widget(at, "radio", "rules.way").set_value("a fact").run()
    widget(at, "selectbox", "rules.fact").set_value("patient.hygiene").run()
    reading = [rule.id for rule in packaged_knowledge().rules if "patient.hygiene" in rule.when.facts]
    assert f"{len(reading)} rules" in words_on(at)
    widget(at, "radio", "rules.way").set_value("a source").run()
    box = widget(at, "selectbox", "rules.source")
    box.select_index(0).run()
    assert not at.exception
    assert "rules**" in words_on(at)


def test_the_graph_is_drawn_and_told():
    at = open_page("rules", **{"rules-part": "Why, as a picture"})
    widget(at, "selectbox", "rules.option.retainer").set_value("i_bar").run()
    assert not at.exception
    [chart] = at.get("graphviz_chart")
    assert "digraph" in str(chart.proto.spec)
    assert "reads" in words_on(at)


def test_a_draft_is_started_changed_and_checked(tmp_path):
    at = open_page("rules", **{"rules-part": "Draft"})
    widget(at, "button", "rules.start").click().run()
    folder = tmp_path / "casebook-rules"
    assert drafts.is_draft(folder)
    assert "says what the packaged rules say" in words_on(at)
    rule = next(each for each in packaged_knowledge().rules if each.effect == "favours" and each.points)
    at = at_step("Change a rule")
    widget(at, "selectbox", "rules.edited").set_value(rule.id).run()
    area = next(one for one in at.text_area if one.key.startswith(f"rules.text.{rule.id}"))
    line = next(each for each in area.value.splitlines() if each.strip().startswith("points:"))
    area.set_value(area.value.replace(line, "  points: 99")).run()
    widget(at, "button", "rules.keep").click().run()
    assert "1 problems to mend" in words_on(at)
    said = words_on(at)
    assert f"rules[{rule.id}].points" in said
    assert rule.place.split("/")[-1] in said
    widget(at, "button", "rules.back").click().run()
    assert "is as packaged" in words_on(at)
    assert drafts.read(folder).problems == ()


def test_weights_are_changed_one_by_one(folder):
    at = at_step("Change weights")
    old = packaged_knowledge().criteria.base["retainer"]["appearance"]
    box = next(one for one in at.number_input if one.key.startswith("rules.weight.retainer.appearance"))
    box.set_value(old + 7)
    next(one for one in at.button if one.label == "Keep these weights").click().run()
    assert "1 weights changed" in words_on(at)
    changed = differences(packaged_knowledge(), drafts.read(folder).knowledge)
    assert changed.weights == (("retainer", "appearance", old, old + 7),)


def test_tried_then_adopted_by_an_explicit_step(folder, small_library, monkeypatch):
    monkeypatch.setenv(RULES_ENVIRONMENT, str(folder))
    adopted.adopt(folder, who="educator", why="as packaged")
    drafts.set_weight(folder, "connector", "comfort", 900)
    drafts.set_weight(folder, "connector", "hygiene", 900)
    at = at_step("Adopt")
    assert "Try the draft on the library first" in words_on(at)
    assert widget(at, "button", "rules.adopt").disabled
    at.session_state["rules.step"] = "Try on the library"
    at.run()
    widget(at, "button", "rules.try").click().run(timeout=60)
    assert not at.exception
    said = words_on(at)
    assert "cases would be advised otherwise" in said
    assert "leads now" in said
    at.session_state["rules.step"] = "Adopt"
    at.run()
    assert RULES_ENVIRONMENT in at.code[0].value
    widget(at, "text_input", "rules.why").set_value("comfort first").run()
    assert widget(at, "button", "rules.adopt").disabled  # not yet confirmed
    widget(at, "checkbox", "rules.sure").check().run()
    widget(at, "button", "rules.adopt").click().run()
    assert not at.error
    assert knowledge().criteria.base["connector"]["comfort"] == 900
    assert packaged_knowledge().criteria.base["connector"]["comfort"] != 900
    said = words_on(at)
    assert "number 0002" in said
    assert "comfort first" in said
    # a later change of the draft has to be tried anew
    drafts.set_weight(folder, "connector", "comfort", 800)
    at.run()
    assert widget(at, "button", "rules.adopt").disabled


def test_adopted_rules_that_cannot_be_read_are_told(folder, monkeypatch):
    monkeypatch.setenv(RULES_ENVIRONMENT, str(folder))
    at = open_page("rules")
    assert not at.exception
    assert "nothing was adopted" in at.error[0].value
