"""The advice: what is said adds up, choices are followed at once, blocks stand, nothing is told by colour alone."""

import re
from math import fsum

import pytest

from recommender.advice.model import Decision
from recommender.domain.statement import quantity, say
from recommender.precedents.source import demo_source
from recommender.screens.advice.reasons import _bars
from recommender.screens.ui import words
from recommender.wording.words import Words
from tests.screens.conftest import open_page, unfold, widget, words_on


@pytest.fixture
def page():
    at = open_page("advice", "harbour-0001")
    assert not at.exception, at.exception
    return at


def closer(at, view):
    """Look closer at one thing: it is drawn when it is asked for."""
    widget(at, "button_group", "advice.closer").set_value(view).run()
    assert not at.exception, at.exception
    return at


def answer(at):
    return at.session_state["casebook.answer"]


def test_without_a_case_the_way_is_shown():
    at = open_page("advice")
    assert not at.exception
    assert "Take one in first" in words_on(at)


def test_provisional_and_cautions_are_in_sight(page):
    whole = answer(page).whole
    said = words_on(page)
    assert whole.provisional
    assert "PROVISIONAL" in said
    assert "Cautions of this case" in said
    unfold(page, "advice.fold.cautions")
    said = words_on(page)
    for caution in whole.cautions:
        assert Words().text(caution) in said


def test_the_answer_comes_first_with_one_line_a_part(page):
    """The words above the details; the page before had 1,416."""
    found = answer(page)
    said = words_on(page)
    framework = found.whole.frameworks[0]
    from recommender.advice.summary import decision_in_two, part_lines

    for statement in decision_in_two(found.analysis, found.whole, framework):
        assert Words().text(statement) in said
    lines = part_lines(found.analysis, framework)
    told = {decision for line in lines for decision in line.decisions}
    assert {Decision("connector"), *(Decision("retainer", t) for t in framework.retainers)} <= told
    assert {Decision("replacement", t) for t in framework.replacements} <= told
    for line in lines:
        # a reason stands there up to its first colon or semicolon; the details have the rest
        assert line.why is None or re.split("[;:] ", Words().text(line.why))[0].removesuffix(".")[1:] in said
    plain = re.sub(r"<style.*?</style>|<[^>]+>", " ", said, flags=re.DOTALL)
    assert len(plain.split()) < 350


def test_changing_a_part_shows_before_and_after_in_the_terms_of_the_criteria(page):
    from recommender.advice.frameworks.choices import framework_around
    from recommender.advice.summary import before_and_after

    found = answer(page)
    first = found.whole.frameworks[0]
    after = framework_around(found.analysis, {Decision("connector"): "linguoplate"})
    assert before_and_after(found.analysis, first, first) == (
        say("frameworks.scores_less", points=quantity(0.0, "points")),
    )
    told = [Words().text(one) for one in before_and_after(found.analysis, first, after)]
    assert told[0] == "linguoplate instead of lingual bar"
    assert any(line.startswith("gives up: hygiene") for line in told)


def test_framework_is_drawn_with_words_for_those_who_cannot_see_it(page):
    closer(page, "The other frameworks")
    drawings = [one.body for one in page.get("html") if "casebook-drawing" in one.body]
    assert len(drawings) == 1 + len(answer(page).whole.frameworks[1:])
    for drawing in drawings:
        assert 'alt="' in drawing
        assert "lower arch" in drawing


def test_every_option_has_its_status_in_a_word_and_a_symbol(page):
    closer(page, "Every option, and why")
    said = words_on(page)
    for status in ("open", "needs_preparation", "advised_against"):
        assert f"{words.SYMBOLS['status'][status]} {Words('iso').term('status', status)}" in said
    result = answer(page).analysis.decide(Decision("retainer", 44))
    for option in result.ranked:
        assert words.option("retainer", option.option) in said


def test_bars_add_up_to_the_score():
    """Every option of every decision of three demo cases; invariant 1 of the design: the lines add up to 1e-9."""
    from recommender.advice.recommend import Recommender

    recommender = Recommender()
    for name in ("harbour-0001", "harbour-0012", "harbour-0030"):
        analysis = recommender.work(demo_source().get(name))
        for decision in analysis.decisions():
            for option in analysis.decide(decision).ranked:
                assert fsum(points for _, points in _bars(option.contributions)) == pytest.approx(
                    option.score, abs=1e-9
                )


def test_a_choice_is_followed_by_parts_score_and_drawing_and_can_be_undone(page):
    def drawing(at):
        return next(one.body for one in at.get("html") if "casebook-drawing" in one.body)

    before = drawing(page)
    page.session_state["advice.decision"] = Decision("connector")
    page.run()
    widget(page, "selectbox", "advice.choose.connector").set_value("linguoplate").run()
    assert page.session_state["casebook"]["casebook.choices"]["connector"]["option"] == "linguoplate"
    assert drawing(page) != before
    assert "What your choices change" in words_on(page)
    from recommender.screens.session import drafts

    kept = drafts.load("harbour-0001")
    assert kept is not None
    assert kept.choices["connector"]["option"] == "linguoplate"
    widget(page, "selectbox", "advice.choose.connector").select_index(0).run()
    assert drawing(page) == before


