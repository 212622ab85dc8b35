"""The order in which gaps are worth measuring, held against running the case again with every plausible value."""

import pytest
from hypothesis import HealthCheck, given, settings

from recommender.advice.analysis import NoAdviceError
from recommender.advice.explanation.counterfactuals.facts import worths
from recommender.advice.explanation.counterfactuals.links import plain_path
from recommender.advice.explanation.counterfactuals.probe import Prober
from recommender.advice.explanation.gaps import stakes, waited_for
from recommender.advice.recommend import Recommender, recommendation
from recommender.domain.case import Case
from recommender.precedents.source import demo_source
from tests.advice.strategies import cases

LEAST_FORESEEN = 0.9
"""Weights and rules that wait for the same field multiply, which the reckoning leaves out; so not every one."""


@pytest.mark.parametrize("library", ["rules alone", "with demo"])
def test_nearly_every_value_that_changes_what_leads_was_foreseen(
    rules_alone: Recommender, with_demo: Recommender, library: str
) -> None:
    recommender = rules_alone if library == "rules alone" else with_demo
    foreseen = missed = 0
    for case in list(demo_source().cases())[3::28]:
        analysis = recommender.work(case)
        for decision in (one for one in analysis.decisions() if one.kind != "rest"):
            at_stake = stakes(analysis.examine(decision))
            could = {plain_path(field) for field, (lead, _) in at_stake.items() if lead}
            flipping = {worth.path for worth in worths(Prober(analysis, decision)).fields if worth.flips}
            foreseen += len(flipping & could)
            missed += len(flipping - could)
    assert foreseen > 20
    assert foreseen / (foreseen + missed) >= LEAST_FORESEEN


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(case=cases())
def test_gaps_come_in_the_order_worth_measuring(rules_alone: Recommender, case: Case) -> None:
    analysis = rules_alone.work(case)
    try:
        gaps = recommendation(analysis).not_recorded
    except NoAdviceError:
        return
    leads = [len(gap.could_lead) for gap in gaps]
    assert leads == sorted(leads, reverse=True)
    for gap in gaps:
        assert set(gap.could_lead) <= set(gap.would_change)
    waited = {field for decision in analysis.decisions() for field in waited_for(analysis.examine(decision))}
    assert {gap.field for gap in gaps} == waited, "ranking them loses none"
