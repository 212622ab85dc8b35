"""Import: first a report for every row, then all of it or the valid rows, as the user says.

A row is ``new``, ``changed`` (the id is there with other content), ``identical``, ``near_duplicate`` (new,
but nearly the same as another case) or ``invalid``. Rows go through a file on disk, so that a hundred
thousand need no more memory than a few hundred, and so that the writing itself is short.
"""

import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass, field
from itertools import islice
from typing import IO, Literal, TypeVar

import orjson
from sqlalchemy import Connection, delete, insert, select, update

from recommender.domain.case import Case, Review
from recommender.domain.errors import Problem
from recommender.precedents.store import documents
from recommender.precedents.store.errors import LibraryError, UnfitText
from recommender.precedents.store.gate import checked_who, looked_at
from recommender.precedents.store.importing.near_duplicates import NearIndex
from recommender.precedents.store.importing.rows import Row
from recommender.precedents.store.library import Library
from recommender.precedents.store.pending import WAITS, keeps_approval, serving_among
from recommender.precedents.store.records import Entry, Version, now
from recommender.precedents.store.schema import cases, imports
from recommender.privacy.gate import hits

Verdict = Literal["new", "changed", "identical", "near_duplicate", "invalid"]
VERDICTS: tuple[Verdict, ...] = ("new", "changed", "identical", "near_duplicate", "invalid")
BATCH = 500
STATED_AS = "stated as"  # how the note begins that a review state was not taken over
_Thing = TypeVar("_Thing")


def batched(things: Iterable[_Thing], size: int) -> Iterator[list[_Thing]]:
    """Lists of at most ``size`` things."""
    source = iter(things)
    while batch := list(islice(source, size)):
        yield batch


@dataclass(frozen=True, slots=True)
class Report:
    """What would happen, or happened, to one row.

    ``of`` and ``overlap`` name the case that it nearly repeats.
    """

    place: str
    case_id: str | None
    verdict: Verdict
    of: str | None = None
    overlap: float | None = None
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(slots=True)
class Summary:
    """Counts by verdict; ``written`` is how many cases were added or changed in the library."""

    counts: dict[str, int] = field(default_factory=lambda: dict.fromkeys(VERDICTS, 0))
    written: int = 0
    passed_over: int = 0

    @property
    def rows(self) -> int:
        """How many rows were looked at."""
        return sum(self.counts.values())


class ImportRefused(LibraryError):  # noqa: N818
    """All of it was wanted, but some rows are invalid; nothing was imported."""

    def __init__(self, summary: Summary) -> None:
        self.summary = summary
        super().__init__(
            f"{summary.counts['invalid']} of {summary.rows} rows are invalid; nothing was imported. "
            "Put them right, or import the valid ones only"
        )


@dataclass(frozen=True, slots=True)
class Terms:
    """How to import. A case with a text that may identify a patient comes in as a draft, whatever is wanted.

    ``keep_status``: take over approval as the source states it; otherwise everything comes in as a draft. A change of
    a case that is approved here always waits for a reviewer.
    ``skip_near``: leave out near-duplicates.
    """

    who: str
    why: str
    keep_status: bool = field(default=False, kw_only=True)
    skip_near: bool = field(default=False, kw_only=True)


def dry_run(library: Library, rows: Iterable[Row], terms: Terms, each: Callable[[Report], None]) -> Summary:
    """Reports every row and writes nothing."""
    with _Sorting(library, terms) as sorting:
        for _ in sorting.batches(rows, each):
            pass
        return sorting.summary


def import_all(
    library: Library, rows: Iterable[Row], terms: Terms, each: Callable[[Report], None]
) -> Summary:
    """Imports every row in one transaction.

    Raises ``ImportRefused``, with nothing written, if a row is invalid.
    """
    with _Sorting(library, terms) as sorting:
        for _ in sorting.batches(rows, each):
            pass
        summary = sorting.summary
        if summary.counts["invalid"]:
            raise ImportRefused(summary)
        with library.writing() as connection:
            for batch in batched(sorting.spooled(), BATCH):
                stale = _write(library, connection, batch, terms)
                if stale:
                    raise LibraryError(
                        f"{', '.join(stale[:5])}: changed by somebody else while the import was being read; "
                        "nothing was imported, start again"
                    )
                summary.written += len(batch)
        return summary


