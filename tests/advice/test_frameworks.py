"""Whole frameworks: best of all choices, sound by a second reader, the same every time, and never an empty answer.

The rules between parts and their sources stand in ``shared/frameworks.yaml``. Demo cases are invented.
"""

import os
from collections.abc import Iterator
from dataclasses import replace
from math import fsum, prod

import pytest
from hypothesis import HealthCheck, given, settings

from benchmarks.mirrored import mirror_case
from recommender.advice.analysis import CaseAnalysis, NoAdviceError
from recommender.advice.frameworks.candidates import gather
from recommender.advice.frameworks.parts import Stock
from recommender.advice.frameworks.rules.book import book
from recommender.advice.frameworks.solve import best, connector_worth, worth
from recommender.advice.indirect_retainers import indirect_seats
from recommender.advice.model import Framework, Recommendation
from recommender.advice.recommend import Recommender
from recommender.curation.evaluation.published import published_cases
from recommender.documents.results.recommendation import framework_document
from recommender.domain.case import Case
from recommender.domain.checks import check as domain_check
from recommender.precedents.source import demo_source
from recommender.wording.words import Words
from tests.advice.buildable_checker import faults as unbuildable
from tests.advice.framework_checker import faults
from tests.advice.framework_oracle import best_by_trying, every_choice
from tests.advice.strategies import cases

SMALL = 6_000
"""Whole choices of retainers beyond which trying every one takes too long for a test."""

LONG = bool(os.environ.get("RPD_LONG"))


def demo() -> list[Case]:
    return list(demo_source().cases())


def stock_of(analysis: CaseAnalysis) -> Stock:
    results = {decision: analysis.decide(decision) for decision in analysis.decisions()}
    return gather(analysis, results, indirect_seats(analysis.engine, analysis.facts))


def four_best(stock: Stock) -> Stock:
    """The four best options of each tooth, what holds nothing among them, so that every choice can be tried."""
    kept = {
        tooth: (*options[:4], *(p for p in options[4:] if p.option.id == "none"))
        for tooth, options in stock.retainers.items()
    }
    return replace(stock, retainers=kept, connectors=stock.connectors[:3])


def small(stock: Stock) -> bool:
    return prod(len(options) + options[0].further for options in stock.retainers.values()) < SMALL


def assert_best(stock: Stock, name: str) -> None:
    rules = book(stock.figures)
    expected = best_by_trying(list(every_choice(stock)), 3)
    found = best(stock, rules, 3)
    assert len(found) >= len(expected), name
    for place, (selection, near) in enumerate(zip(found, expected, strict=False)):
        choice = selection.choice
        assert abs(selection.objective - near[0].worth) < 2e-3, (name, place)
        # what the rules find in the finished choice is what the solver let pass
        passed = sum(rule.price(stock) * len(rule.breaches(choice)) for rule in rules)
        own = sum(worth(stock, part) for part in choice.retainers.values())
        result = choice.connector_result
        own += connector_worth(stock, result.score, result.status == "needs_preparation")
        assert abs(selection.objective - (own - passed)) < 2e-3, (name, place)
        assert not [r.id for r in rules if r.entry.kind == "always" and r.breaches(choice)], (name, place)
        chosen = {(part.tooth, part.option.id, part.partner) for part in choice.retainers.values()}
        assert any(
            chosen == {(p.tooth, p.option.id, p.partner) for p in one.parts}
            and one.connector == choice.connector.id
            for one in near
        ), (name, place)
    if expected and all(len(near) == 1 for near in expected):
        assert len(found) == len(expected), name


@pytest.mark.parametrize("restrict", [False, True], ids=["all options", "four best"])
def test_the_best_equal_every_choice_tried_on_demo_cases(rules_alone: Recommender, restrict: bool) -> None:
    compared = 0
    every = (4 if restrict else 2) if LONG else (8 if restrict else 6)
    for case in demo()[::every]:
        bordering = {t for s in rules_alone.work(case).facts.spaces for t in s.borders}
        if not restrict and len(bordering) > 3:
            continue
        stock = stock_of(rules_alone.work(case))
        stock = four_best(stock) if restrict else stock
        if small(stock):
            assert_best(stock, case.id)
            compared += 1
    assert compared >= (5 if restrict else 1), compared