def test_excluded_options_cannot_be_chosen_and_say_why(page):
    closer(page, "Every option, and why")
    result = answer(page).analysis.decide(Decision("retainer", 44))
    excluded = [option for option in result.ranked if option.status == "excluded"]
    assert excluded
    box = widget(page, "selectbox", "advice.choose.retainer:44")
    for option in excluded:
        assert not any(words.option("retainer", option.option) in shown for shown in box.options)
    look = widget(page, "selectbox", "advice.look.retainer:44")
    look.set_value(excluded[0].option).run()
    widget(page, "button_group", "advice.view").set_value("Blocks").run()
    assert Words().text(excluded[0].blocked_by[0].statement) in words_on(page)


def test_against_advice_asks_for_a_reason_and_keeps_it(page):
    result = answer(page).analysis.decide(Decision("retainer", 44))
    against = next(option for option in result.ranked if option.status == "advised_against")
    widget(page, "selectbox", "advice.choose.retainer:44").set_value(against.option).run()
    widget(page, "text_input", "advice.reason.retainer:44").set_value("the dentist insists").run()
    assert (
        page.session_state["casebook"]["casebook.choices"]["retainer:44"]["reason"] == "the dentist insists"
    )
    unfold(page, "advice.fold.cautions")
    assert "chosen against advice" in words_on(page)


def test_why_not_another_adds_up_to_the_difference(page):
    closer(page, "Every option, and why")
    widget(page, "button_group", "advice.view").set_value("Why not another").run()
    assert not page.exception
    result = answer(page).analysis.decide(Decision("retainer", 44))
    first, second = result.ranked[:2]
    assert f"a difference of {first.score - second.score:+.1f} points" in words_on(page)


def test_weights_flip_where_the_table_says(page):
    """Moving a weight past its break point on the slider makes the option lead that the table names."""
    closer(page, "Every option, and why")
    from recommender.advice.scoring.weights import rooms

    found = answer(page)
    decision = Decision("connector")
    page.session_state["advice.decision"] = decision
    page.run()
    widget(page, "button_group", "advice.view").set_value("Weights").run()
    room = next(
        (r for r in rooms(found.analysis.examine(decision)) if r.up is not None and r.up.weight < 58), None
    )
    if room is None:
        pytest.skip("no weight of this case flips within the slider")
    assert room.up is not None
    widget(page, "selectbox", "advice.criterion.connector").set_value(room.criterion).run()
    slider = widget(page, "slider", f"advice.weight.connector.{room.criterion}")
    slider.set_value(float(int(room.up.weight * 2 + 1)) / 2 + 0.5).run()
    assert answer(page).analysis.decide(decision).ranked[0].option == room.up.leader
    assert "WEIGHTS MOVED" in words_on(page)
    widget(page, "button", "advice.weights_back").click().run()
    assert (
        answer(page).analysis.decide(decision).ranked[0].option
        == found.analysis.decide(decision).ranked[0].option
    )


def test_runner_up_can_be_taken_whole(page):
    other = answer(page).whole.frameworks[1]
    closer(page, "The other frameworks")
    widget(page, "button", "advice.take.2").click().run()
    made = page.session_state["casebook"]["casebook.choices"]
    assert made["connector"]["option"] == other.connector
    assert {key: made[f"retainer:{key}"]["option"] for key in other.retainers} == dict(other.retainers)
    widget(page, "button", "advice.choices_away").click().run()
    assert page.session_state["casebook"]["casebook.choices"] == {}


def test_a_case_in_which_nothing_is_missing_is_told_so():
    from recommender.domain.case import Case
    from recommender.screens.session import drafts

    drafts.save(Case(format=1, id="whole", arch="maxilla", missing=[]), 0)
    at = open_page("advice", "whole")
    assert not at.exception
    assert "nothing to advise" in words_on(at)


@pytest.mark.parametrize("name", ["harbour-0012", "harbour-0040", "harbour-0070", "harbour-0100"])
def test_the_page_stands_for_other_cases(name):
    """What cannot be made of a stored design is flagged on the drawing: the tip on 16 of the last of these."""
    at = open_page("advice", name)
    assert not at.exception, at.exception
    drawing = next(one.body for one in at.get("html") if "casebook-drawing" in one.body)
    assert ("n the stored design: 16" in drawing) is (name == "harbour-0100")


def test_room_opens_on_the_tightest_space_and_what_is_not_known_says_until_when():
    at = closer(open_page("advice", "harbour-0012"), "Room, hold and show")
    found = answer(at)
    framework = found.whole.frameworks[0]
    left = {
        tooth: found.analysis.decide(Decision("replacement", tooth)).option(part).facts.get("space.left_mm")
        for tooth, part in framework.replacements.items()
    }
    known = {tooth: (band if isinstance(band, list) else [band])[0] for tooth, band in left.items() if band}
    shown = widget(at, "selectbox", "advice.room_tooth").value
    assert known[shown] == min(known.values())
    said = words_on(at)
    assert "0% to 100%" not in said
    rows = [row for row in said.split("<tr") if " N in " in row]
    assert len(rows) == len(set(rows))
