"""Contrasts of options and frameworks: lines that differ, largest first, adding up to the difference."""

from math import fsum

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from recommender.advice.explanation.contrast import contrast, contrast_frameworks, grouped_by_criterion
from recommender.advice.model import Contribution, Decision, OptionResult, Outer
from recommender.advice.recommend import Recommender, recommendation
from recommender.domain.case import Case
from recommender.domain.reader import read_case
from recommender.resources import demo_library
from tests.advice.strategies import cases

MODEST = settings(
    max_examples=12,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@MODEST
@given(case=cases(), data=st.data())
def test_lines_add_up_to_the_difference_of_the_scores(
    with_demo: Recommender, case: Case, data: st.DataObject
) -> None:
    analysis = with_demo.work(case)
    decision = data.draw(st.sampled_from(analysis.decisions()))
    ranked = analysis.decide(decision).ranked
    one = data.draw(st.sampled_from(ranked))
    other = data.draw(st.sampled_from(ranked))
    found = contrast(one, other)
    assert abs(fsum(line.points for line in found.lines) - (one.score - other.score)) < 1e-9
    sizes = [abs(line.points) for line in found.lines]
    assert sizes == sorted(sizes, reverse=True)
    assert all(line.points for line in found.lines)
    grouped = grouped_by_criterion(found, lambda name: name)
    assert abs(fsum(points for _, points in grouped) - (one.score - other.score)) < 1e-9


@MODEST
@given(case=cases())
def test_a_contrast_turned_round_is_its_negative(rules_alone: Recommender, case: Case) -> None:
    ranked = rules_alone.work(case).decide(Decision("connector")).ranked
    there, back = contrast(ranked[0], ranked[1]), contrast(ranked[1], ranked[0])
    assert {(line.kind, line.id): line.points for line in there.lines} == {
        (line.kind, line.id): -line.points for line in back.lines
    }


def _option(name: str, *lines: Contribution) -> OptionResult:
    score = fsum(line.points for line in lines)
    return OptionResult(
        name, "open", score, Outer(lambda: (score, score)), 1, None, False, (), score, 50.0, 0.0, lines, (), ()
    )


def test_a_rule_that_moves_both_alike_leaves_no_line() -> None:
    """Worked by hand: starts 30 and 26, a rule +2 on both, a rule +5 on the second alone; 4 - 5 = -1."""
    same = Contribution("rule", "same", 2.0, "Both.", "space", "s")
    one = _option("one", Contribution("start", "catalogue", 30.0, "starts", "space", "s"), same)
    other = _option(
        "other", Contribution("start", "catalogue", 26.0, "starts", "space", "s"), same,
        Contribution("rule", "own", 5.0, "Only the second.", "hygiene", "s"),
    )  # fmt: skip
    found = contrast(one, other)
    assert [(line.id, line.points) for line in found.lines] == [("own", -5.0), ("start-space", 4.0)]
    assert found.points == -1.0
    assert [line.id for line in found.for_first] == ["start-space"]
    assert not found.settled_by_status


def test_frameworks_differ_place_by_place(with_demo: Recommender) -> None:
    analysis = with_demo.work(read_case(demo_library() / "harbour-0012.yaml"))
    frameworks = recommendation(analysis, 3).frameworks
    assert len(frameworks) > 1
    for other in frameworks[1:]:
        found = contrast_frameworks(frameworks[0], other, analysis.decide)
        assert abs(found.points - (frameworks[0].score - other.score)) < 1e-9
        sizes = [abs(line.points) for line in found.lines]
        assert sizes == sorted(sizes, reverse=True)
        assert any(line.took != line.instead for line in found.lines)
        for line in found.lines:
            if line.parts is not None:
                scores = line.parts.first.score - line.parts.second.score
                assert abs(fsum(part.points for part in line.parts.lines) - scores) < 1e-9
