"""The public way in: what a data scientist meets, and the page of the docs, which is run as it stands."""

import doctest
import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import recommender as rpd
from recommender.api import advising, cases, libraries, surveying
from recommender.knowledge import adopted, drafts
from recommender.knowledge.packaged import RULES_ENVIRONMENT
from recommender.precedents.library import PrecedentLibrary
from recommender.precedents.situations import all_situations
from recommender.precedents.source import CaseSource
from recommender.resources import demo_library, shared

PAGE = shared("notes", "python.md")
CASE = demo_library() / "harbour-0025.yaml"


@pytest.fixture(scope="module")
def advice() -> rpd.Advice:
    return rpd.recommend(CASE, library="demo")


def test_the_page_of_the_docs_runs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    blocks = re.findall(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert len(blocks) >= 8
    names: dict[str, object] = {}
    for block in blocks:
        exec(compile(block, str(PAGE), "exec"), names)
    assert (tmp_path / "example-1.svg").read_bytes().startswith(b"<svg")
    assert (tmp_path / "example-1.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize("module", [rpd, rpd.__getattr__("recommend").__module__, advising, cases])
def test_the_examples_of_the_docstrings_run(module: object) -> None:
    held = sys.modules[module] if isinstance(module, str) else module
    found = doctest.testmod(held, verbose=False)  # type: ignore[arg-type]
    assert found.failed == 0
    assert found.attempted


def test_a_bare_import_brings_nothing_heavy() -> None:
    script = "import sys, recommender; print(*sys.modules)"
    loaded = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout.split()
    heavy = {"numpy", "pandas", "pydantic", "networkx", "yaml", "sklearn", "streamlit", "recommender.api"}
    assert not heavy & set(loaded)


def test_every_public_name_is_there() -> None:
    assert set(rpd.__all__) <= set(dir(rpd))
    for name in rpd.__all__:
        assert getattr(rpd, name) is not None
        assert getattr(rpd, name).__doc__
    with pytest.raises(AttributeError, match="no attribute 'recomend'"):
        rpd.recomend  # noqa: B018


def test_an_answer_prints_short_and_shows_itself_in_a_notebook(advice: rpd.Advice) -> None:
    assert len(repr(advice)) < 600
    assert len(repr(advice.frameworks[0])) < 300
    assert len(repr(advice.draw())) < 100
    shown = advice._repr_html_()
    assert "<svg" in shown
    assert "dentist decides" in shown
    assert advice.draw()._repr_svg_().startswith("<svg")


def test_tables_carry_the_answer(advice: rpd.Advice) -> None:
    for decision in advice.decisions[:4]:
        table = advice.table(decision)
        ranked = advice._analysis.decide(advice._decision(decision)).ranked
        assert list(table["option"]) == [option.option for option in ranked]
        assert list(table["score"]) == [option.score for option in ranked]
        lines = advice.explain(decision).lines
        assert lines["points"].sum() == pytest.approx(ranked[0].score)
    with pytest.raises(KeyError, match="retainer:99"):
        advice.table("retainer:99")


def test_the_contrast_adds_up(advice: rpd.Advice) -> None:
    decision = next(key for key in advice.decisions if key.startswith("retainer"))
    first, other = advice.table(decision)["option"][:2]
    found = advice.explain(decision, first, other)
    scores = advice.table(decision).set_index("option")["score"]
    assert found.contrast["points"].sum() == pytest.approx(scores[first] - scores[other])
    assert "Why not" in repr(found)


def test_without_a_library_no_precedent_is_heard_and_it_is_said_so() -> None:
    alone = rpd.recommend(CASE, library=None)
    with_demo = rpd.recommend(CASE, library="demo")
    assert (alone.table("connector")["precedent_weight"] == 0).all()
    assert (with_demo.table("connector")["precedent_weight"] > 0).all()


def test_nothing_to_advise_says_why() -> None:
    whole = rpd.build_case({"format": 1, "id": "whole", "arch": "maxilla", "missing": []})
    with pytest.raises(rpd.NothingToAdviseError, match="No tooth is to be replaced"):
        rpd.recommend(whole, library=None)


def test_a_case_built_in_python_is_checked_as_one_that_is_read(tmp_path: Path) -> None:
    wrong = {"format": 1, "id": "x", "arch": "maxilla", "missing": [15], "abutments": [{"tooth": 15, "mobility": 7}]}
    with pytest.raises(rpd.CaseError) as built:
        rpd.build_case(wrong)
    path = tmp_path / "x.json"
    path.write_text(json.dumps(wrong))
    with pytest.raises(rpd.CaseError) as read:
        rpd.read_case(path)
    assert {p.field for p in built.value.problems} == {p.field for p in read.value.problems}
    with pytest.raises(rpd.CaseError):
        rpd.read_cases(tmp_path)


def test_adopted_figures_count_for_precedents_and_for_scans(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cases_folder, draft = tmp_path / "cases", tmp_path / "draft"
    cases_folder.mkdir()
    for name in ("harbour-0001", "harbour-0002"):
        shutil.copy(demo_library() / f"{name}.yaml", cases_folder)
    source = libraries.open_source(cases_folder)
    assert surveying.survey_figures() is None
    before = libraries.served(source)
    drafts.start(draft)
    for outcome in ("approved", "accepted", "worn_under_12", "worn_12_to_36", "worn_36_or_more"):
        drafts.set_figure(draft, "scoring.yaml", ("outcome_values", outcome), 0.11)
    drafts.set_figure(draft, "survey.yaml", ("path", "plateau"), 0.05)
    adopted.adopt(draft, who="educator", why="to see")
    monkeypatch.setenv(RULES_ENVIRONMENT, str(draft))
    after = libraries.served(source)
    assert isinstance(before, PrecedentLibrary)
    assert isinstance(after, PrecedentLibrary)
    assert after.count("retainer") == before.count("retainer") > 0
    assert 0.11 not in _values(before, source)
    assert 0.11 in _values(after, source)
    figures = surveying.survey_figures()
    assert figures is not None
    assert figures["path"]["plateau"] == 0.05


def _values(library: PrecedentLibrary, source: CaseSource) -> set[float]:
    """The outcome values of everything that is retrieved for the cases of a source."""
    asked = all_situations(source.cases(), library.likeness)
    return {round(found.situation.worth, 6) for situation in asked for found in library.nearest(situation, 10)}


def test_cases_of_a_library_are_taken_evenly() -> None:
    """Of 114 at most 60: over all of them, not the first 60."""
    from recommender.api.libraries import approved_of, open_source

    source = open_source("demo")
    ids = source.ids()
    taken = [ids.index(case.id) for case in approved_of(source, 60)]
    assert len(taken) <= 60
    assert taken[-1] > len(ids) - 8
    assert [case.id for case in approved_of(source, 1000)] == [
        case.id for case in source.cases() if case.review is not None and case.review.status == "approved"
    ]
