"""When a principle is to be met again: spaced repetition by the published FSRS schedule, through the ``fsrs``
library.

Ye J, Su J, Cao Y. A stochastic shortest path algorithm for optimizing spaced repetition scheduling. Proc ACM SIGKDD
2022, 4381-4390. A principle is due when it is expected to be recalled with the chance ``recall``; how long that takes
follows from how often it was met and missed before. Nothing here is drawn by chance: same answers, same days.
"""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fsrs import Card, Scheduler


@dataclass(frozen=True, slots=True)
class Spaced:
    """The library's own record of a principle as text, when it is due (UTC), and after how many days from now."""

    card: str
    due: str
    days: int


def after(card: str | None, at: str, recall: float, longest: int, *, met: bool) -> Spaced:
    """A principle met or missed at a time; ``card`` is what was kept of it, ``None`` for the first time.

    A record that cannot be read counts as none.
    """
    from fsrs import Rating

    now = datetime.fromisoformat(at.replace("Z", "+00:00")).astimezone(UTC)
    rating = Rating.Good if met else Rating.Again
    moved, _ = _scheduler(recall, longest).review_card(_card(card), rating, now)
    due = moved.due.astimezone(UTC)
    stamp = due.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    return Spaced(moved.to_json(), stamp, (due - now).days)


def _scheduler(recall: float, longest: int) -> "Scheduler":
    from fsrs import Scheduler

    # days only: a principle is not met twice in ten minutes, and chance has no part in it
    return Scheduler(
        desired_retention=recall,
        learning_steps=(),
        relearning_steps=(),
        maximum_interval=longest,
        enable_fuzzing=False,
    )


def _card(text: str | None) -> "Card":
    from fsrs import Card

    if text:
        try:
            return Card.from_json(text)
        except (ValueError, KeyError, TypeError):
            pass
    return Card(card_id=1)
