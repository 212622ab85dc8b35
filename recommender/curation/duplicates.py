"""Cases that nearly repeat each other, side by side."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import orjson

from recommender.curation.near_pairs import Marks, near_pairs
from recommender.domain.case import Case
from recommender.precedents.processes import batched, shared_out
from recommender.precedents.store import documents
from recommender.precedents.store.importing.near_duplicates import LEAST_OVERLAP
from recommender.precedents.store.library import Library
from recommender.precedents.store.records import Version


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
    return _side_by_side(near_pairs(map(Marks.of, kept.values()), least), kept)


def stored_near_duplicates(
    library: Library,
    least: float = LEAST_OVERLAP,
    told: Callable[[int, int], None] = lambda _done, _of: None,
    jobs: int = 1,
) -> list[Pair]:
    """The same of a database, each case in its latest version, read by several processes; of most cases only digests
    are kept."""
    counts = library.counts()
    of = sum(counts.values()) - counts.get("retired", 0)
    marks: list[Marks] = []
    latest = library.latest(status=("draft", "approved"))
    for found in shared_out(marks_of, batched(latest, _BATCH), jobs if of >= _WORTH else 1):
        marks += found
        told(min(len(marks), of), of)
    pairs = list(near_pairs(marks, least))
    told(of, of)
    return _side_by_side(pairs, _documents(library, sorted({one for pair in pairs for one in pair[:2]})))


_BATCH, _WORTH = 200, 1_000


def marks_of(versions: Sequence[Version]) -> list[Marks]:
    """The marks of some versions; what is damaged is told elsewhere."""
    return [Marks.of(orjson.loads(version.document)) for version in versions if version.intact]


def _documents(library: Library, ids: Sequence[str]) -> dict[str, dict[str, Any]]:
    held = (library.held(batch) for batch in batched(ids, _BATCH))
    return {
        case_id: orjson.loads(version.document)
        for found in held
        for case_id, version in found.items()
        if version.intact
    }


def _side_by_side(pairs: Iterable[tuple[str, str, float]], data: Mapping[str, dict[str, Any]]) -> list[Pair]:
    found = [
        Pair(first, second, share, tuple(_differing(data[first], data[second])))
        for first, second, share in pairs
        if first in data and second in data
    ]
    return sorted(found, key=lambda pair: (-pair.overlap, pair.first, pair.second))


def _differing(first: dict[str, Any], second: dict[str, Any]) -> Iterator[tuple[str, Any, Any]]:
    return (line for line in documents.differences_of(first, second) if line[0] not in ("id", "title"))
