"""What answers are worth, on joint distributions whose values are known; frameworks in worlds; calibration by masks."""

import numpy as np
import pytest

from recommender.advice.confidence.answers import Confidence
from recommender.advice.confidence.worlds import Worlds
from recommender.advice.confidence.worth import Worth, worths
from recommender.advice.recommend import Recommender, recommendation
from recommender.curation.evaluation.calibration import Judgement, calibrate, plain_where_unrecorded, summed
from recommender.domain.fields import with_field, without_field
from recommender.knowledge.in_force import knowledge
from recommender.precedents.source import demo_source
from tests.advice.confidence.test_deciding import thinned

ASK = knowledge().figures.standing.ask


def made(count: int = 4000) -> tuple[Worth, dict[str, float]]:
    """Two choices; the first stands where ``a`` is 1, the second where it is 0; ``b`` says nothing, ``c`` and ``d``
    decide together only for a third choice that stands where they differ."""
    chance = np.random.default_rng(7)
    codes = {name: chance.integers(0, 2, count) for name in "abcd"}
    stands = np.array(
        [(codes["a"] == 1) & (chance.random(count) < 0.9), (codes["a"] == 0) & (chance.random(count) < 0.5)]
    )
    worth = Worth(stands, lambda path: (codes[path], (0, 1)))
    return worth, worths(worth, "abcd")


def test_the_value_of_a_field_is_that_of_perfect_information() -> None:
    """Now 0.45 by the first; knowing ``a``: 0.5 x 0.9 + 0.5 x 0.5 = 0.7, so 0.25 is gained; the rest says nothing."""
    _, found = made()
    assert found["a"] == pytest.approx(0.25, abs=0.03)
    assert max(found[name] for name in "bcd") < 0.01


def test_the_list_names_what_pays_and_stops() -> None:
    worth, found = made()
    assert [ask.field for ask in worth.ask_next(found, ASK)] == ["a"]


def test_two_fields_that_tell_the_same_are_not_asked_twice() -> None:
    chance = np.random.default_rng(3)
    a = chance.integers(0, 2, 2000)
    codes = {"a": a, "copy": a.copy(), "other": chance.integers(0, 2, 2000)}
    stands = np.array(
        [(a == 1) & (codes["other"] == 1), (a == 0) & (codes["other"] == 1), codes["other"] == 0]
    )
    worth = Worth(stands, lambda path: (codes[path], (0, 1)))
    named = [ask.field for ask in worth.ask_next(worths(worth, list(codes)), ASK)]
    assert "other" in named
    assert not {"a", "copy"} <= set(named)


def test_a_rare_answer_is_met_on_both_sides_and_chance_chooses_nothing() -> None:
    """In 4 worlds of 400, all of one side by turns, the lead falls and another stands: worth 4 of 400. A choice that
    stands elsewhere by chance is worth nothing."""
    chance = np.random.default_rng(11)
    rare = np.zeros(400, dtype=int)
    rare[[127, 139, 327, 339]] = 1
    idle = chance.integers(0, 8, 400)
    lead = rare == 0
    stands = np.array([lead & (chance.random(400) < 0.95), rare == 1, lead & (chance.random(400) < 0.9)])
    worth = Worth(stands, lambda path: ({"rare": rare, "idle": idle}[path], tuple(range(8))))
    assert worth.single("rare") == pytest.approx(0.01)
    assert worth.single("idle") < 0.01


def test_frameworks_are_compared_in_worlds(with_demo: Recommender) -> None:
    case = thinned(list(demo_source().cases())[20], 5)
    analysis = with_demo.work(case)
    answer = recommendation(analysis)
    confidence = Confidence(analysis)
    sure = confidence.frameworks(answer.frameworks)
    assert len(sure) == len(answer.frameworks)
    kept = sure[0].acceptability
    assert kept.first <= 1.0
    assert kept.facts <= kept.equal <= kept.not_blocked + 1e-12
    assert kept.first + sum(kept.otherwise.values()) == pytest.approx(1.0, abs=0.02)
    compared = confidence.compared(answer.frameworks)
    how = knowledge().figures.standing
    assert 3 <= len(compared.pool) <= how.frameworks + how.sets * len(answer.frameworks)
    asking = confidence.asking(answer.frameworks)
    assert len(asking.next) <= 7
    assert all(0.0 <= value <= 1.0 for value in asking.worths.values())


def test_what_a_rare_answer_brings_up_is_valued(with_demo: Recommender) -> None:
    """Whether an abutment is diseased: sound it carries the clasp, else another framework is made, which a look at
    what lies next to the first does not find. Held against the case worked out with each answer."""
    whole = plain_where_unrecorded(with_demo, demo_source().get("harbour-0054"))
    path = "abutments[45].disease"
    case = without_field(whole, path)
    analysis = with_demo.work(case)
    frameworks = recommendation(analysis).frameworks
    confidence = Confidence(analysis)
    known, _ = confidence.worth(frameworks)
    assert known.single(path) < 0.01
    now = known.now
    found = -now
    for value, share in confidence.worlds.share(path).items():
        given = with_demo.work(with_field(case, path, value))
        found += share * Confidence(given).worth(recommendation(given).frameworks)[0].now
    assert found > 0.02
    assert confidence.asking(frameworks).worths[path] == pytest.approx(found, abs=0.02)


def test_the_rare_answers_are_those_that_cost_the_best_choice() -> None:
    codes = np.array([0] * 90 + [1] * 10)
    worth = Worth(np.array([codes == 0, np.zeros(100, dtype=bool)]), lambda path: (codes, ("no", "yes")))
    (rare,) = worth.worse_with(["a"], 0.01, 5)
    assert (rare.field, rare.value, int(rare.worlds.sum())) == ("a", "yes", 10)
    assert worth.worse_with(["a"], 0.2, 5) == []


def test_a_complete_case_leaves_nothing_to_ask(rules_alone: Recommender) -> None:
    case = plain_where_unrecorded(rules_alone, list(demo_source().cases())[11])
    analysis = rules_alone.work(case)
    confidence = Confidence(analysis, Worlds(analysis.facts, 64))
    for sure in confidence.decisions.values():
        assert sure.acceptability.facts == 1.0
        assert sure.standing.word == "firm"
    answer = recommendation(analysis)
    assert confidence.frameworks(answer.frameworks)[0].standing.word == "firm"
    assert confidence.asking(answer.frameworks).next == ()


def test_calibration_counts_what_stood(rules_alone: Recommender) -> None:
    found = calibrate(rules_alone, list(demo_source().cases())[2:60:29], masks=2)
    assert found.cases == 2
    assert sum(tenth.number for tenth in found.tenths) == len(found.judgements) > 10
    assert found.brier < found.brier_always + 0.05
    document = found.document()
    assert document["bins"][0].keys() == {"from", "to", "n", "stated", "stood", "low", "high"}


def test_the_curve_of_known_judgements() -> None:
    rows = [Judgement(f"c{i % 10}", "connector", "connector", 0.75, i % 4 != 0, "open") for i in range(40)]
    found = summed(rows)
    (tenth,) = found.tenths
    assert (tenth.low_edge, tenth.number, tenth.stated, tenth.stood) == (0.7, 40, 0.75, 0.75)
    assert found.brier == pytest.approx(0.75 * 0.25**2 + 0.25 * 0.75**2)
    assert found.brier_always == pytest.approx(0.1875)
