"""Pairs of cases with the same teeth gone and nearly the same content, from digests of their leaves alone.

Two sets of which the share ``t`` is common differ in at most ``(1 - t) / (1 + t)`` of their sizes together, and so
does any bitmap that they are folded into (the bitmap filter of set similarity joins: Sandes, Teodoro and Melo 2017).
Bitmaps are compared for a whole group at once, so that only pairs that nearly all hold are compared in full. No pair
is passed over.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from recommender.precedents.store import documents

_BITS = 512

Digests = npt.NDArray[np.uint64]


@dataclass(frozen=True, slots=True)
class Marks:
    """What is kept of a case: its dentition, and the digests of its leaves."""

    case_id: str
    dentition: str
    leaves: Digests

    @classmethod
    def of(cls, data: dict[str, Any]) -> "Marks":
        """Those of a case as plain values."""
        gone, absent = sorted(data.get("missing") or []), sorted(data.get("absent") or [])
        return cls(data["id"], f"{data['arch']}:{gone}|{absent}", documents.leaf_digests(data))


def near_pairs(marks: Iterable[Marks], least: float) -> Iterator[tuple[str, str, float]]:
    """Every pair (ids in order) with at least the share ``least`` (0-1) of its leaves in common, and that share."""
    groups: dict[str, list[Marks]] = {}
    for one in marks:
        groups.setdefault(one.dentition, []).append(one)
    for group in groups.values():
        if len(group) > 1:
            yield from _of_group(sorted(group, key=lambda one: one.case_id), least)


def _of_group(group: list[Marks], least: float) -> Iterator[tuple[str, str, float]]:
    sizes = np.array([len(one.leaves) for one in group])
    maps = np.array([_bitmap(one.leaves) for one in group])
    apart = (1 - least) / (1 + least)
    for place in range(len(group) - 1):
        most = apart * (sizes[place + 1 :] + sizes[place]) + 1e-9
        differ = np.bitwise_count(maps[place + 1 :] ^ maps[place]).sum(axis=1)
        for offset in np.flatnonzero(differ <= most).tolist():
            one, other = group[place], group[place + 1 + offset]
            share = documents.overlap(one.leaves, other.leaves)
            if share >= least:
                yield one.case_id, other.case_id, share


def _bitmap(leaves: Digests) -> Digests:
    flags = np.zeros(_BITS, dtype=bool)
    flags[(leaves % np.uint64(_BITS)).astype(np.int64)] = True
    return np.packbits(flags).view(np.uint64)
