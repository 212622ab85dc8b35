"""Precedents side by side, filters, and the map with its caveat."""

import re

import numpy as np
import pytest

from recommender.curation.projection import project, scaled
from recommender.precedents.index.building import library_of
from recommender.precedents.outcome_value import verdict
from recommender.precedents.source import demo_source
from recommender.wording.words import Words
from tests.screens.conftest import open_page, widget, words_on


@pytest.fixture(scope="module")
def library():
    return library_of(demo_source())


def test_nearest_stand_side_by_side_with_what_differs():
    at = open_page("precedents", "harbour-0001")
    assert not at.exception, at.exception
    said = words_on(at)
    near = at.session_state["casebook.answer"].analysis
    first = near.engine.nearest(near.facts, near.decisions()[0], 3)
    for neighbour in first[:2]:
        assert neighbour.situation.case_id in said
        assert f"{neighbour.likeness:.2f}" in said
    assert said.count("**harbour-0001**") == 1, "a case is not its own precedent"
    assert "**this case**" in said
    fared = [Words().text(verdict(one.situation.verdict)) for one in first]
    assert all(one in said for one in fared[:2])
    assert not re.search(r"\b(event|worn):\w", said), "a code instead of words"


def test_features_stand_beside_each_other_with_a_mark_and_a_word():
    at = open_page("precedents", "harbour-0001")
    analysis = at.session_state["casebook.answer"].analysis
    near = analysis.engine.nearest(analysis.facts, analysis.decisions()[0], 3)
    lines = [line for one in near for line in one.account if line.weight]
    for shown, verdicts in (
        ("what differs", {"differs", "near"}),
        ("what is not recorded", {"not_recorded"}),
        ("everything", {"alike", "near", "differs", "not_recorded"}),
    ):
        widget(at, "button_group", "precedents.compare").set_value(shown).run()
        said = words_on(at)
        table = said[said.index(f"Feature by feature: {shown}") :].split("</table>")[0]
        for line in lines:
            assert (f">{line.label}<" in table) is (
                bool(verdicts & {other.verdict for other in lines if other.feature == line.feature})
            ), (shown, line.feature)


def test_filters_are_kept_to():
    at = open_page("precedents", "harbour-0001")
    widget(at, "selectbox", "precedents.outcome").set_value("known").run()
    assert not at.exception
    assert "the outcome of 6 is known" in words_on(at)
    widget(at, "selectbox", "precedents.outcome").set_value("not known").run()
    assert "the outcome of 0 is known" in words_on(at)


def test_a_decision_without_a_library_is_told(monkeypatch):
    monkeypatch.setenv("RPD_CASEBOOK_LIBRARY", "none")
    from recommender.precedents.store.exporting.export import as_yaml

    at = open_page("case")
    text = as_yaml(demo_source().get("harbour-0001"))
    widget(at, "file_uploader", "start.upload.0").set_value(("c.yaml", text, "application/yaml")).run()
    at = open_page("precedents", "harbour-0001")
    assert not at.exception
    assert "no precedents" in words_on(at)


def test_points_on_a_line_need_one_axis_and_keep_their_distances():
    """Torgerson 1952: classical scaling gives back distances that lie in the plane exactly."""
    line = np.array([[0.0, 3, 4], [3, 0, 1], [4, 1, 0]])
    points, carried = scaled(line)
    assert carried == pytest.approx(1.0)
    for i in range(3):
        for j in range(3):
            assert np.linalg.norm(points[i] - points[j]) == pytest.approx(line[i, j])


def test_a_square_needs_two_axes_and_a_simplex_says_how_little_two_carry():
    side, across = 1.0, np.sqrt(2)
    square = np.array(
        [[0, side, across, side], [side, 0, side, across], [across, side, 0, side], [side, across, side, 0]]
    )
    assert scaled(square)[1] == pytest.approx(1.0)
    corners = 1.0 - np.eye(6)
    # six points all one apart fill five axes evenly, so two carry two fifths
    assert scaled(corners)[1] == pytest.approx(2 / 5)


def test_the_map_tells_how_well_it_keeps_the_nearest(library):
    from recommender.advice.recommend import Recommender

    engine = Recommender(library).engine
    analysis = Recommender(library).work(demo_source().get("harbour-0001"))
    situation = engine.situation(analysis.facts, analysis.decisions()[0])
    found = project(library, situation)
    assert found is not None
    away = np.array([place.difference for place in found.places])
    assert (np.diff(away) >= -1e-12).all(), "places come nearest first"
    assert all(place.case_id != "harbour-0001" for place in found.places)
    here = np.array(found.here)
    on_map = np.array([np.hypot(*(np.array([p.x, p.y]) - here)) for p in found.places])
    nearest = set(np.argsort(on_map, kind="stable")[: found.near].tolist())
    assert found.kept_near == len(nearest & set(range(found.near)))
    assert 0 < found.carried <= 1
    assert np.corrcoef(on_map, away)[0, 1] > 0.3, "far on the map has to mean unlike, by and large"


def test_the_map_stands_on_the_page_with_its_caveat():
    at = open_page("precedents", "harbour-0001")
    widget(at, "toggle", "precedents.map").set_value(True).run()
    assert not at.exception, at.exception
    said = words_on(at)
    assert "two axes carry" in said
    assert "truly nearest" in said


def test_a_precedent_is_opened_beside_the_case_in_hand():
    at = open_page("precedents", "harbour-0001")
    button = next(one for one in at.button if str(one.key).startswith("precedents.open."))
    other = str(button.key).split(".")[2]
    button.click().run()
    assert not at.exception, at.exception
    assert at.session_state["casebook"]["casebook.case"].id == "harbour-0001"
    assert f"{other} beside harbour-0001" in [one.value for one in at.subheader]
    assert "Where they differ" in words_on(at)
    widget(at, "button", "precedents.close").click().run()
    assert f"{other} beside harbour-0001" not in [one.value for one in at.subheader]
