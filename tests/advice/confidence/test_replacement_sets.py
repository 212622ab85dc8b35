"""Which replacements are set in the worlds of a case, held against frameworks worked out there."""

import numpy as np
import pytest

from recommender.advice.confidence.answers import Confidence
from recommender.advice.confidence.completed import completed
from recommender.advice.confidence.framework_worlds import candidate
from recommender.advice.confidence.pool import pool_of
from recommender.advice.confidence.replacement_sets import ReplacementSets, of_their_own, recorded_set
from recommender.advice.frameworks.candidates import stock_of
from recommender.advice.indirect_retainers import indirect_seats
from recommender.advice.recommend import Recommender, recommendation
from recommender.precedents.source import demo_source
from tests.advice.confidence.test_deciding import thinned

CASES = list(demo_source().cases())


def sets_of(recommender: Recommender, place: int) -> tuple[Confidence, ReplacementSets]:
    """The sets of a thinned demo case."""
    analysis = recommender.work(thinned(CASES[place], place))
    results = {decision: analysis.decide(decision) for decision in analysis.decisions()}
    confidence = Confidence(analysis)
    stock = stock_of(analysis, results, indirect_seats(analysis.engine, analysis.facts))
    return confidence, ReplacementSets(confidence.world_case, stock)


@pytest.mark.parametrize("place", [3, 20, 47, 88])
def test_the_set_of_a_world_is_that_of_its_framework(with_demo: Recommender, place: int) -> None:
    """In single worlds, against the whole case worked out there."""
    confidence, sets = sets_of(with_demo, place)
    for world in (0, 77, 201, 399):
        only = np.zeros(confidence.worlds.count, dtype=bool)
        only[world] = True
        there = recommendation(with_demo.work(completed(confidence.worlds, world)), 1).frameworks
        if there:
            assert sets.most_often(only, 0.0, 1) == [dict(there[0].replacements)]


def test_sets_are_told_by_how_often_they_are_set(with_demo: Recommender) -> None:
    confidence, sets = sets_of(with_demo, 88)
    every = np.ones(confidence.worlds.count, dtype=bool)
    found = sets.most_often(every, 0.0, 1000)
    assert len(found) > 1
    assert sets.most_often(every, 0.01, 1) == found[:1]
    assert len(sets.most_often(every, 0.3, 1000)) <= 3


def test_a_tooth_of_its_own_kind_pays_for_it(with_demo: Recommender) -> None:
    """A set that mixes two kinds in a space leads only where its tooth scores more by what the figures ask."""
    for place in range(0, len(CASES), 5):
        confidence, sets = sets_of(with_demo, place)
        stock, own = sets.stock, recorded_set(sets.stock)
        space = next((s for s in stock.spaces if len([t for t in s.teeth if t in own]) > 1), None)
        if space is None or of_their_own(stock, own):
            continue
        tooth = next(t for t in space.teeth if t in own)
        other = next((r for r in stock.replaced[tooth] if r.option != own[tooth] and r.status == "open"), None)
        frameworks = recommendation(confidence.analysis).frameworks
        if other is None or not frameworks or stock.replacements[tooth].status != "open":
            continue
        mixed = own | {tooth: other.option}
        assert of_their_own(stock, mixed) == 1
        found = pool_of(stock, frameworks[:1], 1, [mixed])
        share = stock.figures.weights.replacement / len(own)
        more = other.score - stock.replacements[tooth].score - stock.figures.mixed_space
        assert found[-1].score == pytest.approx(candidate(frameworks[0]).score + share * more)
        return
    pytest.fail("no demo case has a space of several teeth with an open second kind")
