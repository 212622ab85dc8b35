"""Choosing an exercise: by difficulty, by principle, the unanswered first."""

import itertools
from dataclasses import replace

import pytest

from recommender.curation.teaching.choice import BANDS, band, spread, suiting
from recommender.curation.teaching.exercises import Exercise
from recommender.domain.case import Case

_CASE = Case.model_validate({"format": 1, "id": "x", "arch": "maxilla", "missing": [15]})


def _made(name: str, difficulty: float, *principles: str) -> Exercise:
    return Exercise(name, name, 1, _CASE, "III", (), difficulty, principles)


def test_bands_leave_no_gap() -> None:
    edges = sorted(BANDS.values())
    assert edges[0][0] == 0
    assert edges[-1][1] > 1
    assert all(one[1] == other[0] for one, other in itertools.pairwise(edges))
    assert [band(value) for value in (0.0, 0.35, 0.6, 1.0)] == ["easy", "middling", "hard", "hard"]


def test_difficulty_principle_and_what_was_answered() -> None:
    a, b, c = _made("a", 0.1, "p"), _made("b", 0.2), _made("c", 0.9, "p", "q")
    assert suiting([c, b, a]) == [a, b, c]
    assert suiting([a, b, c], wanted="easy") == [a, b]
    assert suiting([a, b, c], principle="p") == [a, c]
    assert suiting([a, b, c], wanted="hard", principle="q") == [c]
    assert suiting([a, b, c], wanted="middling") == []
    assert suiting([a, b, c], answered={"a"}) == [b, c, a]
    assert suiting([replace(a, id="z"), b]) == [replace(a, id="z"), b]


@pytest.mark.parametrize("number", [0, 3, 50])
def test_a_draw_is_the_same_each_time_and_differs_by_salt(number: int) -> None:
    ids = [f"case-{n}" for n in range(20)]
    drawn = spread(ids, number)
    assert len(drawn) == min(number, 20)
    assert drawn == spread(reversed(ids), number)
    assert set(drawn) <= set(ids)
    if number == 3:
        assert drawn != spread(ids, number, "other")
