"""The options of a decision in many worlds, with the one that leads in each."""

from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from recommender.advice.confidence.columns import NONE

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Places = npt.NDArray[np.intp]
EXCLUDED, ADVISED_AGAINST, PREPARED = 3, 2, 1
_CLOSE = 1e-9
Number = TypeVar("Number", bound=np.generic)


@dataclass(frozen=True)
class Ranked:
    """Options of a decision in some worlds, by identifier in alphabetical order.

    ``status`` (``options, worlds``) counts from 0, open, to 3, excluded. ``scores`` hold for the options that have
    the best status of their world; elsewhere ``-inf``. ``fields`` are the drawn fields behind all of it. ``scored``
    are the places of options whose score was worked out for every world, ``common`` the fields behind all of these.
    """

    options: tuple[str, ...]
    status: npt.NDArray[np.int8]
    scores: Floats
    fields: frozenset[str]
    scored: frozenset[int] = frozenset()
    common: frozenset[str] = NONE

    @cached_property
    def leaders(self) -> Places:
        """The place of the option that leads, in each world: best status, then score, then identifier."""
        best = self.status.min(axis=0)
        scores = np.where(self.status == best, self.scores, -np.inf)
        found: Places = np.argmax(scores >= scores.max(axis=0) - _CLOSE, axis=0)
        return found

    def first(self) -> dict[str, float]:
        """First-rank acceptability of every option."""
        count = np.bincount(self.leaders, minlength=len(self.options)) / self.status.shape[1]
        return dict(zip(self.options, count.tolist(), strict=True))

    def level(self, option: str, margin: float) -> Flags:
        """Where an option leads, or has the leader's status and a score within ``margin`` of it."""
        place = self.options.index(option)
        best = self.status.min(axis=0)
        worlds = np.arange(self.status.shape[1])
        lead = self.scores[self.leaders, worlds]
        near: Flags = (self.status[place] == best) & (self.scores[place] >= lead - margin - _CLOSE)
        return near

    def leads(self, option: str) -> Flags:
        """Where an option leads."""
        found: Flags = self.leaders == self.options.index(option)
        return found

    def status_of(self, option: str) -> npt.NDArray[np.int8]:
        """The status of an option in each world."""
        found: npt.NDArray[np.int8] = self.status[self.options.index(option)]
        return found


def of_worlds(values: npt.NDArray[Number], at: Places | None) -> npt.NDArray[Number]:
    """Values of the worlds at the places ``at``; ``None`` is every world."""
    return values if at is None else values[at]
