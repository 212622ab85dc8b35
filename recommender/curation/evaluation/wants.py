"""How often each rule between parts moves a first framework away from what leads at a tooth, and at what price.

Prices of wants stand in ``shared/frameworks.yaml``; this is what they do to designs, on any set of cases.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from recommender.advice.analysis import NoAdviceError
from recommender.advice.model import Departure
from recommender.advice.recommend import Recommender
from recommender.domain.case import Case
from recommender.domain.statement import Quantity, Statement


@dataclass(slots=True)
class Moves:
    """Departures of first frameworks by what they were made for: the rule, else the code of the reason.

    ``retainers`` counts the retainers on teeth considered, ``given_up`` sums the points of a part's own score that
    were given up, ``dearest`` holds the most for one part, ``not_met`` counts the wants that are left unmet.
    ``decisions`` counts the retainer decisions with two options of the best status, ``near_ties`` those whose leading
    two are called equal.
    """

    frameworks: int = 0
    retainers: int = 0
    decisions: int = 0
    near_ties: int = 0
    moved: Counter[str] = field(default_factory=Counter)
    given_up: defaultdict[str, float] = field(default_factory=lambda: defaultdict(float))
    dearest: dict[str, float] = field(default_factory=dict)
    not_met: Counter[str] = field(default_factory=Counter)

    @property
    def leading(self) -> int:
        """How many retainers are what leads at their tooth."""
        return self.retainers - sum(self.moved.values())


def moves_of(recommender: Recommender, cases: Iterable[Case]) -> Moves:
    """The first framework of every case."""
    found = Moves()
    for case in cases:
        try:
            answer = recommender.recommend(case, 1)
        except NoAdviceError:
            continue
        for result in answer.retainers.values():
            first, second = result.ranked[:2]
            found.decisions += first.status == second.status
            close = first.score - second.score < recommender.engine.knowledge.scoring.near_tie
            found.near_ties += first.status == second.status and close
        for framework in answer.frameworks:
            found.frameworks += 1
            found.retainers += sum(1 for tooth in framework.retainers if tooth in answer.retainers)
            found.not_met.update(
                name.removeprefix("not met: ") for name in framework.terms if name.startswith("not met: ")
            )
            for departure in framework.departures:
                if departure.decision.startswith("retainer:"):
                    reason = _reason(departure)
                    found.moved[reason] += 1
                    points = _points(departure.statement)
                    found.given_up[reason] += points
                    found.dearest[reason] = max(points, found.dearest.get(reason, 0.0))
    return found


def _reason(departure: Departure) -> str:
    if departure.statement.rule:
        return departure.statement.rule
    why = departure.statement.arg("why")
    return why.code.removeprefix("departs.") if isinstance(why, Statement) else "other"


def _points(statement: Statement) -> float:
    points = dict(statement.args).get("points")
    return points.low or 0.0 if isinstance(points, Quantity) else 0.0
