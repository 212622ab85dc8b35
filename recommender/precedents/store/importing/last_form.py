"""What the source of each imported case said of it at its last import."""

from collections.abc import Mapping, Sequence

from sqlalchemy import Connection, delete, insert, select

from recommender.precedents.store import documents
from recommender.precedents.store.records import now
from recommender.precedents.store.schema import imported, versions

_REVIEWED = ("approved", "retired", "drafted")


def last_forms(connection: Connection, ids: Sequence[str]) -> dict[str, str]:
    """The kept text of what the source said last, by case. A text that was changed behind the program's back is left
    out: what cannot be trusted is not known."""
    if not ids:
        return {}
    query = select(imported.c.case_id, imported.c.document, imported.c.checksum).where(
        imported.c.case_id.in_(ids)
    )
    return {
        str(case_id): str(document)
        for case_id, document, checksum in connection.execute(query)
        if documents.is_sound(document, checksum)
    }


def keep_forms(connection: Connection, forms: Mapping[str, str], known: Sequence[str] | None = None) -> None:
    """Keeps what the source says now, instead of what it said before of the ``known`` cases (left out: of all)."""
    if not forms:
        return
    at = now()
    before = list(forms) if known is None else list(known)
    if before:
        connection.execute(delete(imported).where(imported.c.case_id.in_(before)))
    connection.execute(
        insert(imported),
        [
            {"case_id": case_id, "document": text, "checksum": documents.checksum(text), "at": at}
            for case_id, text in forms.items()
        ],
    )


def reviewed_among(connection: Connection, ids: Sequence[str]) -> set[str]:
    """Those of these cases that a reviewer of this library has ever decided on."""
    if not ids:
        return set()
    query = select(versions.c.case_id).where(versions.c.case_id.in_(ids), versions.c.kind.in_(_REVIEWED))
    return {str(case_id) for case_id in connection.scalars(query.distinct())}
