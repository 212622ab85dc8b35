"""Shares with intervals: exact where all or nothing was counted, resampled by case elsewhere.

Decisions of one case hang together, so that intervals are those of cases: percentiles of a bootstrap by case (Efron
B, Tibshirani RJ. An Introduction to the Bootstrap. Chapman and Hall, 1993). At 0 and at 100 % a bootstrap says
nothing, and the exact interval of as many cases stands instead (Clopper CJ, Pearson ES. Biometrika 1934;26:404-413).
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

RESAMPLES = 2000
CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Share:
    """``held`` of ``of``, in ``cases`` cases, with the interval (0-1)."""

    held: int
    of: int
    cases: int
    low: float
    high: float

    @property
    def share(self) -> float:
        """0-1; 0 where nothing was counted."""
        return self.held / self.of if self.of else 0.0

    def document(self) -> dict[str, float]:
        """As plain values for JSON."""
        return {"held": self.held, "of": self.of, "cases": self.cases, "low": self.low, "high": self.high}


Held = Sequence[bool] | npt.NDArray[np.bool_]


def share(held: Held, cases: Sequence[Hashable], confidence: float = CONFIDENCE) -> Share:
    """The share of ``held`` with its interval; ``cases`` says to which case each belongs."""
    told = np.asarray(held, dtype=np.float64)
    if not len(told):
        return Share(0, 0, 0, 0.0, 1.0)
    names = {name: place for place, name in enumerate(dict.fromkeys(cases))}
    where = np.array([names[name] for name in cases])
    counted, size = np.bincount(where, weights=told), np.bincount(where).astype(float)
    total, number = int(told.sum()), len(names)
    if total in (0, len(told)) or number == 1:
        low, high = (
            exact(number if total else 0, number, confidence) if total in (0, len(told)) else (0.0, 1.0)
        )
        return Share(total, len(told), number, low, high)
    # cases with as many held of as many are drawn as one group: the same resampling, without a number for each case
    alike, often = np.unique(np.column_stack((counted, size)), axis=0, return_counts=True)
    lots = np.random.default_rng([number, total]).multinomial(number, often / number, RESAMPLES)
    drawn = (lots @ alike[:, 0]) / (lots @ alike[:, 1])
    edge = (1 - confidence) / 2
    low, high = np.quantile(drawn, [edge, 1 - edge])
    return Share(total, len(told), number, float(low), float(high))


def exact(held: int, of: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Clopper and Pearson's interval of a share of independent trials.

    >>> [round(end, 4) for end in exact(0, 10)]
    [0.0, 0.3085]
    """
    from scipy.stats import binomtest

    if not of:
        return 0.0, 1.0
    found = binomtest(held, of).proportion_ci(confidence, "exact")
    return float(found.low), float(found.high)
