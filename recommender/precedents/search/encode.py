"""Situations as rows of codes, and one query as a table of costs.

Everything after this file works on whole numbers: ``codes`` is one byte a feature a row, ``costs[f, code]``
what that code of feature ``f`` adds to the difference from the case in hand.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from recommender.precedents.model import Situation
from recommender.precedents.search.tables import CODES, GAP, ONE, Codes, FeatureSet, FeatureValue, Words


def encode_one(features: FeatureSet, values: Mapping[str, FeatureValue | None]) -> Codes:
    """The codes of one situation, shape ``(features,)``."""
    return np.array([w.feature.encode(values.get(w.feature.name)) for w in features.weighted], dtype=np.uint8)


def bands_of(features: FeatureSet, values: Mapping[str, FeatureValue | None]) -> dict[int, tuple[int, int]]:
    """The first and last code of each feature (by its place) that is known within bounds."""
    return {
        place: item.feature.codes_between(*value)
        for place, item in enumerate(features.weighted)
        if isinstance(value := values.get(item.feature.name), tuple)
    }


def encode(features: FeatureSet, situations: Sequence[Situation]) -> Codes:
    """The codes of many situations, shape ``(situations, features)``."""
    rows = [[w.feature.encode(s.features.get(w.feature.name)) for w in features.weighted] for s in situations]
    return np.array(rows, dtype=np.uint8).reshape(len(rows), len(features.weighted))


def count_codes(codes: Codes) -> npt.NDArray[np.int64]:
    """How often each code of each feature occurs, shape ``(features, 256)``."""
    return np.array([np.bincount(column, minlength=CODES) for column in codes.T], dtype=np.int64).reshape(
        codes.shape[1], CODES
    )


@dataclass(frozen=True, slots=True)
class ChargedTables:
    """Difference tables with the price of a gap, for one library.

    ``rows[f][here]`` holds the difference of every stored code of feature ``f`` from the code ``here``,
    with the expected difference at ``GAP``: the mean over the library's recorded values, rounded to the
    nearest unit; the whole difference where the library has recorded none. Filters never change it.
    ``least[f]`` holds the least difference that each stored code can have from any code. ``stacked`` are all ``rows``,
    one under the other, those of feature ``f`` from ``starts[f]``.
    """

    features: FeatureSet
    rows: tuple[Words, ...]
    least: npt.NDArray[np.int64]
    stacked: Words
    starts: npt.NDArray[np.int64]

    def settling(self, place: int, code: int, band: tuple[int, int]) -> tuple[Words, Words]:
        """What each stored code's difference from a band may lose and gain once the band is settled."""
        within, mean = self.rows[place][band[0] : band[1] + 1], self.row(place, code, band)
        return mean - within.min(axis=0), within.max(axis=0) - mean

    @classmethod
    def of(cls, features: FeatureSet, counts: npt.NDArray[np.int64]) -> "ChargedTables":
        """Tables for a library with these code counts, shape ``(features, 256)``."""
        charged: list[Words] = []
        for weighted, count in zip(features.weighted, counts, strict=True):
            table = weighted.feature.table
            size = len(table)
            recorded = int(count[:size].sum())
            rows = np.zeros((size, CODES), dtype=np.uint32)
            rows[:, :size] = table
            # whole-number division, so that the order in which rows came changes nothing
            rows[:, GAP] = (table @ count[:size] + recorded // 2) // recorded if recorded else ONE
            charged.append(rows)
        least = np.array([rows.min(axis=0) for rows in charged], dtype=np.int64)
        sizes = [len(rows) for rows in charged]
        starts = np.cumsum([0, *sizes[:-1]], dtype=np.int64)[: len(sizes)]
        stacked = np.concatenate(charged) if charged else np.zeros((0, CODES), dtype=np.uint32)
        split = np.split(stacked, starts[1:]) if charged else []  # views: nothing is kept twice
        return cls(features, tuple(split), least, stacked, starts)

    def row(self, place: int, code: int, band: tuple[int, int] | None = None) -> Words:
        """What each stored code of a feature differs by from a code; from a band, the mean over its codes (every
        value in it as likely), rounded half up."""
        if band is None:
            exact: Words = self.rows[place][code]
            return exact
        within = self.rows[place][band[0] : band[1] + 1].astype(np.int64)
        mean: Words = ((within.sum(axis=0) + len(within) // 2) // len(within)).astype(np.uint32)
        return mean


@dataclass(frozen=True, slots=True)
class Query:
    """One situation asked about, ready for the search.

    ``costs``: shape ``(features, 256)``, ``uint32``. ``recorded`` and ``total``: sums of whole weights, of
    the features recorded here and of all that apply. ``bands``: first and last code of the features that are known
    within bounds, by place; their entry in ``codes`` is the middle. Likeness of a row with cost ``c`` is
    ``(recorded * ONE - c) / (total * ONE)``.
    """

    codes: Codes
    weights: npt.NDArray[np.int64]
    costs: Words
    recorded: int
    total: int
    bands: Mapping[int, tuple[int, int]] = field(default_factory=dict)

    def likeness(self, cost: int) -> float:
        """Likeness (0-1) of a row whose cost is this; 0 when no feature has weight."""
        return (self.recorded * ONE - int(cost)) / (self.total * ONE) if self.total else 0.0

    def likenesses(self, costs: npt.NDArray[np.int64]) -> list[float]:
        """``likeness`` of many costs at once, to the last bit."""
        if not self.total:
            return [0.0] * len(costs)
        found: list[float] = ((self.recorded * ONE - costs) / (self.total * ONE)).tolist()
        return found


def query(
    tables: ChargedTables,
    codes: Codes,
    weights: npt.NDArray[np.int64],
    bands: Mapping[int, tuple[int, int]] | None = None,
) -> Query:
    """The costs of every stored code for a case in hand with these codes, bands and whole weights."""
    within = bands or {}
    counted = np.where(codes == GAP, 0, weights)
    # all rows of all features at once; one that does not count is any row times nothing
    costs = tables.stacked.take(tables.starts + np.where(codes == GAP, 0, codes), axis=0)
    costs *= counted.astype(np.uint32)[:, None]
    for place, band in within.items():
        if counted[place]:
            np.multiply(
                tables.row(place, int(codes[place]), band), np.uint32(counted[place]), out=costs[place]
            )
    return Query(codes, weights, costs, int(counted.sum()), int(weights.sum()), within)
