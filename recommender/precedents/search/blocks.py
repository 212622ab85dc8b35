"""The flat scan of a large library: what the trie falls back on when it cannot leave most rows unread.

All features are merged into groups of at most 65,536 combinations that occur, one 16-bit column a group. A
scan reads the columns that weigh most in this query, in blocks, and measures in full only the rows that can
still be within the limit; so its cost is bounded whatever the weights.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from recommender.precedents.search.tables import CODES, Codes, Words

_COMBINATIONS = 1 << 16
_FIRST_BLOCK, _BLOCK = 1 << 12, 1 << 16
_LEAST = 1 << 10
_SAMPLE = 1 << 14
_MISSES = 6  # features that would make a group too large before it is closed


@dataclass(frozen=True, slots=True)
class Merged:
    """``groups``: feature numbers of each column; ``combinations``: the codes of each combination;
    ``keys``: the combination number of each row, one array a group."""

    groups: tuple[tuple[int, ...], ...]
    combinations: tuple[Codes, ...]
    keys: tuple[npt.NDArray[np.uint16], ...]


def merge(codes: Codes, rank: list[int], most: int, groups: int | None = None) -> Merged:
    """Features by rank gathered into at most so many groups of at most ``most`` combinations that occur."""
    left = list(rank)
    found: list[tuple[int, ...]] = []
    tables: list[Codes] = []
    keys: list[npt.NDArray[np.uint16]] = []
    dense = [np.cumsum(np.bincount(column, minlength=CODES) > 0) - 1 for column in codes.T]
    while left and (groups is None or len(found) < groups):
        group: list[int] = []
        key = np.zeros(len(codes), dtype=np.int64)
        misses = 0
        for feature in list(left):
            if misses == _MISSES:
                break
            wider = key * (int(dense[feature][-1]) + 1) + dense[feature].take(codes[:, feature])
            found_here, number = (most + 1, key)
            if len(np.unique(wider[:_SAMPLE])) <= most:
                found_here, number = _numbered(wider)
            if found_here > most:
                misses += 1
                continue
            key = number
            group.append(feature)
            left.remove(feature)
        table = np.zeros((int(key.max()) + 1 if len(key) else 0, len(group)), dtype=np.uint8)
        table[key] = codes[:, group]
        found.append(tuple(group))
        tables.append(table)
        keys.append(key.astype(np.uint16))
    return Merged(tuple(found), tuple(tables), tuple(keys))


def _numbered(keys: npt.NDArray[np.int64]) -> tuple[int, npt.NDArray[np.int64]]:
    """How many different keys there are, and each key's number in their order."""
    top = int(keys.max()) + 1 if len(keys) else 0
    if top > max(4 * len(keys), 1 << 22):
        found, number = np.unique(keys, return_inverse=True)
        return len(found), number
    seen = np.bincount(keys, minlength=1) > 0
    return int(seen.sum()), (np.cumsum(seen) - 1).take(keys)


def merge_all(codes: Codes, rank: list[int]) -> Merged:
    """Every feature, in groups that fit 16 bits; smaller ones for smaller libraries, whose tables must
    pay."""
    return merge(codes, rank, min(_COMBINATIONS, max(_LEAST, len(codes) // 16)))


def sums(costs: Words, group: tuple[int, ...], combinations: Codes) -> Words:
    """What each combination of a group costs."""
    first = np.array(group, dtype=np.int32)[:, None] * CODES
    total: Words = costs.ravel().take(combinations.T + first).sum(axis=0, dtype=np.uint32)
    return total


def survivors(
    merged: Merged, costs: Words, limit: Callable[[], int]
) -> Iterator[tuple[npt.NDArray[np.int64], Words | None]]:
    """The places of rows that can cost at most ``limit()``, block by block, with what they cost where every column
    was read (``None`` where so few are left that the caller should measure them).

    ``limit`` is asked anew after each column, so that what the caller takes up tightens it.
    """
    heaviest = sorted(
        range(len(merged.groups)),
        key=lambda g: -int(costs[list(merged.groups[g])].max(axis=1).sum(dtype=np.int64)),
    )
    tables: dict[int, Words] = {}
    count, start, block = len(merged.keys[0]), 0, _FIRST_BLOCK
    while start < count:
        stop = min(start + block, count)
        places = np.arange(start, stop)
        so_far = np.zeros(len(places), dtype=np.uint32)
        whole, measured = True, True
        for read, group in enumerate(heaviest):
            if read >= 2 and len(places) * 16 < block:
                measured = False
                break
            if group not in tables:
                tables[group] = sums(costs, merged.groups[group], merged.combinations[group])
            keys = merged.keys[group]
            so_far = so_far + tables[group].take(keys[start:stop] if whole else keys.take(places))
            if read:  # after one group hardly any row can be left out
                keep = np.flatnonzero(so_far <= limit())
                places, so_far, whole = places.take(keep), so_far.take(keep), False
        if len(places):
            yield places, so_far if measured else None
        start, block = stop, min(block * 4, _BLOCK)
