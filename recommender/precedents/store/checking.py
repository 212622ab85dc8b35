"""Looks a library through: is every document what was saved, and does every column say what its document
says?
"""

from dataclasses import asdict

from sqlalchemy import Integer, and_, func, select, text

from recommender.precedents.store import documents
from recommender.precedents.store.library import Library
from recommender.precedents.store.schema import cases, versions

_STREAM = {"stream_results": True, "max_row_buffer": 500}


def faults(library: Library) -> list[str]:
    """One line for each thing that is wrong; empty for a sound library."""
    found: list[str] = []
    with library.reading() as connection:
        if library.engine.dialect.name == "sqlite":
            state = connection.scalar(text("PRAGMA integrity_check"))
            if state != "ok":
                found.append(f"{library.where}: damaged file ({state})")
            found += [
                f"{library.where}: row {row[1]} of {row[0]} belongs to no case"
                for row in connection.execute(text("PRAGMA foreign_key_check"))
            ]
        newest = (
            select(
                versions.c.case_id,
                func.max(versions.c.revision).cast(Integer).label("newest"),
                func.count().label("number"),
            )
            .group_by(versions.c.case_id)
            .subquery()
        )
        joined = (
            select(cases.c.id, cases.c.revision, newest.c.newest, newest.c.number)
            .join(newest, newest.c.case_id == cases.c.id, isouter=True)
            .order_by(cases.c.id)
        )
        for case_id, revision, last, number in connection.execute(joined):
            if last is None:
                found.append(f"case {case_id}: has no version at all")
            elif last != revision or number != revision:
                found.append(f"case {case_id}: revision {revision}, but {number} versions up to {last}")
        query = select(
            versions.c.case_id, versions.c.revision, versions.c.document, versions.c.checksum
        ).order_by(versions.c.seq)
        stream = connection.execute(query, execution_options=_STREAM)
        found += [
            f"case {row.case_id} revision {row.revision}: the document was changed after it was saved"
            for row in stream
            if documents.checksum(row.document) != row.checksum
        ]
    found += _columns(library)
    return found


def _columns(library: Library) -> list[str]:
    found: list[str] = []
    names = list(documents.Columns.__dataclass_fields__)
    query = (
        select(*(cases.c[name] for name in names), versions.c.document)
        .join(versions, and_(cases.c.id == versions.c.case_id, cases.c.revision == versions.c.revision))
        .order_by(cases.c.id)
    )
    with library.reading() as connection:
        stream = connection.execute(query, execution_options=_STREAM)
        for row in stream.mappings():
            try:
                expected = asdict(documents.columns(documents.load(row["document"])))
            except ValueError as error:
                found.append(f"case {row['id']}: its document is not a case of this format ({error})")
                continue
            wrong = [name for name in names if row[name] != expected[name]]
            if wrong:
                found.append(f"case {row['id']}: the columns {', '.join(wrong)} do not fit its document")
    return found
