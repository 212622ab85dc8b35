"""Which replacements the spaces of a case take in every world, as a framework made there would have them.

One kind fills a space unless a tooth has a strong reason of its own (``frameworks.replacements``); so the sets of
replacements are few, and which of them leads hangs on facts that move no clasp.
"""

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from recommender.advice.confidence.deciding import WorldCase
from recommender.advice.confidence.ranked import ADVISED_AGAINST, EXCLUDED, PREPARED
from recommender.advice.frameworks.parts import Stock
from recommender.advice.frameworks.replacements import suits_all, usable_of
from recommender.advice.model import Decision

Flags = npt.NDArray[np.bool_]
Names = npt.NDArray[np.str_]
_CLOSE = 1e-9


class ReplacementSets:
    """The sets of replacements that are set in the worlds of a case, for the teeth that its frameworks replace."""

    def __init__(self, world: WorldCase, stock: Stock) -> None:
        self.stock = stock
        self.teeth = tuple(stock.replacements)
        chosen = np.empty((len(self.teeth), world.worlds.count), dtype="U64")
        for space in stock.spaces:
            rows = [row for row, tooth in enumerate(self.teeth) if tooth in space.teeth]
            if rows:
                chosen[rows] = _one_space(world, [self.teeth[row] for row in rows], stock.figures.mixed_space)
        self._sets, self._in = np.unique(chosen, axis=1, return_inverse=True)
        self._whole = (self._sets != "").all(axis=0)

    def most_often(self, worlds: Flags, least: float, most: int) -> list[dict[int, str]]:
        """The sets of at least the share ``least`` of some worlds, the commonest first, ``most`` of them."""
        count = np.where(self._whole, np.bincount(self._in[worlds], minlength=len(self._whole)), 0)
        order = [place for place in np.argsort(-count, kind="stable").tolist() if count[place]]
        return [
            dict(zip(self.teeth, self._sets[:, place].tolist(), strict=True))
            for place in order[:most]
            if count[place] >= least * worlds.sum()
        ]


def recorded_set(stock: Stock) -> dict[int, str]:
    """The replacements of a case as it is recorded."""
    return {tooth: result.option for tooth, result in stock.replacements.items()}


def of_their_own(stock: Stock, replacements: Mapping[int, str]) -> int:
    """How many teeth have another kind than the one that suits the rest of their space best as it is recorded."""
    found = 0
    for space in stock.spaces:
        kinds = {tooth: replacements[tooth] for tooth in space.teeth if tooth in replacements}
        if len(set(kinds.values())) > 1:
            common = suits_all({tooth: usable_of(stock.replaced[tooth]) for tooth in kinds})
            found += sum(kind != common for kind in kinds.values()) if common else 0
    return found


def _one_space(world: WorldCase, teeth: Sequence[int], mixed: float) -> Names:
    """What each tooth of a space takes in each world (``teeth, worlds``); empty where nothing can be set."""
    ranked = [world.ranked(Decision("replacement", tooth)) for tooth in teeth]
    names = sorted(set[str]().union(*(each.options for each in ranked)))
    shape = (len(teeth), len(names), world.worlds.count)
    scores, status = np.full(shape, -np.inf), np.full(shape, EXCLUDED, dtype=np.int8)
    for row, each in enumerate(ranked):
        places = [names.index(option) for option in each.options]
        scores[row, places], status[row, places] = each.scores, each.status
    best_status = status.min(axis=1, keepdims=True)
    usable = np.where(best_status <= PREPARED, status <= PREPARED, status == ADVISED_AGAINST) & np.isfinite(
        scores
    )
    sums = np.where(usable.all(axis=0), scores.sum(axis=0, where=usable), -np.inf)
    common = np.argmax(sums >= sums.max(axis=0) - _CLOSE, axis=0)
    worlds = np.arange(world.worlds.count)
    found = np.empty((len(teeth), world.worlds.count), dtype="U64")
    for row, each in enumerate(ranked):
        led = np.array([names.index(option) for option in each.options])[each.leaders]
        held = scores[row, common, worlds]
        own = ~np.isfinite(sums.max(axis=0)) | (scores[row, led, worlds] - held >= mixed)
        found[row] = np.where(best_status[row, 0] < EXCLUDED, np.array(names)[np.where(own, led, common)], "")
    return found
