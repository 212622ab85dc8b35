"""What recording more of the case in hand may change of the cost of stored rows."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from recommender.precedents.search.encode import Query
from recommender.precedents.search.segments import Found, Shelf
from recommender.precedents.search.tables import GAP, ONE


def _gain(shelf: Shelf, asked: Query, place: int) -> npt.NDArray[np.int64]:
    """The most that settling one feature may take off the cost of each stored code."""
    weight, band = int(asked.weights[place]), asked.bands.get(place)
    if band is None:
        gain: npt.NDArray[np.int64] = weight * (ONE - shelf.tables.least[place])
        return gain
    less: npt.NDArray[np.int64] = shelf.tables.settling(place, int(asked.codes[place]), band)[0].astype(
        np.int64
    )
    return np.asarray(weight * less, dtype=np.int64)


def unsettled(shelf: Shelf, asked: Query) -> tuple[int, int]:
    """The most that settling the intervals of the case in hand may take off any cost, and add to one."""
    up = down = 0
    for place, band in asked.bands.items():
        less, more = shelf.tables.settling(place, int(asked.codes[place]), band)
        up += int(asked.weights[place]) * int(less.max())
        down += int(asked.weights[place]) * int(more.max())
    return up, down


def most_gain(shelf: Shelf, asked: Query, found: Sequence[Found]) -> npt.NDArray[np.int64]:
    """For each row, the most that recording what the query has not recorded may take off its cost."""
    open_ = [
        f
        for f, (c, w) in enumerate(zip(asked.codes.tolist(), asked.weights.tolist(), strict=True))
        if w and (c == GAP or f in asked.bands)
    ]
    if not open_ or not found:
        return np.zeros(len(found), dtype=np.int64)
    gain = np.array([_gain(shelf, asked, f) for f in open_])
    most = np.zeros(len(found), dtype=np.int64)
    for part in shelf.parts:
        places = [place for place, each in enumerate(found) if each.part is part]
        if places:
            codes = part.columns.codes[[found[place].row for place in places]][:, open_]
            most[places] = gain[np.arange(len(open_)), codes].sum(axis=1)
    return most
