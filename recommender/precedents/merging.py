"""The exact nearest of a library that lies in several places (shards): each gives its own, these are merged.

The ``k`` nearest of the whole are among the ``k`` nearest of each shard, so every shard sends ``k`` and the merge is
exact, provided that all of them measured by the same tables: likeness charges a gap the expected difference over
the *whole* library, so shards first add up how often each code occurs (``added_counts``) and build their tables from
the sum. Ties are settled as in one library: by case id, then site.
"""

from collections.abc import Iterable, Sequence
from heapq import merge
from itertools import islice

import numpy as np
import numpy.typing as npt

from recommender.precedents.model import Neighbour


def nearest_of_all(shards: Iterable[Sequence[Neighbour]], k: int) -> list[Neighbour]:
    """The ``k`` nearest of all shards. Each shard's list has to be in order, most alike first, and to hold its own
    ``k`` nearest (or all that it has).

    Raises ``ValueError`` for a list that is not in order, and for a situation that two shards hold.
    """
    found = [list(shard) for shard in shards]
    for shard in found:
        keys = [_key(neighbour) for neighbour in shard]
        if keys != sorted(keys):
            raise ValueError("the neighbours of a shard are not in order")
    best = list(islice(merge(*found, key=_key), max(k, 0)))
    names = [_key(neighbour)[1:] for neighbour in best]
    if len(set(names)) < len(names):
        raise ValueError("two shards hold the same situation")
    return best


def _key(neighbour: Neighbour) -> tuple[float, str, int]:
    return -neighbour.likeness, neighbour.situation.case_id, neighbour.situation.site


def added_counts(shards: Sequence[npt.NDArray[np.int64]]) -> npt.NDArray[np.int64]:
    """How often each code of each feature occurs in all shards, shape ``(features, 256)``: whole numbers, so the
    order of the shards changes nothing.

    Raises ``ValueError`` for no shards, or for counts of different features.
    """
    if not shards or len({counts.shape for counts in shards}) != 1:
        raise ValueError("counts of one or more shards, all of the same features")
    total: npt.NDArray[np.int64] = np.sum(np.stack(shards), axis=0)
    return total