def import_valid(
    library: Library,
    rows: Iterable[Row],
    terms: Terms,
    each: Callable[[Report], None],
    *,
    digest: str,
    name: str,
) -> Summary:
    """Imports the valid rows in batches, each kept at once.

    ``digest`` identifies the source: an import of it that was stopped goes on where it had come to.
    """
    done = _begin(library, digest, name, terms.who)
    with _Sorting(library, terms) as sorting:
        summary = sorting.summary
        summary.passed_over = done
        for batch, seen in sorting.batches(islice(rows, done, None), each):
            with library.writing() as connection:
                stale = set(_write(library, connection, batch, terms))
                connection.execute(
                    update(imports).where(imports.c.digest == digest).values(done=done + seen, at=now())
                )
            for item in batch:
                if item.entry.columns.id in stale:
                    each(
                        Report(
                            "",
                            item.entry.columns.id,
                            "invalid",
                            notes=("changed by somebody else meanwhile",),
                        )
                    )
            summary.written += len(batch) - len(stale)
    with library.writing() as connection:
        connection.execute(delete(imports).where(imports.c.digest == digest))
    return summary


def _begin(library: Library, digest: str, name: str, who: str) -> int:
    with library.writing() as connection:
        done = connection.scalar(select(imports.c.done).where(imports.c.digest == digest))
        if done is None:
            connection.execute(
                insert(imports).values(
                    digest=digest, name=name, done=0, finished=False, who=checked_who(who), at=now()
                )
            )
        return done or 0


@dataclass(frozen=True, slots=True)
class Item:
    """A row to be written: revision 0 was read for a new case."""

    entry: Entry
    opened: int


def _write(library: Library, connection: Connection, batch: Sequence[Item], terms: Terms) -> list[str]:
    new = [item.entry for item in batch if item.opened == 0]
    held: set[str] = set()
    if new:
        ids = [entry.columns.id for entry in new]
        held = set(connection.scalars(select(cases.c.id).where(cases.c.id.in_(ids))))
    fresh = [entry for entry in new if entry.columns.id not in held]
    library.add_all(connection, fresh, who=terms.who, why=terms.why, kind="imported")
    stale = sorted(held)
    for item in batch:
        if item.opened and not library.change(
            connection, item.entry, opened=item.opened, who=terms.who, why=terms.why, kind="imported"
        ):
            stale.append(item.entry.columns.id)
    return stale