def test_the_end_rest_of_a_plate_is_no_needless_rest(rules_alone: Recommender) -> None:
    """A shallow floor asks for a plate, and the plate for a rest in front: drawn in for it, and not charged for."""
    case = Case.model_validate(
        {
            "format": 1, "id": "plate-end", "arch": "mandible", "missing": [47], "absent": [48, 38],
            "floor": {"depth_mm": 4.0},
        }
    )  # fmt: skip
    stock = stock_of(rules_alone.work(case))
    assert_best(stock, case.id)
    choice = best(stock, book(stock.figures), 1)[0].choice
    assert "needs_rests_at_ends" in choice.connector.parts
    assert any(p.further and p.rested and not p.retentive for p in choice.retainers.values())


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(case=cases())
def test_the_best_equal_every_choice_tried_on_random_cases(rules_alone: Recommender, case: Case) -> None:
    try:
        analysis = rules_alone.work(case)
    except NoAdviceError:
        return
    stock = four_best(stock_of(analysis))
    if all(stock.retainers.values()) and small(stock) and stock.connectors:
        assert_best(stock, repr(case.missing))


def assert_sound(case: Case, answer: Recommendation, recommender: Recommender) -> int:
    catalogue = recommender.engine.knowledge.catalogue
    assert answer.frameworks or answer.no_framework is not None
    for framework in answer.frameworks:
        told = {check.id: check for check in framework.checks}
        for name, words in faults(case, framework.design, catalogue):
            assert name in told, (case.id, name, words)
            assert told[name].outcome == "failed", (case.id, name, words, told[name])
        assert not list(unbuildable(case, framework.design)), (case.id, list(unbuildable(case, framework.design)))
        for check in framework.checks:
            # A check that fails says which part or tooth and why, beyond the bare rule.
            assert check.outcome != "failed" or ": " in Words().text(check.statement), check
        assert not list(domain_check(case.model_copy(update={"design": framework.design}))), case.id
        assert abs(fsum(framework.terms.values()) - framework.score) < 1e-9
        steps = [step.action for step in framework.preparation]
        order = [
            "crown",
            "guiding_plane",
            "lower_contour_height",
            "remove_undercut",
            "create_undercut",
            "rest_seat",
        ]
        assert steps == sorted(steps, key=order.index)
    return len(answer.frameworks)


def test_every_framework_of_the_demo_cases_is_sound_or_says_why_not(with_demo: Recommender) -> None:
    checked = sum(assert_sound(case, with_demo.recommend(case), with_demo) for case in demo()[::4])
    assert checked >= 60


def test_every_framework_of_the_published_cases_is_sound_or_says_why_not(rules_alone: Recommender) -> None:
    checked = [
        assert_sound(case, rules_alone.recommend(case), rules_alone) for case, _, _ in published_cases()
    ]
    assert all(checked)


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(case=cases())
def test_every_framework_of_random_cases_is_sound_or_says_why_not(
    rules_alone: Recommender, case: Case
) -> None:
    try:
        answer = rules_alone.recommend(case)
    except NoAdviceError:
        return
    assert_sound(case, answer, rules_alone)


def documents(frameworks: tuple[Framework, ...]) -> list[dict[str, object]]:
    return [framework_document(Words(), framework) for framework in frameworks]


def test_same_input_same_output(rules_alone: Recommender) -> None:
    for case in demo()[::20]:
        assert documents(rules_alone.recommend(case).frameworks) == documents(
            rules_alone.recommend(case).frameworks
        )


