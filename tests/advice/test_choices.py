"""A framework around the designer's choices keeps them, and keeps the blocks."""

import pytest

from recommender.advice.frameworks.choices import ChoiceError, framework_around
from recommender.advice.model import Decision
from recommender.advice.recommend import Recommender, recommendation
from recommender.precedents.source import demo_source
from recommender.wording.words import Words


@pytest.fixture(scope="module")
def analysis():
    return Recommender().work(demo_source().get("harbour-0001"))


def test_without_choices_it_is_the_recommended_framework(analysis):
    first = recommendation(analysis, 1).frameworks[0]
    around = framework_around(analysis, {})
    assert (around.connector, around.retainers, around.rests, around.score) == (
        first.connector, first.retainers, first.rests, first.score,
    )  # fmt: skip


def test_every_usable_choice_is_kept_and_never_scores_higher(analysis):
    free = framework_around(analysis, {}).score
    for decision in (Decision("retainer", 44), Decision("connector"), Decision("replacement", 46)):
        for option in analysis.decide(decision).ranked:
            if option.status not in ("open", "needs_preparation"):
                continue
            try:
                made = framework_around(analysis, {decision: option.option})
            except ChoiceError:
                # an embrasure clasp has no partner to stand with
                assert "partner" in analysis.engine.knowledge.catalogue.option("retainer", option.option).parts
                continue
            kept = {
                "retainer": made.retainers.get(44), "connector": made.connector, "replacement": made.replacements[46],
            }[decision.kind]  # fmt: skip
            assert kept == option.option
            assert made.score <= free + 1e-9 or decision.kind == "replacement"


def test_a_chosen_rest_is_the_one_that_is_built(analysis):
    made = framework_around(analysis, {Decision("rest", 44): "distal"})
    assert made.rests[44] == "distal"
    assert made.design.rests is not None
    assert made.design.rests[44] == "distal"


def test_an_excluded_option_is_refused_with_its_reason(analysis):
    decision = Decision("retainer", 44)
    excluded = next(o for o in analysis.decide(decision).ranked if o.status == "excluded")
    with pytest.raises(ChoiceError, match="excluded") as refused:
        framework_around(analysis, {decision: excluded.option})
    assert Words().text(excluded.blocked_by[0].statement) in Words().text(refused.value.statement)


def test_what_is_advised_against_can_be_chosen_and_says_so(analysis):
    for decision in analysis.decisions():
        against = [o for o in analysis.decide(decision).ranked if o.status == "advised_against"]
        if against and decision.kind in ("connector", "retainer"):
            made = framework_around(analysis, {decision: against[0].option})
            assert any(said.code == "frameworks.chosen_against_advice" for said in made.cautions)
            assert {c.id: c.outcome for c in framework_around(analysis, {}).checks}["accepted"] == "passed"
            (check,) = (c for c in made.checks if c.id == "accepted")
            assert check.outcome == "failed"
            assert Words().text(against[0].blocked_by[0].statement) in Words().text(check.statement)
            return
    pytest.fail("the demo case has no option that is advised against")


def test_an_unknown_option_is_refused(analysis):
    with pytest.raises(ChoiceError, match="no_option"):
        framework_around(analysis, {Decision("connector"): "palatal_strap"})
