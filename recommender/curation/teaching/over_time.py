"""How learners come on: right answers week by week, of one learner or of a class."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from recommender.curation.evaluation.shares import exact
from recommender.curation.teaching.items import RIGHT
from recommender.curation.teaching.learners import Answered


@dataclass(frozen=True, slots=True)
class Week:
    """A week by its Monday (UTC): answers, right ones, and the exact 95 % interval of their share (0-1)."""

    monday: str
    answers: int
    right: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """Share of right answers."""
        return self.right / self.answers


def weeks(answered: Iterable[Answered]) -> list[Week]:
    """Every week in which something was answered, the earliest first."""
    counted: dict[str, list[bool]] = {}
    for one in answered:
        day = datetime.fromisoformat(one.at.replace("Z", "+00:00")).date()
        counted.setdefault((day - timedelta(days=day.weekday())).isoformat(), []).append(
            one.standing in RIGHT
        )
    return [
        Week(monday, len(found), sum(found), *exact(sum(found), len(found)))
        for monday, found in sorted(counted.items())
    ]
