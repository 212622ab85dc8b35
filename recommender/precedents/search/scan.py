"""The flat scan: the cost of every row, then the least of them. Exact, and as quick as anything below ten
thousand rows."""

import numpy as np
import numpy.typing as npt

from recommender.precedents.search.columns import Columns, Restriction, Rows
from recommender.precedents.search.encode import Query
from recommender.precedents.search.tables import CODES, Codes, Words

_BLOCK = 1 << 15


def row_costs(codes: Codes, query: Query) -> Words:
    """Cost of each row of ``codes`` (shape ``(rows, features)``), exact ``uint32`` sums."""
    used = np.flatnonzero(query.costs.any(axis=1))
    out = np.zeros(len(codes), dtype=np.uint32)
    if not len(used):
        return out
    offsets = (used * CODES).astype(np.int32)
    flat = query.costs.ravel()
    for start in range(0, len(codes), _BLOCK):
        block = codes[start : start + _BLOCK, used]
        flat.take(block + offsets).sum(axis=1, dtype=np.uint32, out=out[start : start + _BLOCK])
    return out


def least(costs: Words, rows: Rows, k: int) -> npt.NDArray[np.int64]:
    """Positions of the ``k`` least costs, ties by row number, in that order."""
    if k <= 0 or not len(costs):
        return np.zeros(0, dtype=np.int64)
    keep = np.arange(len(costs))
    if k < len(costs):
        limit = np.partition(costs, k - 1)[k - 1]
        keep = np.flatnonzero(costs <= limit)
    order: npt.NDArray[np.int64] = keep[np.lexsort((rows[keep], costs[keep]))][:k]
    return order


def nearest(columns: Columns, query: Query, k: int, restriction: Restriction) -> tuple[Rows, Words]:
    """The ``k`` admitted rows of least cost, in order, with their costs."""
    costs = row_costs(columns.codes, query)
    rows = np.flatnonzero(columns.admits(np.arange(len(columns)), costs, restriction))
    costs = costs[rows]
    at = least(costs, rows, k)
    return rows[at], costs[at]


def within(columns: Columns, query: Query, limit: int, restriction: Restriction) -> tuple[Rows, Words]:
    """Every admitted row that costs at most ``limit``, in order of cost and row."""
    costs = row_costs(columns.codes, query)
    rows = np.flatnonzero(columns.admits(np.arange(len(columns)), costs, restriction) & (costs <= limit))
    costs = costs[rows]
    order = np.lexsort((rows, costs))
    return rows[order], costs[order]
