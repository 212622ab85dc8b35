"""Leave-one-out says what it means: nothing is passed over, and every share has an honest interval."""

import numpy as np
import pytest

from recommender.advice.recommend import Recommender
from recommender.curation.evaluation.learning_curve import learning_curve
from recommender.curation.evaluation.leave_one_out import Row, as_it_came, compare
from recommender.curation.evaluation.shares import exact, share
from recommender.curation.evaluation.summing_up import commonest, summary
from recommender.knowledge.in_force import knowledge
from recommender.precedents.source import demo_source


def test_exact_intervals_as_published() -> None:
    """Clopper and Pearson for 0, 1 and 5 of 10: 0-0.3085, 0.0025-0.4450, 0.1871-0.8129 (Brown LD, Cai TT, DasGupta A.
    Interval estimation for a binomial proportion. Stat Sci 2001;16:101-133, of the same formula)."""
    assert exact(0, 10) == pytest.approx((0.0, 0.3085), abs=1e-4)
    assert exact(1, 10) == pytest.approx((0.0025, 0.4450), abs=1e-4)
    assert exact(5, 10) == pytest.approx((0.1871, 0.8129), abs=1e-4)


def test_all_or_nothing_counts_cases_and_not_decisions() -> None:
    """Ten decisions in two cases, all right: no more certain than two of two."""
    found = share([True] * 10, ["a"] * 5 + ["b"] * 5)
    assert (found.held, found.of, found.cases) == (10, 10, 2)
    assert (found.low, found.high) == pytest.approx(exact(2, 2))


def test_decisions_of_a_case_hang_together() -> None:
    """Cases that are right or wrong as a whole: the interval is that of cases, wider than that of decisions."""
    cases = [number for number in range(20) for _ in range(10)]
    together = share([number % 2 == 0 for number in cases], cases)
    apart = share([number % 2 == 0 for number in range(200)], list(range(200)))
    assert together.high - together.low > 2 * (apart.high - apart.low)


def test_the_commonest_leaves_the_own_case_out() -> None:
    rows = [
        Row("a", "retainer", 14, "i_bar", 1, 1), Row("b", "retainer", 14, "i_bar", 1, 1),
        Row("c", "retainer", 14, "rpa", 1, 1), Row("c", "retainer", 15, "rpa", 1, 1),
    ]  # fmt: skip
    found = commonest(rows)
    assert found["a", "retainer", 14] == "rpa"
    assert found["c", "retainer", 14] == "i_bar"


def test_the_commonest_as_counted_one_by_one() -> None:
    """Against plain counting of the other cases' choices, ties to the first in the alphabet."""
    lots = np.random.default_rng(3)
    rows = [
        Row(f"case-{lots.integers(12)}", ["retainer", "rest"][lots.integers(2)], tooth, "abcd"[lots.integers(4)], 1, 1)
        for tooth in range(60)
    ]
    for row in rows:
        others = [each.choice for each in rows if each.kind == row.kind and each.case_id != row.case_id]
        wanted = min(sorted(set(others)), key=lambda choice: -others.count(choice), default="")
        assert commonest(rows)[row.case_id, row.kind, row.tooth] == wanted


def test_rests_and_empty_teeth_are_looked_up() -> None:
    """In the demo cases, rests and teeth without a clasp are decisions like others; leads are split without a gap."""
    recommender = Recommender(None)
    cases = list(demo_source().cases())[:12]
    rows = [row for case in cases for row in compare(case, recommender.work(as_it_came(case)))]
    assert {"retainer", "rest", "connector", "replacement"} == {row.kind for row in rows}
    assert any(row.kind == "retainer" and row.choice in ("none", "rest_only") for row in rows)
    found = summary(rows)
    assert found.by_kind["all"].first.of == len(rows)
    assert sum(held.of for held in found.by_lead.values()) == sum(row.lead is not None for row in rows)
    assert sum(held.of for held in found.by_option.values()) == len(rows)
    empty = [row for row in rows if row.kind == "retainer" and row.choice in ("none", "rest_only")]
    assert (found.without_clasp.of, found.without_clasp.held) == (len(empty), sum(row.rank == 1 for row in empty))


def test_the_curve_starts_at_the_rules_alone() -> None:
    cases = list(demo_source().cases())[:14]
    points = learning_curve(cases, knowledge())
    first = {point.kind: point for point in points if point.cases == 0}
    assert set(first) == {"retainer", "rest", "connector", "replacement"}
    assert all(point.least == point.most for point in first.values())
    assert {point.cases for point in points} >= {0, 10}
    assert all(point.low <= point.first <= point.high for point in points)
