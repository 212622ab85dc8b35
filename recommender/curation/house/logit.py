"""Conditional logit over decisions with differing options, held to given values by a ridge.

McFadden D. Conditional logit analysis of qualitative choice behavior. In: Zarembka P (ed). Frontiers in Econometrics.
Academic Press, 1974:105-142. The chance that a row is chosen is ``exp(x·b)`` over the sum of its decision's rows.
"""

from dataclasses import dataclass

import numpy as np

from recommender.curation.house.table import Floats, Places


@dataclass(frozen=True, slots=True)
class Choices:
    """Rows of several decisions: ``start`` where each begins, ``chosen`` the row chosen in each."""

    start: Places
    chosen: Places
    decision: Places

    @classmethod
    def of(cls, start: Places, chosen: Places) -> "Choices":
        """``start`` has one entry more than there are decisions."""
        return cls(start[:-1], chosen, np.repeat(np.arange(len(chosen)), np.diff(start)))

    def chances(self, utility: Floats) -> Floats:
        """The chance of each row."""
        top = np.maximum.reduceat(utility, self.start)
        raised = np.exp(utility - top[self.decision])
        found: Floats = raised / np.add.reduceat(raised, self.start)[self.decision]
        return found

    def losses(self, utility: Floats) -> Floats:
        """Minus the log of the chance of what was chosen, a decision each."""
        top = np.maximum.reduceat(utility, self.start)
        whole = np.log(np.add.reduceat(np.exp(utility - top[self.decision]), self.start)) + top
        found: Floats = whole - utility[self.chosen]
        return found


def fit(
    x: Floats, choices: Choices, first: Floats, toward: Floats, ridge: Floats, low: Floats, high: Floats
) -> Floats:
    """Coefficients that minimise the sum of losses plus ``ridge/2·(b - toward)²``, each within its bounds.

    Starts from ``first``; solved by scipy's L-BFGS-B with the exact gradient.
    """
    from scipy.optimize import Bounds, minimize

    if not len(choices.chosen):
        return toward

    # What is the same for all rows of a decision says nothing; columns of like spread are climbed in few steps.
    sizes = np.bincount(choices.decision)
    x = x - (np.add.reduceat(x, choices.start, axis=0) / sizes[:, None])[choices.decision]
    spread = np.maximum(x.std(axis=0), 1e-6)
    x = x / spread
    first, toward, ridge, low, high = (
        first * spread, toward * spread, ridge / spread**2, low * spread, high * spread
    )  # fmt: skip
    picked = x[choices.chosen].sum(axis=0)

    def loss(b: Floats) -> tuple[float, Floats]:
        utility = x @ b
        top = np.maximum.reduceat(utility, choices.start)
        raised = np.exp(utility - top[choices.decision])
        sums = np.add.reduceat(raised, choices.start)
        whole = float(np.log(sums).sum() + top.sum() - utility[choices.chosen].sum())
        gone = b - toward
        slope = x.T @ (raised / sums[choices.decision]) - picked + ridge * gone
        return whole + float(ridge @ (gone * gone)) / 2, slope

    found = minimize(
        loss, first, jac=True, method="L-BFGS-B", bounds=Bounds(low, high), options={"maxiter": 200}
    )
    b: Floats = np.asarray(found.x) / spread
    return b
