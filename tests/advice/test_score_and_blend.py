"""The arithmetic of a score, on examples worked by hand and against brute force."""

import itertools
from math import fsum

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.advice.scoring.blend import Evidence, Vote, Votes, blended_bounds, weight_of
from recommender.advice.scoring.score import Weights, rule_score
from recommender.knowledge.conditions import parse
from recommender.knowledge.model import Rule, ScoringFigures
from recommender.precedents.model import Neighbour, Situation

FIGURES = ScoringFigures(12, 2.0, 30.0, {})


def rule(points: float, criterion: str = "retention", identifier: str = "r") -> Rule:
    return Rule(
        identifier, "option", "retainer", (), parse("always"), "favours", criterion, points, "why",
        "common practice, no source", "common_practice",
    )  # fmt: skip


def even(*names: str) -> Weights:
    return Weights({name: 1 / len(names) for name in names}, dict.fromkeys(names, (1.0, 1.0)))


def test_the_worked_example_of_the_docstring() -> None:
    scored = rule_score(
        {"retention": 60, "appearance": 90}, (rule(20, "appearance"),), (), even("retention", "appearance")
    )
    assert scored.value == 80
    assert scored.caps == {"appearance": -10}


def test_undecided_rules_open_the_bounds_and_move_nothing() -> None:
    weights = even("retention", "appearance")
    scored = rule_score({"retention": 50, "appearance": 50}, (), (rule(10), rule(-20, "appearance")), weights)
    assert scored.value == 50
    assert scored.bounds == (pytest.approx(40), pytest.approx(55))


scores = st.lists(st.tuples(st.floats(0, 100), st.floats(0, 5), st.floats(0, 5)), min_size=1, max_size=4)


@settings(deadline=None)
@given(scores)
def test_bounds_hold_for_every_corner_of_the_weights(items: list[tuple[float, float, float]]) -> None:
    names = [f"c{i}" for i in range(len(items))]
    raw = {n: (min(a, b), max(a, b)) for n, (_, a, b) in zip(names, items, strict=True)}
    if all(high == 0 for _, high in raw.values()):
        return
    starts = {n: score for n, (score, _, _) in zip(names, items, strict=True)}
    total = sum(high for _, high in raw.values())
    weights = Weights({n: raw[n][1] / total for n in names}, raw)
    low, high = rule_score(starts, (), (), weights).bounds
    means = []
    for corner in itertools.product(*(raw[n] for n in names)):
        if sum(corner) > 0:
            means.append(fsum(starts[n] * w for n, w in zip(names, corner, strict=True)) / fsum(corner))
    assert low <= min(means) + 1e-9
    assert high >= max(means) - 1e-9
    # They are reached: the bounds are the extremes, not merely outside them.
    assert low == pytest.approx(min(means), abs=1e-6)
    assert high == pytest.approx(max(means), abs=1e-6)


def neighbour(choice: str, likeness: float, worth: float) -> Neighbour:
    return Neighbour(Situation("made-1", "retainer", 14, "maxilla", {}, choice, worth), likeness, ())


def same(first: str, second: str) -> float:
    return 1.0 if first == second else 0.0


def test_the_worked_example_of_the_blend() -> None:
    retrieved = (neighbour("i_bar", 0.8, 1.0), neighbour("i_bar", 0.8, -0.5))
    evidence = Evidence.of(retrieved, Votes(()), 0.0, FIGURES, same)
    assert evidence.opinion("i_bar") == pytest.approx(50 + 50 * 0.4 / 3.6)
    assert evidence.opinion("ring") == 50
    assert evidence.weight == pytest.approx(1.6 / 31.6)


def test_a_lone_failed_precedent_speaks_against_and_thin_evidence_stays_near_the_middle() -> None:
    evidence = Evidence.of((neighbour("i_bar", 0.9, -1.0),), Votes(()), 0.0, FIGURES, same)
    assert 30 < evidence.opinion("i_bar") < 50
    assert evidence.weight < 0.05


def test_an_empty_library_has_no_weight() -> None:
    evidence = Evidence.of((), Votes(()), 0.0, FIGURES, same)
    assert evidence.weight == 0
    assert evidence.opinion("i_bar") == 50
    assert evidence.opinion_bounds("i_bar") == (50, 50)


def test_weight_grows_with_likeness_and_never_reaches_one() -> None:
    weights = [weight_of(total, FIGURES) for total in (0, 1, 6, 12, 1e6)]
    assert weights == sorted(weights)
    assert weights[0] == 0
    assert weights[-1] < 1


voices = st.lists(
    st.tuples(st.sampled_from(["a", "b"]), st.floats(0, 1), st.floats(-1, 1)), min_size=1, max_size=8
)


@settings(deadline=None)
@given(voices, st.floats(0, 0.6), st.integers(1, 4), st.data())
def test_opinion_bounds_hold_however_the_gaps_are_filled(
    stored: list[tuple[str, float, float]], gap: float, k: int, data: st.DataObject
) -> None:
    """Every stored situation may rise by up to the gap; the k nearest then may be others."""
    now = [(choice, likeness * (1 - gap), worth) for choice, likeness, worth in stored]
    ordered = sorted(now, key=lambda item: -item[1])
    retrieved = tuple(neighbour(*item) for item in ordered[:k])
    maybe = tuple(
        Vote(neighbour(choice, a, worth).situation, a, min(1.0, a + gap)) for choice, a, worth in ordered
    )
    evidence = Evidence.of(retrieved, Votes(maybe), gap, FIGURES, same)
    low, high = evidence.opinion_bounds("a")
    filled = [(choice, min(1.0, a + data.draw(st.floats(0, gap))), worth) for choice, a, worth in now]
    nearest = sorted(filled, key=lambda item: -item[1])[:k]
    after = Evidence.of(tuple(neighbour(*item) for item in nearest), Votes(()), 0.0, FIGURES, same)
    assert low - 1e-9 <= after.opinion("a") <= high + 1e-9
    assert evidence.weight_bounds[0] - 1e-9 <= after.weight <= evidence.weight_bounds[1] + 1e-9


@given(
    st.tuples(st.floats(0, 50), st.floats(50, 100)),
    st.tuples(st.floats(0, 50), st.floats(50, 100)),
    st.tuples(st.floats(0, 0.4), st.floats(0.4, 0.9)),
    st.floats(0, 1),
    st.floats(0, 1),
    st.floats(0, 1),
)
def test_blended_bounds_hold_everything_between(
    rules: tuple[float, float],
    said: tuple[float, float],
    weight: tuple[float, float],
    a: float,
    b: float,
    c: float,
) -> None:
    def at(ends: tuple[float, float], share: float) -> float:
        return ends[0] + share * (ends[1] - ends[0])

    low, high = blended_bounds(rules, said, weight)
    w = at(weight, c)
    assert low - 1e-9 <= (1 - w) * at(rules, a) + w * at(said, b) <= high + 1e-9
