"""The order in which gaps are worth measuring, held against running the case again with every plausible value."""

import os

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

EVERY = 28 if os.environ.get("RPD_LONG") else 56
LEAST_FORESEEN = 0.9
"""Weights and rules that wait for the same field multiply, which the reckoning leaves out; so not every one."""


@pytest.mark.parametrize("library", ["rules alone", "with demo"])
def test_nearly_every_value_that_changes_what_leads_was_foreseen(
    rules_alone: Recommender, with_demo: Recommender, library: str
) -> None:
    recommender = rules_alone if library == "rules alone" else with_demo
    foreseen = missed = 0
    for case in list(demo_source().cases())[3::EVERY]:
        analysis = recommender.work(case)
        for decision in (one for one in analysis.decisions() if one.kind != "rest"):
            at_stake = stakes(analysis.examine(decision))
            could = {plain_path(field) for field, (lead, _) in at_stake.items() if lead}
            flipping = {worth.path for worth in worths(Prober(analysis, decision)).fields if worth.flips}
            foreseen += len(flipping & could)
            missed += len(flipping - could)
    assert foreseen > 10
    assert foreseen / (foreseen + missed) >= LEAST_FORESEEN


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(case=cases())
def test_gaps_come_in_the_order_worth_measuring(rules_alone: Recommender, case: Case) -> None:
    analysis = rules_alone.work(case)
    try:
        gaps = recommendation(analysis).not_recorded
    except NoAdviceError:
        return
    # teeth that could serve on a side where none is marked come before all others
    served = [gap for gap in gaps if not set(gap.would_change) <= {one.path for one in analysis.decisions()}]
    assert tuple(served) == gaps[: len(served)]
    gaps = gaps[len(served) :]
    leads = [len(gap.could_lead) for gap in gaps]
    assert leads == sorted(leads, reverse=True)
    for gap in gaps:
        assert set(gap.could_lead) <= set(gap.would_change)
    waited = {field for decision in analysis.decisions() for field in waited_for(analysis.examine(decision))}
    assert {gap.field for gap in gaps} == waited - {gap.field for gap in served}, "ranking them loses none"


def test_teeth_that_could_serve_are_asked_for_first_where_nobody_marked_any(rules_alone: Recommender) -> None:
    """Nothing is marked on the side without a space: the program proposes the teeth, and their undercuts come first."""
    raw = {"format": 1, "id": "unmarked", "arch": "maxilla", "missing": [15, 16, 17], "absent": [18, 28]}
    answer = rules_alone.recommend(Case.model_validate(raw))
    first = answer.frameworks[0]
    holding = [
        r for r in first.design.retainers or () if r.tooth in (24, 25, 26, 27) and r.undercut is not None
    ]
    assert len(holding) == 2
    assert first.drawn_in
    assert {t for statement in first.drawn_in for t in statement.teeth} >= {r.tooth for r in holding}
    wanted = {f"abutments[{r.tooth}].undercuts_mm.{r.undercut.zone}" for r in holding if r.undercut}
    assert {gap.field for gap in answer.not_recorded[:2]} == wanted
    asked = rules_alone.recommend(Case.model_validate({**raw, "asked": sorted(wanted)}))
    assert not wanted & {gap.field for gap in asked.not_recorded[:2]}
