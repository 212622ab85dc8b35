"""How sure: margin, agreement, nearness, and strength kept apart from certainty.

The wording of strength and certainty follows GRADE: Guyatt GH et al. GRADE: an emerging consensus on rating
quality of evidence and strength of recommendations. BMJ 2008;336:924-926 (from memory).
"""

import pytest
from hypothesis import HealthCheck, given, settings

from recommender.advice.explanation.confidence import graded, level_of, usual_nearness
from recommender.advice.model import STATUS_ORDER, Decision
from recommender.advice.recommend import Recommender
from recommender.domain.case import Case
from recommender.domain.fields import recorded_fields, without_field
from recommender.domain.reader import read_case
from recommender.knowledge.load import packaged_knowledge
from recommender.knowledge.model import NO_SOURCE
from recommender.resources import demo_library
from recommender.wording.words import Words
from tests.advice.strategies import cases

FIGURES = packaged_knowledge().figures.confidence
MODEST = settings(
    max_examples=10,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def demo(name: str) -> Case:
    return read_case(demo_library() / f"{name}.yaml")


@MODEST
@given(case=cases())
def test_figures_agree_with_the_ranking(with_demo: Recommender, case: Case) -> None:
    analysis = with_demo.work(case)
    tie = with_demo.engine.knowledge.scoring.near_tie
    for decision in analysis.decisions()[::4]:
        result = analysis.decide(decision)
        found = graded(analysis, decision)
        lead = result.ranked[0]
        rivals = [o for o in result.ranked[1:] if o.status == lead.status]
        assert found.margin == (lead.score - rivals[0].score if rivals else None)
        assert found.near_tie == (found.margin is not None and found.margin <= tie)
        alone = min(result.ranked, key=lambda o: (STATUS_ORDER.index(o.status), -o.rules_score, o.option))
        assert found.rules_agree == (alone.option == lead.option)
        assert found.certainty in FIGURES.levels
        if found.near_tie or found.provisional or not found.rules_agree or lead.status != "open":
            assert found.strength == "suggest"
        assert any("near tie" in words for words in Words().lines(found.words)) == found.near_tie
        retrieved = found.precedents_for + found.precedents_against + found.precedents_other
        assert retrieved <= with_demo.engine.knowledge.scoring.neighbours


def test_common_practice_is_never_better_than_low(rules_alone: Recommender) -> None:
    base = rules_alone.engine.knowledge
    levels = FIGURES.levels
    assert levels == ["very_low", "low", "moderate", "high"]
    bare = [rule for rule in base.rules if rule.source.strip() == NO_SOURCE]
    assert bare
    for rule in base.rules:
        level = level_of(base, "rule", rule.id, rule.source)
        if rule.source.strip() == NO_SOURCE or rule.found == "common_practice":
            assert levels.index(level) <= levels.index("low") or _trial(rule.source), rule.id
    assert level_of(base, "start", "catalogue", "a book") == "low"
    assert level_of(base, "precedent", "harbour-0001", None) == "low"
    assert level_of(base, "rule", bare[0].id, "A systematic review of something. 2020") == "high"


def _trial(source: str) -> bool:
    return any(word in source.casefold() for entry in FIGURES.by_words for word in entry.words)


def test_without_a_library_it_says_so(rules_alone: Recommender) -> None:
    found = graded(rules_alone.work(demo("harbour-0012")), Decision("connector"))
    assert (found.nearest, found.below, found.outside) == (None, None, False)
    assert found.rules_agree
    assert any("No precedent was heard" in words for words in Words().lines(found.words))


def test_the_library_is_compared_with_itself(with_demo: Recommender) -> None:
    library = with_demo.engine.library
    assert library is not None
    seen = usual_nearness(library, "retainer", FIGURES.sampled)
    assert len(seen) >= FIGURES.sampled // 2
    assert list(seen) == sorted(seen)
    assert all(0 < value <= 1 for value in seen)
    assert usual_nearness(library, "retainer", FIGURES.sampled) is seen


def test_a_case_unlike_the_library_is_called_so(with_demo: Recommender) -> None:
    """An invented mouth at the far end of every finding lies further out than a case like those stored."""
    usual = demo("harbour-0012")
    strange = Case.model_validate(
        {
            "format": 1, "id": "made-0003", "arch": "mandible", "missing": [31, 32, 41, 42, 43], "absent": [38, 48],
            "patient": {"aesthetic_priority": "low", "hygiene": "poor", "caries_risk": "high", "gag_reflex": True,
                        "lower_display": "crowns", "age": 21},
            "occlusion": {"opposing": "removable_partial", "overbite": "open", "load": "heavy"},
            "spans": [{"teeth": [31, 32, 41, 42, 43], "clearance_mm": 2.0, "ridge": "flat", "ridge_loss": "severe",
                       "months_since_extraction": 1, "facial_depth_mm": 1.0}],
            "abutments": [{"tooth": 33, "mobility": 2, "bone_support": "poor"}, {"tooth": 44, "mobility": 2}],
            "floor": {"depth_mm": 3.0, "torus": "large", "lingual_tilt": True, "lingual_frenum": "high",
                      "spaces_between_anteriors": True, "future_loss_likely": True},
        }
    )  # fmt: skip
    near = graded(with_demo.work(usual), Decision("replacement", 46))
    far = graded(with_demo.work(strange), Decision("replacement", 41))
    assert near.nearest is not None
    assert far.nearest is not None
    assert far.nearest < near.nearest
    assert far.outside
    assert any("outside what the library has seen" in words for words in Words().lines(far.words))
    assert not near.outside


def test_nothing_recorded_is_said_with_its_share(with_demo: Recommender) -> None:
    case = demo("harbour-0012")
    thin = case
    for path in recorded_fields(case):
        if not path.endswith((".kind", ".set_teeth")):
            thin = without_field(thin, path)
    decision = Decision("retainer", 44)
    full, bare = graded(with_demo.work(case), decision), graded(with_demo.work(thin), decision)
    assert bare.unrecorded_share > full.unrecorded_share
    assert bare.provisional
    assert bare.strength == "suggest"


@pytest.mark.parametrize("name", ["harbour-0012", "harbour-0003"])
def test_words_carry_the_numbers(with_demo: Recommender, name: str) -> None:
    analysis = with_demo.work(demo(name))
    for decision in analysis.decisions():
        found = graded(analysis, decision)
        said = " ".join(Words().lines(found.words))
        if found.margin is not None:
            assert f"{found.margin:.1f} points" in said
        if found.nearest is not None:
            assert f"{found.nearest:.0%}" in said
