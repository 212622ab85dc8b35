"""Cases that nearly repeat each other, side by side."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from recommender.domain.case import Case
from recommender.precedents.store import documents
from recommender.precedents.store.importing.near_duplicates import LEAST_OVERLAP, MOST_BITS


@dataclass(frozen=True, slots=True)
class Pair:
    """Two cases with the same teeth gone and nearly the same content.

    ``overlap`` (0-1) is the share of recorded fields that they have in common; ``differences`` the fields in
    which they differ: (path, value in the first, value in the second).
    """

    first: str
    second: str
    overlap: float
    differences: tuple[tuple[str, Any, Any], ...]


def near_duplicates(cases: Iterable[Case], least: float = LEAST_OVERLAP) -> list[Pair]:
    """Every pair of near-duplicates, the closest first; retired cases are passed over."""
    by_dentition: dict[str, list[Case]] = {}
    for case in cases:
        if documents.status(case) != "retired":
            by_dentition.setdefault(documents.dentition(case), []).append(case)
    found = [pair for group in by_dentition.values() if len(group) > 1 for pair in _pairs(group, least)]
    return sorted(found, key=lambda pair: (-pair.overlap, pair.first, pair.second))


def _pairs(group: list[Case], least: float) -> Iterator[Pair]:
    ordered = sorted(group, key=lambda case: case.id)
    leaves = [documents.leaf_digests(documents.as_data(case)) for case in ordered]
    sketches = np.array([documents.sketch(one) for one in leaves], dtype=np.int64).view(np.uint64)
    for place in range(len(ordered) - 1):
        apart = np.bitwise_count(sketches[place + 1 :] ^ sketches[place])
        for offset in np.flatnonzero(apart <= MOST_BITS).tolist():
            other = place + 1 + offset
            share = documents.overlap(leaves[place], leaves[other])
            if share >= least:
                first, second = ordered[place], ordered[other]
                differing = tuple(
                    line for line in documents.differences(first, second) if line[0] not in ("id", "title")
                )
                yield Pair(first.id, second.id, share, differing)
