"""Prediction sets: the conformal quantile by hand, coverage on data that had no part in it, near duplicates together.

Coverage of split conformal sets is at least the wanted share, and at most one over the number of groups more (Lei,
G'Sell, Rinaldo, Tibshirani and Wasserman 2018, JASA 113:1094, theorem 2.2): held here by simulation.
"""

import os

import numpy as np
import pytest

from recommender.advice.model import Decision
from recommender.advice.recommend import Recommender
from recommender.curation.evaluation.generated_houses import Sizes, coverage
from recommender.curation.evaluation.mechanisms import invented_cases
from recommender.curation.evaluation.prediction_sets import (
    Accepted,
    accepted,
    grouped,
    prediction_sets,
    quantile,
    summed,
)
from recommender.precedents.source import demo_source

CONNECTOR = Decision("connector")


def row(group: str, behind: float) -> Accepted:
    return Accepted(group, group, CONNECTOR, "b", {"a": 0.0, "b": behind, "c": 50.0})


def test_the_quantile_counts_each_case_once_and_the_new_one_too() -> None:
    """Nineteen cases at 1 to 19 points: nine of ten of twenty is the eighteenth. A case with many teeth counts once."""
    rows = [row(f"c{i:02d}", float(i)) for i in range(1, 20)]
    assert quantile(rows) == 18.0
    assert quantile([*rows, *(row("c01", 1.0) for _ in range(500))]) == 18.0
    assert quantile(rows[:8]) == float("inf")  # eight of nine is less than nine of ten


def test_coverage_holds_on_cases_that_had_no_part() -> None:
    chance = np.random.default_rng(5)
    rates = []
    for _ in range(40):
        rows = [
            row(f"g{number}", float(value))
            for number in range(80)
            for value in chance.gamma(1.0, 3.0 * chance.lognormal(0, 0.4), chance.integers(1, 6))
        ]
        (kind,) = summed(rows, 80).kinds
        rates.append(kind.covered)
        assert kind.low <= kind.covered <= kind.high
    assert 0.89 <= np.mean(rates) <= 0.93


def test_near_duplicates_go_together() -> None:
    cases = list(invented_cases(3))
    groups = grouped([*cases, cases[0].model_copy(update={"id": "twin"})])
    assert groups["twin"] == groups[cases[0].id]
    assert len(set(groups.values())) == 3


def test_few_cases_have_no_sets(rules_alone: Recommender) -> None:
    found = prediction_sets(rules_alone, list(demo_source().cases())[:20])
    assert found.kinds == ()
    assert found.document()["by_decision"] == {}


def test_the_accepted_choice_is_placed_without_the_case_itself(with_demo: Recommender) -> None:
    case = next(c for c in demo_source().cases() if c.design and c.design.connector and c.missing)
    (connector,) = [r for r in accepted(with_demo, case, {case.id: case.id}) if r.decision == CONNECTOR]
    assert case.design is not None
    assert connector.option == case.design.connector
    leader = with_demo.work(case.model_copy(update={"design": None})).leader(CONNECTOR)
    assert connector.behind[leader] == 0.0


def test_generated_houses_of_few_cases_have_every_option_in_their_sets(rules_alone: Recommender) -> None:
    """Three cases are too few for nine of ten: the quantile is infinite, and every choice lies in its set."""
    found = coverage(rules_alone, 1, Sizes(pool=5, library=3, apart=2))
    assert found == {"retainer": [1.0], "connector": [1.0], "replacement": [1.0]}


@pytest.mark.slow
@pytest.mark.skipif(not os.environ.get("RPD_LONG"), reason="long form: RPD_LONG=1")
def test_mean_coverage_over_generated_libraries(rules_alone: Recommender) -> None:
    """The sets of 60 cases of each of 20 houses, held against 20 further cases that had no part in them."""
    means = {kind: float(np.mean(rates)) for kind, rates in coverage(rules_alone).items()}
    assert min(means.values()) >= 0.88, means
