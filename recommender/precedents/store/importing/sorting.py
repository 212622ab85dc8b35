"""Gives every row its verdict, and keeps what is to be written, in a file on disk where it is much."""

import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import IO, TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import orjson

from recommender.domain.errors import Problem
from recommender.precedents.processes import batched
from recommender.precedents.store import documents
from recommender.precedents.store.errors import LibraryError
from recommender.precedents.store.gate import looked_at
from recommender.precedents.store.importing.last_form import last_forms, reviewed_among
from recommender.precedents.store.importing.merging import TAKEN_OUT, collides, kept_out
from recommender.precedents.store.importing.near_duplicates import NearIndex
from recommender.precedents.store.importing.ready import Ready, ready
from recommender.precedents.store.importing.reimport import Meeting, met
from recommender.precedents.store.importing.reports import Report, Summary, Terms
from recommender.precedents.store.importing.rows import Row
from recommender.precedents.store.library import Library
from recommender.precedents.store.pending import serving_among
from recommender.precedents.store.records import Entry, Version

if TYPE_CHECKING:
    from collections.abc import Set as AbstractSet

BATCH = 500
_IN_MEMORY = 32_000_000  # characters of documents that are kept without the file


@dataclass(frozen=True, slots=True)
class Item:
    """What is to be written of a row: its case (``entry``; revision 0 was read for a new one), and what its source
    says now (``form``)."""

    case_id: str
    opened: int
    form: str
    entry: Entry | None


@dataclass(slots=True)
class _Known:
    """What the library knows of the cases of one batch."""

    held: dict[str, Version]
    forms: dict[str, str]
    looked: dict[str, set[str]]
    serving: "AbstractSet[str]"
    reviewed: "AbstractSet[str]"


