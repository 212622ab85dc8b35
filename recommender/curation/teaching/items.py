"""How hard each decision of each exercise is and how well it tells learners apart, from the answers so far.

Rasch's model: the chance of a right answer is ``1 / (1 + exp(difficulty - ability))`` (Rasch G. Probabilistic Models
for Some Intelligence and Attainment Tests. Copenhagen, 1960). Difficulties and abilities are held toward zero; a
decision that nobody has answered is as hard as its leading options lie close. An answer counts as right where it was
not far behind, advised against or excluded: a near tie is never wrong.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from recommender.curation.teaching.exercises import Exercise

RIGHT = frozenset({"favoured", "acceptable", "needs_preparation"})
_HELD = 1.0  # variance of difficulties and abilities in logits, before anything was answered
_CLOSE = 3.0  # logits between the easiest and the hardest decision by closeness alone
_ROUNDS = 30
Item = tuple[str, str]
"""A case id and a decision key."""


@dataclass(frozen=True, slots=True)
class Reply:
    """One answer: by whom, to which item, and whether it was right."""

    learner: str
    item: Item
    right: bool


@dataclass(frozen=True, slots=True)
class Known:
    """``difficulty`` of items and ``ability`` of learners in logits; ``answers`` by item; ``telling`` is the
    correlation of right answers to an item with the ability of those who answered (``None`` below five answers)."""

    difficulty: Mapping[Item, float]
    ability: Mapping[str, float]
    answers: Mapping[Item, int]
    telling: Mapping[Item, float | None]

    def often(self, number: int = 20) -> list[Item]:
        """The items answered most."""
        return sorted(self.answers, key=lambda item: (-self.answers[item], item))[:number]


def known(replies: Iterable[Reply]) -> Known:
    """Joint estimate from all replies."""
    held = list(replies)
    difficulty = {one.item: 0.0 for one in held}
    ability = {one.learner: 0.0 for one in held}
    for _ in range(_ROUNDS):
        _step(held, ability, lambda one: one.learner, difficulty, ability, 1)
        _step(held, difficulty, lambda one: one.item, difficulty, ability, -1)
    by_item: dict[Item, list[Reply]] = defaultdict(list)
    for one in held:
        by_item[one.item].append(one)
    telling = {item: _correlation(found, ability) for item, found in by_item.items()}
    return Known(difficulty, ability, {item: len(found) for item, found in by_item.items()}, telling)


def _step(held, moved, key, difficulty, ability, sign) -> None:  # type: ignore[no-untyped-def]
    """One Newton step of every ability (``sign`` 1) or difficulty (-1)."""
    slope = {name: -value / _HELD for name, value in moved.items()}
    bend = dict.fromkeys(moved, 1.0 / _HELD)
    for one in held:
        chance = right_chance(ability[one.learner], difficulty[one.item])
        slope[key(one)] += sign * (one.right - chance)
        bend[key(one)] += chance * (1 - chance)
    for name in moved:
        moved[name] += slope[name] / bend[name]


def right_chance(ability: float, difficulty: float) -> float:
    """The chance of a right answer."""
    return float(1.0 / (1.0 + np.exp(difficulty - ability)))


def _correlation(found: Sequence[Reply], ability: Mapping[str, float]) -> float | None:
    right = np.array([one.right for one in found], dtype=float)
    able = np.array([ability[one.learner] for one in found])
    if len(found) < 5 or right.std() == 0 or able.std() == 0:
        return None
    return float(np.corrcoef(right, able)[0, 1])


def prior_of(exercises: Iterable[Exercise]) -> dict[Item, float]:
    """What the closeness of the leading options says of difficulty: 0 easy, 1 hard."""
    return {
        (made.case_id, question.decision.key): _CLOSE * (question.closeness - 0.5)
        for made in exercises
        for question in made.questions
    }


def information(made: Exercise, held: Known, learner: str) -> float:
    """How much the answers to an exercise would tell of a learner: Fisher's information ``p·(1 - p)``, mean over its
    decisions that are no near tie (a near tie tells nothing)."""
    able = held.ability.get(learner, 0.0)
    prior = prior_of([made])
    told = [
        chance * (1 - chance)
        for item, before in prior.items()
        for chance in (right_chance(able, held.difficulty.get(item, before)),)
        if before < _CLOSE * 0.45
    ]
    return float(np.mean(told)) if told else 0.0
