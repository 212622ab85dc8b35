"""Cases that nearly repeat each other, side by side."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import orjson
from sqlalchemy import select

from recommender.domain.case import Case
from recommender.precedents.store import documents
from recommender.precedents.store.importing.near_duplicates import LEAST_OVERLAP, MOST_BITS
from recommender.precedents.store.library import Library
from recommender.precedents.store.schema import cases


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


def near_duplicates(given: Iterable[Case], least: float = LEAST_OVERLAP) -> list[Pair]:
    """Every pair of near-duplicates, the closest first; retired cases are passed over."""
    kept = {case.id: documents.as_data(case) for case in given if documents.status(case) != "retired"}
    groups: dict[str, list[str]] = {}
    for case_id, data in kept.items():
        groups.setdefault(_dentition(data), []).append(case_id)
    found: list[Pair] = []
    for group in groups.values():
        if len(group) > 1:
            ordered = sorted(group)
            leaves = {case_id: documents.leaf_digests(kept[case_id]) for case_id in ordered}
            sketches = np.array([documents.sketch(leaves[one]) for one in ordered], dtype=np.int64)
            found += _pairs(ordered, sketches, leaves, kept, least)
    return _in_order(found)


def stored_near_duplicates(
    library: Library,
    least: float = LEAST_OVERLAP,
    told: Callable[[int, int], None] = lambda _done, _of: None,
) -> list[Pair]:
    """The same of a database, each case in its latest version: only documents that the sketches propose are read."""
    query = select(cases.c.dentition, cases.c.id, cases.c.sketch).where(cases.c.status != "retired")
    groups: dict[str, list[tuple[str, int]]] = {}
    with library.reading() as connection:
        for dentition, case_id, sketch in connection.execute(query.order_by(cases.c.id)):
            groups.setdefault(str(dentition), []).append((case_id, sketch or 0))
    found: list[Pair] = []
    done, of = 0, sum(len(group) for group in groups.values())
    for group in groups.values():
        ordered = [case_id for case_id, _ in group]
        sketches = np.array([sketch for _, sketch in group], dtype=np.int64)
        proposed = sorted({place for pair in _close(sketches) for place in pair})
        data = _documents(library, [ordered[place] for place in proposed])
        leaves = {case_id: documents.leaf_digests(one) for case_id, one in data.items()}
        found += _pairs(ordered, sketches, leaves, data, least)
        done += len(group)
        told(done, of)
    return _in_order(found)


def _documents(library: Library, ids: Sequence[str]) -> dict[str, dict[str, Any]]:
    data: dict[str, dict[str, Any]] = {}
    for start in range(0, len(ids), _BATCH):
        for case_id, version in library.held(ids[start : start + _BATCH]).items():
            if version.intact:
                data[case_id] = orjson.loads(version.document)
    return data


_BATCH = 400


def _dentition(data: dict[str, Any]) -> str:
    gone, absent = sorted(data.get("missing") or []), sorted(data.get("absent") or [])
    return f"{data['arch']}:{gone}|{absent}"


def _close(sketches: npt.NDArray[np.int64]) -> Iterator[tuple[int, int]]:
    """Places of every pair of sketches that are few bits apart."""
    bits = sketches.view(np.uint64)
    for place in range(len(bits) - 1):
        apart = np.bitwise_count(bits[place + 1 :] ^ bits[place])
        for offset in np.flatnonzero(apart <= MOST_BITS).tolist():
            yield place, place + 1 + offset


def _pairs(
    ordered: Sequence[str],
    sketches: npt.NDArray[np.int64],
    leaves: Mapping[str, npt.NDArray[np.uint64]],
    data: Mapping[str, dict[str, Any]],
    least: float,
) -> Iterator[Pair]:
    sizes = {case_id: len(one) for case_id, one in leaves.items()}
    for one, other in _close(sketches):
        first, second = ordered[one], ordered[other]
        if first not in sizes or second not in sizes:
            continue  # damaged: told elsewhere
        # no more can be common than the smaller of the two has
        if min(sizes[first], sizes[second]) < least * max(sizes[first], sizes[second]):
            continue
        share = documents.overlap(leaves[first], leaves[second])
        if share >= least:
            lines = documents.differences_of(data[first], data[second])
            differing = tuple(line for line in lines if line[0] not in ("id", "title"))
            yield Pair(first, second, share, differing)


def _in_order(found: Iterable[Pair]) -> list[Pair]:
    return sorted(found, key=lambda pair: (-pair.overlap, pair.first, pair.second))
