"""The invariants of the design, as properties over generated cases in both arches."""

import json
import os
import random
from math import fsum

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchmarks.mirrored import mirror_case
from recommender.advice.analysis import CaseAnalysis
from recommender.advice.model import STATUS_ORDER, Decision, DecisionResult
from recommender.advice.recommend import Recommender
from recommender.documents.results.recommendation import recommendation_document
from recommender.domain.case import Case
from recommender.domain.dentition import mirror
from recommender.domain.fields import recorded_fields, with_field, without_field
from recommender.wording.words import Words
from tests.advice.strategies import blurred, cases

MODEST = settings(
    max_examples=20 if os.environ.get("RPD_LONG") else 12,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
# Fields that say which teeth stand, or what they are, change the dentition itself.
EXEMPT = ("kind", "set_teeth")


@pytest.fixture(params=["rules alone", "with demo library"])
def recommender(request: pytest.FixtureRequest) -> Recommender:
    name = "rules_alone" if request.param == "rules alone" else "with_demo"
    found: Recommender = request.getfixturevalue(name)
    return found


def results(analysis: CaseAnalysis) -> dict[Decision, DecisionResult]:
    return {decision: analysis.decide(decision) for decision in analysis.decisions()}


@MODEST
@given(case=cases())
def test_contributions_add_up_to_the_score(recommender: Recommender, case: Case) -> None:
    for result in results(recommender.work(case)).values():
        for option in result.ranked:
            assert abs(fsum(line.points for line in option.contributions) - option.score) < 1e-9
            assert option.low - 1e-9 <= option.score <= option.high + 1e-9
            assert 0 <= option.low <= option.high <= 100


@MODEST
@given(case=cases())
def test_every_option_is_ranked_by_status_then_score_then_identifier(
    recommender: Recommender, case: Case
) -> None:
    for result in results(recommender.work(case)).values():
        keys = [(STATUS_ORDER.index(o.status), -o.score, o.option) for o in result.ranked]
        assert keys == sorted(keys)
        assert [o.rank for o in result.ranked] == list(range(1, len(result.ranked) + 1))


@settings(MODEST, max_examples=8)
@given(case=cases(), data=st.data())
def test_without_this_is_the_score_after_deleting_the_field(
    recommender: Recommender, case: Case, data: st.DataObject
) -> None:
    cited = recommender.cited(case, top=4, frameworks=0)
    decisions = [cited.connector, *cited.retainers.values(), *cited.replacements.values()]
    claims = [
        (result.decision, option.option, path, fact.without_this)
        for result in decisions
        for option in result.ranked[:4]
        for line in option.contributions
        for path, fact in line.because.items()
    ]
    if not claims:
        return
    decision, option, path, claimed = data.draw(st.sampled_from(claims))
    # A recommender of its own, so that nothing kept from the first run can help.
    again = Recommender(recommender.engine.library).work(without_field(case, path))
    assert again.decide(decision).option(option).score == claimed


@MODEST
@given(case=cases())
def test_a_mirrored_case_has_mirrored_scores(recommender: Recommender, case: Case) -> None:
    here, there = recommender.work(case), recommender.work(mirror_case(case))
    for decision, result in results(here).items():
        other = Decision(decision.kind, mirror(decision.tooth) if decision.tooth else 0)
        mirrored = there.decide(other)
        assert mirrored.precedent_weight == pytest.approx(result.precedent_weight, abs=1e-12)
        for option in result.ranked:
            twin = mirrored.option(option.option)
            assert twin.score == pytest.approx(option.score, abs=1e-9), (decision, option.option)
            assert twin.status == option.status
            assert (twin.low, twin.high) == pytest.approx((option.low, option.high), abs=1e-9)


@MODEST
@given(case=cases(), data=st.data())
def test_deleting_a_recorded_fact_never_makes_the_answer_surer(
    recommender: Recommender, case: Case, data: st.DataObject
) -> None:
    paths = [p for p in recorded_fields(case) if not p.endswith(EXEMPT) and p != "future_loss_likely"]
    if not paths:
        return
    path = data.draw(st.sampled_from(paths))
    before, after = recommender.work(case), recommender.work(without_field(case, path))
    for decision, result in results(before).items():
        if decision.kind == "rest":
            continue  # ranked for the leading assembly, which may change
        thinner = after.decide(decision)
        assert thinner.precedent_weight <= result.precedent_weight + 1e-12
        for option in result.ranked:
            other = thinner.option(option.option)
            assert other.low <= option.low + 1e-9, (decision, option.option, path)
            assert other.high >= option.high - 1e-9, (decision, option.option, path)
            if option.provisional:
                assert other.provisional, (decision, option.option, path)


@MODEST
@given(case=cases(), more=st.floats(0.1, 6.0))
def test_more_clearance_never_blocks_the_lattice(rules_alone: Recommender, case: Case, more: float) -> None:
    analysis = rules_alone.work(case)
    for span in case.spans or ():
        if not isinstance(span.clearance_mm, float):
            continue
        path = f"spans[{analysis.facts.space_of(span.teeth[0]).teeth[0]}].clearance_mm"  # type: ignore[union-attr]
        roomier = rules_alone.work(with_field(case, path, min(25.0, span.clearance_mm + more)))
        for tooth in span.teeth:
            decision = Decision("replacement", tooth)
            was = analysis.decide(decision).option("resin_tooth_lattice")
            now = roomier.decide(decision).option("resin_tooth_lattice")
            assert STATUS_ORDER.index(now.status) <= STATUS_ORDER.index(was.status)
            assert {b.id for b in now.blocked_by} <= {b.id for b in was.blocked_by}


@MODEST
@given(case=cases())
def test_a_higher_aesthetic_priority_never_favours_the_arm_that_shows_more(
    rules_alone: Recommender, case: Case
) -> None:
    low = with_field(case, "patient.aesthetic_priority", "low")
    high = with_field(case, "patient.aesthetic_priority", "high")
    before, after = rules_alone.work(low), rules_alone.work(high)
    for tooth in before.facts.considered:
        decision = Decision("retainer", tooth)
        shown = {}
        for option in before.decide(decision).ranked:
            share = option.facts.get("arm.visible_share")
            if isinstance(share, (int, float)) and option.option != "polymer_arm":
                shown[option.option] = (float(share), option.rules_score)
        for one, (share, score) in shown.items():
            for other, (other_share, other_score) in shown.items():
                if share > other_share + 1e-9:
                    was = score - other_score
                    now = (
                        after.decide(decision).option(one).rules_score
                        - after.decide(decision).option(other).rules_score
                    )
                    assert now <= was + 1e-9, (tooth, one, other)


@settings(MODEST, max_examples=8)
@given(case=cases(), seed=st.integers(0, 1000))
def test_the_order_of_lists_changes_nothing(rules_alone: Recommender, case: Case, seed: int) -> None:
    shuffle = random.Random(seed)

    def mixed(items: list[object] | None) -> list[object] | None:
        return None if items is None else shuffle.sample(items, len(items))

    other = case.model_copy(
        update={name: mixed(getattr(case, name)) for name in ("missing", "absent", "spans", "abutments")}
    )
    first = recommendation_document(Words(), rules_alone.recommend(case))
    second = recommendation_document(Words(), rules_alone.recommend(other))
    assert json.dumps(first) == json.dumps(second)


@MODEST
@given(case=cases())
def test_precedents_never_outvote_a_block(
    with_demo: Recommender, rules_alone: Recommender, case: Case
) -> None:
    retrieved, unheard = with_demo.work(case), rules_alone.work(case)
    for decision, result in results(unheard).items():
        if decision.kind == "rest":
            continue
        for option in result.ranked:
            assert retrieved.decide(decision).option(option.option).status == option.status


@MODEST
@given(case=cases(), seed=st.integers(0, 10**6))
def test_scores_of_numbers_inside_stay_within_the_bounds(
    recommender: Recommender, case: Case, seed: int
) -> None:
    wide, within, _ = blurred(case, seed)
    bounds, found = recommender.work(wide), recommender.work(within)
    for decision in bounds.decisions():
        if decision.kind == "rest":
            continue  # given the assembly that leads, which may be another one
        for option in bounds.decide(decision).ranked:
            score = found.decide(decision).option(option.option).score
            assert option.low - 1e-9 <= score <= option.high + 1e-9, (decision, option.option)