class _Sorting:
    """Gives every row its verdict and keeps what is to be written in a file on disk."""

    def __init__(self, library: Library, terms: Terms) -> None:
        checked_who(terms.who)
        self.library = library
        self.terms = terms
        self.summary = Summary()
        self._near = NearIndex.of(library)
        self._seen: dict[str, str] = {}
        self._looked: dict[str, set[str]] = {}
        self._serving: set[str] = set()
        self._at: dict[str, int] = {}
        self._spool: IO[bytes] = tempfile.TemporaryFile()  # noqa: SIM115 - closed in __exit__

    def __enter__(self) -> "_Sorting":
        return self

    def __exit__(self, *_: object) -> None:
        self._spool.close()

    def batches(
        self, rows: Iterable[Row], each: Callable[[Report], None]
    ) -> Iterator[tuple[list[Item], int]]:
        """What is to be written, batch by batch, with how many rows have been looked at so far."""
        seen = 0
        for batch in batched(rows, BATCH):
            current = self.library.held([row.case.id for row in batch if row.case is not None])
            with self.library.reading() as connection:
                self._looked = looked_at(connection, list(current))
                self._serving = serving_among(connection, list(current))
            items: list[Item] = []
            for row in batch:
                report, item = self._sort(row, current)
                self.summary.counts[report.verdict] += 1
                each(report)
                if item is not None:
                    self._keep(item)
                    items.append(item)
            seen += len(batch)
            yield items, seen

    def spooled(self) -> Iterator[Item]:
        """Everything to be written, in order."""
        self._spool.seek(0)
        for line in self._spool:
            document, columns, opened = orjson.loads(line)
            yield Item(Entry(document, documents.Columns(**columns)), opened)

    def _keep(self, item: Item) -> None:
        self._at[item.entry.columns.id] = self._spool.seek(0, 2)
        self._spool.write(
            orjson.dumps([item.entry.document, asdict(item.entry.columns), item.opened]) + b"\n"
        )

    def _sort(self, row: Row, current: dict[str, Version]) -> tuple[Report, Item | None]:
        if row.case is None:
            return Report(row.place, None, "invalid", problems=row.problems, notes=row.notes), None
        case_id = row.case.id
        if case_id in self._seen:
            problem = Problem(
                row.place, "id", f"{case_id} a second time", f"each id once (first in {self._seen[case_id]})"
            )
            return Report(row.place, case_id, "invalid", problems=(problem,), notes=row.notes), None
        self._seen[case_id] = row.place
        held = current.get(case_id)
        case, notes = self._arriving(documents.for_library(row.case), held)
        notes = (*row.notes, *notes)
        data = documents.as_data(case)
        try:
            document = documents.dump(case, data)
        except UnfitText as error:
            problem = Problem(row.place, "", "a control character in a text", str(error))
            return Report(row.place, case_id, "invalid", problems=(problem,), notes=notes), None
        if held is not None and self._same(document, held.document):
            return Report(row.place, case_id, "identical", notes=row.notes), None
        entry = Entry(document, documents.columns(case, data))
        if held is not None:
            return Report(row.place, case_id, "changed", notes=notes), Item(entry, held.revision)
        columns = entry.columns
        near = self._near.nearest(case, columns.dentition, columns.sketch, self._read)
        self._near.add(case_id, columns.dentition, columns.sketch)
        item = Item(entry, 0)
        if near is None:
            return Report(row.place, case_id, "new", notes=notes), item
        report = Report(row.place, case_id, "near_duplicate", near[0], near[1], notes=notes)
        return report, None if self.terms.skip_near else item

    def _read(self, case_id: str) -> Case | None:
        place = self._at.get(case_id)
        if place is not None:
            self._spool.seek(place)
            return documents.load(orjson.loads(self._spool.readline())[0])
        try:
            return self.library.get(case_id).case
        except LibraryError:
            return None  # left out of this import, or gone since

    def _same(self, arriving: str, stored: str) -> bool:
        if arriving == stored or self.terms.keep_status:
            return arriving == stored
        first, second = orjson.loads(arriving), orjson.loads(stored)
        return {**first, "review": None} == {**second, "review": None}

    def _arriving(self, case: Case, held: Version | None) -> tuple[Case, tuple[str, ...]]:
        """The case as it comes in: a draft, unless its approval is to be kept and nothing in it looks like
        identity.
        """
        state = documents.status(case)
        seen = self._looked.get(case.id, ())
        found = [hit for hit in hits(case) if hit.mark not in seen]
        notes = [f"may identify a patient: {hit}" for hit in found]
        if held is not None and case.id in self._serving:
            if keeps_approval(held.case, case, found):
                return case.model_copy(update={"review": held.case.review}), tuple(notes)
            notes.append(WAITS)
        elif self.terms.keep_status and not (state == "approved" and found):
            return case, tuple(notes)
        teaching = case.review.teaching_note if case.review else None
        if held is not None and teaching is None:
            stored = held.case.review
            teaching = stored.teaching_note if stored else None
        if state == "draft" and case.review is not None and teaching == case.review.teaching_note:
            return case, tuple(notes)
        if state != "draft":
            notes.append(f"{STATED_AS} {state}; comes in as a draft, to be approved here")
        review = Review(status="draft", teaching_note=teaching)
        if case.review is None and teaching is None and held is None:
            return case, tuple(notes)
        return case.model_copy(update={"review": review}), tuple(notes)
