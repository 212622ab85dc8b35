"""Taking a text that identifies a patient out of a case, and out of its whole history.

The one change that reaches back: identity must not stay readable in old versions. It is done on command only, is
itself a version that says who did it and why, and leaves everything but that text as it was. Backups and exports
made before still hold the text; the caller has to be told so.
"""

import re
from typing import Any

import orjson
from sqlalchemy import select, update

from recommender.domain.case import Case
from recommender.precedents.index.serving import forget
from recommender.precedents.store import documents
from recommender.precedents.store.database_source import DatabaseSource
from recommender.precedents.store.errors import LibraryError, NoSuchCase, UnfitText
from recommender.precedents.store.gate import checked_reason
from recommender.precedents.store.importing.last_form import keep_forms, last_forms
from recommender.precedents.store.importing.merging import TAKEN_OUT
from recommender.precedents.store.library import Library
from recommender.precedents.store.records import Entry, Version
from recommender.precedents.store.schema import versions
from recommender.privacy.gate import texts

_STEP = re.compile(r"([a-z_]+)|\[#(\d+)\]")


def redact(library: Library, case_id: str, field: str, *, who: str, why: str) -> tuple[Version, int]:
    """Replaces the text of ``field`` (as identity warnings name it) in every version by ``[taken out]``.

    Returns the version that records it, and how many versions were changed. Raises ``NoSuchCase``, ``UnfitText``
    for a field that holds no free text in any version or a reason that is empty or names somebody.
    """
    if not why.strip():
        raise UnfitText("give a reason; it is kept with the case (without repeating the text)")
    reason = checked_reason(why)
    with library.writing("redact") as connection:
        if library.engine.dialect.name == "sqlite":
            connection.exec_driver_sql(
                "PRAGMA secure_delete=ON"
            )  # freed pages are overwritten, not only let go
        rows = connection.execute(
            select(versions.c.seq, versions.c.revision, versions.c.document)
            .where(versions.c.case_id == case_id)
            .order_by(versions.c.revision)
        ).all()
        if not rows:
            raise NoSuchCase(f"{library.where} has no case {case_id!r}")
        changed = 0
        case: Case | None = None
        for row in rows:
            case = documents.load(row.document)
            if field != "id" and field in dict(texts(documents.as_data(case))):
                case = _without(case, field)
                text = documents.dump(case)
                connection.execute(
                    update(versions)
                    .where(versions.c.seq == row.seq)
                    .values(document=text, checksum=documents.checksum(text))
                )
                changed += 1
        if not changed or case is None:
            raise UnfitText(f"case {case_id}: no version holds a free text at {field!r}")
        for form in last_forms(connection, [case_id]).values():
            stated = documents.load(form)
            if field in dict(texts(documents.as_data(stated))):
                keep_forms(connection, {case_id: documents.dump(_without(stated, field))})
        revision = int(rows[-1].revision)
        saved = library.change(
            connection, Entry.of(case), opened=revision, who=who, why=reason, kind="redacted"
        )
        if not saved:
            raise LibraryError(
                f"case {case_id}: changed by somebody else meanwhile; nothing was changed, try again"
            )
    # words of how a case fared and why it was approved stand in the index as well
    forget(DatabaseSource(library))
    return library.get(case_id, revision + 1), changed


def _without(case: Case, field: str) -> Case:
    data: dict[str, Any] = orjson.loads(documents.dump(case))
    node: Any = data
    steps: list[str | int] = [name or int(count) - 1 for name, count in _STEP.findall(field)]
    for step in steps[:-1]:
        node = node[step]
    node[steps[-1]] = TAKEN_OUT
    return Case.model_validate(data)