def test_a_mirrored_case_gets_the_mirrored_score(rules_alone: Recommender) -> None:
    for case in demo()[::12]:
        here = rules_alone.recommend(case).frameworks
        there = rules_alone.recommend(mirror_case(case)).frameworks
        assert len(here) == len(there)
        for one, other in zip(here, there, strict=True):
            assert abs(one.score - other.score) < 1e-3, case.id


def cases_without_a_framework() -> Iterator[tuple[str, Case]]:
    lower = {"format": 1, "arch": "mandible", "absent": [38, 48]}
    missing = [35, 36, 37, 45, 46, 47]
    # Every tooth that stands is loose: nothing can be hung on any.
    every = [{"tooth": t, "mobility": 3} for t in (31, 32, 33, 34, 41, 42, 43, 44)]
    yield "all loose", Case.model_validate({**lower, "id": "made-a", "missing": missing, "abutments": every})
    barred = ["cobalt", "chromium", "nickel", "palladium", "titanium"]
    patient = {"allergy": barred}
    yield "no alloy", Case.model_validate({**lower, "id": "made-b", "missing": missing, "patient": patient})


@pytest.mark.parametrize(("name", "case"), list(cases_without_a_framework()))
def test_no_framework_gives_reasons_and_a_way_out(rules_alone: Recommender, name: str, case: Case) -> None:
    answer = rules_alone.recommend(case)
    assert not answer.frameworks
    assert answer.no_framework is not None
    assert answer.no_framework.reasons
    assert all(answer.no_framework.reasons)
    assert any("dentist" in Words().text(way) for way in answer.no_framework.ways_out)


def test_two_standing_teeth_say_which_rules_cannot_be_kept(rules_alone: Recommender) -> None:
    missing = [t for t in (*range(31, 38), *range(41, 48)) if t not in (33, 43)]
    case = Case.model_validate(
        {"format": 1, "id": "made-c", "arch": "mandible", "missing": missing, "absent": [38, 48]}
    )
    framework = rules_alone.recommend(case).frameworks[0]
    failed = {
        check.id: Words().text(check.statement) for check in framework.checks if check.outcome == "failed"
    }
    assert "three_rests" in failed
    assert "2 teeth carry rests; 2 could" in failed["three_rests"]


def test_a_loose_or_diseased_tooth_carries_nothing(rules_alone: Recommender) -> None:
    for field in ({"mobility": 3}, {"disease": "periodontal"}):
        case = Case.model_validate(
            {
                "format": 1, "id": "made-d", "arch": "mandible", "missing": [35, 36, 45, 46], "absent": [38, 48],
                "abutments": [{"tooth": 34, **field}, {"tooth": 37}, {"tooth": 44}, {"tooth": 47}],
            }
        )  # fmt: skip
        for framework in rules_alone.recommend(case).frameworks:
            assert framework.retainers[34] == "none"
            assert 34 not in framework.rests
            supported = next(check for check in framework.checks if check.id == "base_supported")
            assert supported.outcome == "failed"
            assert "34" in Words().text(supported.statement)


def test_an_arm_whose_tip_goes_down_with_the_base_lets_go_beside_an_extension(
    rules_alone: Recommender,
) -> None:
    """Kratochvil FJ. J Prosthet Dent 1963;13:114-124: behind the axis the tip sinks, in front of it it rises."""
    seen = set()
    for case in demo() if LONG else demo()[::4]:
        for part in stock_of(rules_alone.work(case)).available:
            travel = part.result.facts.get("arm.tip_travel_mm")
            if not part.beside_extension or travel is None or "stress_releasing" in part.option.families:
                continue
            rises = (travel[-1] if isinstance(travel, list) else travel) > 0
            flexes = "flexing_arm" in part.option.families and "retentive_proximal" not in part.option.parts
            if part.clasps:
                assert part.releasing is (flexes and not rises), (case.id, part.tooth, part.option.id)
                seen.add((flexes, rises))
    assert seen >= {(True, True), (True, False)}
