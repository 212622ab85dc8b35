"""Import: first a report for every row, then all of it or the valid rows, as the user says.

Rows are sorted by verdict (``sorting``) and go through a file on disk, so that a hundred thousand need no more memory
than a few hundred, and so that the writing itself is short.
"""

from collections.abc import Callable, Iterable, Sequence
from itertools import islice

from sqlalchemy import Connection, delete, insert, select, update

from recommender.precedents.processes import batched
from recommender.precedents.store.errors import LibraryError
from recommender.precedents.store.importing import sorting
from recommender.precedents.store.importing.last_form import keep_forms
from recommender.precedents.store.importing.reports import ImportRefused, Report, Summary, Terms
from recommender.precedents.store.importing.rows import Row
from recommender.precedents.store.importing.sorting import Item, Sorting
from recommender.precedents.store.library import Library
from recommender.precedents.store.records import now
from recommender.precedents.store.schema import cases, imports


def dry_run(library: Library, rows: Iterable[Row], terms: Terms, each: Callable[[Report], None]) -> Summary:
    """Reports every row and writes nothing."""
    with Sorting(library, terms) as found:
        for _ in found.batches(rows, each):
            pass
        return found.summary


def import_all(
    library: Library, rows: Iterable[Row], terms: Terms, each: Callable[[Report], None]
) -> Summary:
    """Imports every row in one transaction.

    Raises ``ImportRefused``, with nothing written, if a row is invalid, collides or waits for a decision.
    """
    with Sorting(library, terms) as found:
        for _ in found.batches(rows, each):
            pass
        summary = found.summary
        if summary.refused:
            raise ImportRefused(summary)
        with library.writing("import") as connection:
            for batch in batched(found.spooled(), sorting.BATCH):
                stale = _write(library, connection, batch, terms)
                if stale:
                    raise LibraryError(
                        f"{', '.join(stale[:5])}: changed by somebody else while the import was being read; "
                        "nothing was imported, start again"
                    )
                summary.written += sum(item.entry is not None for item in batch)
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
    """Imports the rows that are neither invalid nor undecided nor in collision, in batches, each kept at once.

    ``digest`` identifies the source and every option: an import of it that was stopped goes on where it had come to.
    """
    done = _begin(library, digest, name, terms.who)
    with Sorting(library, terms) as found:
        summary = found.summary
        summary.passed_over = done
        for batch, seen in found.batches(islice(rows, done, None), each):
            with library.writing("import") as connection:
                stale = set(_write(library, connection, batch, terms))
                connection.execute(
                    update(imports).where(imports.c.digest == digest).values(done=done + seen, at=now())
                )
            for case_id in sorted(stale):
                each(Report("", case_id, "invalid", notes=("changed by somebody else meanwhile",)))
            summary.written += sum(item.entry is not None and item.case_id not in stale for item in batch)
    with library.writing("import") as connection:
        connection.execute(delete(imports).where(imports.c.digest == digest))
    return summary


def _begin(library: Library, digest: str, name: str, who: str) -> int:
    with library.writing("import") as connection:
        done = connection.scalar(select(imports.c.done).where(imports.c.digest == digest))
        if done is None:
            connection.execute(
                insert(imports).values(
                    digest=digest, name=name, done=0, finished=False, who=library.named(who), at=now()
                )
            )
        return done or 0


def _write(library: Library, connection: Connection, batch: Sequence[Item], terms: Terms) -> list[str]:
    new = {item.case_id: item.entry for item in batch if item.opened == 0 and item.entry is not None}
    held: set[str] = set()
    if new:
        held = set(connection.scalars(select(cases.c.id).where(cases.c.id.in_(list(new)))))
    fresh = [entry for case_id, entry in new.items() if case_id not in held]
    library.add_all(connection, fresh, who=terms.who, why=terms.why, kind="imported")
    stale = sorted(held)
    for item in batch:
        if (
            item.opened
            and item.entry is not None
            and not library.change(
                connection, item.entry, opened=item.opened, who=terms.who, why=terms.why, kind="imported"
            )
        ):
            stale.append(item.case_id)
    forms = {item.case_id: item.form for item in batch if item.case_id not in stale}
    keep_forms(connection, forms, [item.case_id for item in batch if item.opened])
    return stale