class Sorting:
    """Use it as a context manager; ``batches`` gives what is to be written as it comes, ``spooled`` all of it again."""

    def __init__(self, library: Library, terms: Terms) -> None:
        library.named(terms.who)
        self.library = library
        self.terms = terms
        self.summary = Summary()
        self._near = NearIndex.of(library)
        self._seen: dict[str, str] = {}
        self._at: dict[str, tuple[int, int]] = {}
        self._end = 0
        self._held: list[Item] = []
        self._length = 0
        self._spool: IO[bytes] = tempfile.TemporaryFile()  # noqa: SIM115 - closed in __exit__
        self._leaves: IO[bytes] = tempfile.TemporaryFile(buffering=0)  # noqa: SIM115

    def __enter__(self) -> "Sorting":
        return self

    def __exit__(self, *_: object) -> None:
        self._spool.close()
        self._leaves.close()

    def batches(
        self, rows: Iterable[Row], each: Callable[[Report], None]
    ) -> Iterator[tuple[list[Item], int]]:
        """What is to be written, batch by batch, with how many rows have been looked at so far."""
        seen = 0
        for batch in batched(rows, BATCH):
            known = self._known([row.case_id for row in batch if row.case_id is not None])
            items: list[Item] = []
            for row in batch:
                report, item = self._sort(row, known)
                self.summary.counts[report.verdict] += 1
                each(report)
                if item is not None:
                    self._keep(item)
                    items.append(item)
            seen += len(batch)
            yield items, seen

    def spooled(self) -> Iterator[Item]:
        """Everything to be written, in order."""
        yield from self._held
        self._spool.seek(0)
        for line in self._spool:
            case_id, opened, form, document, columns, clean = orjson.loads(line)
            entry = None if document is None else Entry(document, documents.Columns(**columns), clean)
            yield Item(case_id, opened, document if form is True else form, entry)

    def _known(self, ids: Sequence[str]) -> _Known:
        held = self.library.held(ids)
        if not held:
            return _Known({}, {}, {}, set(), set())
        here = list(held)
        with self.library.reading() as connection:
            return _Known(
                held, last_forms(connection, here), looked_at(connection, here),
                serving_among(connection, here), reviewed_among(connection, here),
            )  # fmt: skip

    def _keep(self, item: Item) -> None:
        self._length += len(item.form) if item.entry is None else len(item.entry.document)
        if self._length < _IN_MEMORY:
            self._held.append(item)
            return
        entry = item.entry
        kept = (None, None, False) if entry is None else (entry.document, entry.columns, entry.clean)
        form = True if item.form == kept[0] else item.form
        self._spool.write(orjson.dumps([item.case_id, item.opened, form, *kept]) + b"\n")

    def _sort(self, row: Row, known: _Known) -> tuple[Report, Item | None]:
        coming = row.ready
        if coming is None and row.case is not None:
            coming = ready(row.case, row.place, keep_status=self.terms.keep_status)
        if isinstance(coming, Problem):
            return Report(row.place, row.case_id, "invalid", problems=(coming,), notes=row.notes), None
        if coming is None:
            return Report(row.place, row.case_id, "invalid", problems=row.problems, notes=row.notes), None
        case_id = coming.case_id
        if case_id in self._seen:
            problem = Problem(
                row.place, "id", f"{case_id} a second time", f"each id once (first in {self._seen[case_id]})"
            )
            return Report(row.place, case_id, "invalid", problems=(problem,), notes=row.notes), None
        self._seen[case_id] = row.place
        held = known.held.get(case_id)
        if held is not None:
            return self._meet(row, coming, held, known)
        return self._new(row, coming)

    def _new(self, row: Row, coming: Ready) -> tuple[Report, Item | None]:
        notes, columns, case_id = (*row.notes, *coming.notes), coming.columns, coming.case_id
        leaves = np.frombuffer(coming.leaves, dtype=np.uint64)
        near = self._near.nearest(case_id, columns.dentition, columns.sketch, leaves, self._read)
        self._near.add(case_id, columns.dentition, columns.sketch)
        self._at[case_id] = (self._end, len(coming.leaves))
        self._leaves.seek(self._end)
        self._end += self._leaves.write(coming.leaves)
        item = Item(case_id, 0, coming.form, Entry(coming.document, columns, not coming.found))
        if near is None:
            return Report(row.place, case_id, "new", notes=notes), item
        report = Report(row.place, case_id, "near_duplicate", near[0], near[1], notes=notes)
        if self.terms.skip_near:
            del self._at[case_id]  # left out: nothing repeats it
            return report, None
        return report, item

    def _meet(self, row: Row, coming: Ready, held: Version, known: _Known) -> tuple[Report, Item | None]:
        case_id, form = coming.case_id, known.forms.get(coming.case_id)
        last = None if form is None else orjson.loads(form)
        given, here = orjson.loads(coming.form), orjson.loads(held.document)
        both = collides(last, given, here)
        if both is not None:
            problem = Problem(
                row.place, "id", f"{case_id} with {both[0]}",
                f"the arch and dentition of {case_id} in the library: {both[1]}",
                "another patient under the same number needs another id; a dentition is put right with 'library edit'",
            )  # fmt: skip
            return Report(row.place, case_id, "collision", problems=(problem,), notes=row.notes), None
        meeting = Meeting(
            coming, held, last, given, here,
            seen=frozenset(known.looked.get(case_id, ())),
            serves=case_id in known.serving,
            reviewed=case_id in known.reviewed,
        )  # fmt: skip
        report, entry = met(row, meeting, self.terms)
        if report.verdict in ("undecided", "invalid"):
            return report, None
        now = coming.form
        if TAKEN_OUT in held.document or (form and TAKEN_OUT in form):
            now = orjson.dumps(kept_out(given, here, last), option=orjson.OPT_SORT_KEYS).decode()
        if entry is None and form == now:
            return report, None
        return report, Item(case_id, held.revision, now, entry)

    def _read(self, case_id: str) -> "npt.NDArray[np.uint64] | None":
        place = self._at.get(case_id)
        if place is not None:
            self._leaves.seek(place[0])
            return np.frombuffer(self._leaves.read(place[1]), dtype=np.uint64)
        try:
            return documents.leaf_digests(orjson.loads(self.library.get(case_id).document))
        except LibraryError:
            return None  # left out of this import, or gone since
