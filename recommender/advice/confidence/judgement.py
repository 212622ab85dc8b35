"""The judgement in the figures, moved within stated latitudes (``shared/plausible/judgement.yaml``).

Starting values, points of rules and base weights are moved evenly and independently, world by world; left and right
alike, so the second half of the worlds repeats the first.
"""

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from recommender.advice.confidence.worlds import lots
from recommender.domain.options import Option
from recommender.knowledge.figures.plausible import JudgementFigures
from recommender.knowledge.model import NO_SOURCE, Rule

Floats = npt.NDArray[np.float64]


@lru_cache(maxsize=8192)
def _moved(key: str, half: int) -> Floats:
    """Even numbers from -1 to 1, the same in both halves."""
    one = 2 * lots(f"judgement {key}", half) - 1
    both: Floats = np.concatenate((one, one))
    both.setflags(write=False)
    return both


def start_moved(how: JudgementFigures, option: Option, criterion: str, count: int) -> Floats:
    """What is added to a start in each world."""
    sourced = option.source and option.source.strip() != NO_SOURCE
    most = how.starts.with_source if sourced else how.starts.without_source
    return most * _moved(f"{option.decision} {option.id} {criterion}", count // 2)


def points_moved(how: JudgementFigures, rule: Rule, count: int) -> Floats:
    """The points of a rule in each world."""
    share = float(getattr(how.points, rule.found, 0.0))
    return rule.points * (1.0 + share * _moved(rule.id, count // 2))


def weight_moved(how: JudgementFigures, kind: str, criterion: str, count: int) -> Floats:
    """The factor of a base weight in each world."""
    return 1.0 + how.weights * _moved(f"weight {kind} {criterion}", count // 2)
