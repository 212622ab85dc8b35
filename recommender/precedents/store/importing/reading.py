"""Rows read and made ready by several processes: nearly all of the work of an import needs no library."""

from collections.abc import Iterator, Sequence
from functools import partial
from pathlib import Path

from recommender.collector import waits
from recommender.precedents.processes import batched, shared_out
from recommender.precedents.store.importing.ready import ready
from recommender.precedents.store.importing.rows import Row, from_bytes, raw, rows

_CHUNK = 100
_WORTH = 1_000_000  # bytes from which on more than one process is worth its start


def ready_rows(path: Path, *, keep_status: bool, jobs: int) -> Iterator[Row]:
    """As ``rows.rows``; the cases of a large source are made ready under these terms too, by several processes."""
    if jobs == 1 or not _large(path):
        yield from rows(path)
        return
    work = partial(_made_ready, keep_status)
    for done in shared_out(work, batched(raw(path), _CHUNK), jobs):
        yield from done


def _large(path: Path) -> bool:
    if path.is_dir():
        return any(number >= _CHUNK for number, _ in enumerate(path.rglob("*")))
    return path.stat().st_size >= _WORTH


def _made_ready(keep_status: bool, chunk: Sequence[tuple[str, bytes] | Row]) -> list[Row]:
    found = []
    with waits():
        for one in chunk:
            row = one if isinstance(one, Row) else from_bytes(one[1], one[0])
            if row.case is not None:
                made = ready(row.case, row.place, keep_status=keep_status)
                row = Row(row.place, None, row.problems, row.notes, made)
            found.append(row)
    return found
