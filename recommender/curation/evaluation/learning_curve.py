"""How often the own choice comes first as the library grows: precedents drawn from ever more of its cases.

Each size is drawn several times, whole cases with their near-duplicates, and every case is advised without itself.
Worked out on the tables of the house profile: the same scores, one product instead of a search for each decision.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from recommender.curation.evaluation.shares import share
from recommender.curation.house.learning import families
from recommender.curation.house.predicting import first, hits
from recommender.curation.house.table import Progress, learnable, tables
from recommender.curation.house.votes import alike
from recommender.domain.case import Case
from recommender.knowledge.model import Knowledge

DRAWS = 3
MOST = 300


@dataclass(frozen=True, slots=True)
class Point:
    """At so many cases in the library: the own choice first, mean, least and greatest of the draws, and the 95 %
    interval of the mean by the cases that were asked about (0-1)."""

    cases: int
    kind: str
    first: float
    least: float
    most: float
    low: float
    high: float


def learning_curve(
    cases: Sequence[Case], base: Knowledge, progress: Progress = lambda _done, _of: None, most: int = MOST
) -> list[Point]:
    """Points for every kind of decision; no precedents first, then sizes that double. At most ``most`` cases are
    used, evenly over the library."""
    known = learnable(cases)
    if len(known) > most:
        known = [known[at * len(known) // most] for at in range(most)]
    made = tables(known, base, base.figures.house.cuts, progress)
    family = families(known)
    found = []
    for kind, table in made.items():
        for size in _sizes(len(known)):
            draws = []
            for draw in range(1 if size in (0, len(known)) else DRAWS):
                lots = np.random.default_rng([size, draw]).permutation(len(known))[:size]
                heard = np.flatnonzero(np.isin(table.case, lots))
                if len(heard):
                    draws.append(hits(table, base, alike(table, heard, family, {}), None))
                else:
                    draws.append(first(table, table.published) == table.chosen)
            shares = [float(held.mean()) for held in draws]
            whole = share(np.concatenate(draws), np.tile(table.case, len(draws)).tolist())
            found.append(Point(size, kind, whole.share, min(shares), max(shares), whole.low, whole.high))
    return found


def _sizes(count: int) -> list[int]:
    doubled = [0, *(10 * 2**step for step in range(20))]
    return [size for size in doubled if size < count] + [count]
