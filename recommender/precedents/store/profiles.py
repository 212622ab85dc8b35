"""Profiles of the house's own hand as they were adopted for a library, kept in it as text that this room does not read.

A row is only ever added, and the last one counts; one without a document says that none does. In a library of a team
the database lets a steward alone add one, and says itself who and when.
"""

from dataclasses import dataclass

from sqlalchemy import insert, select

from recommender.precedents.store.documents import checksum, is_sound
from recommender.precedents.store.errors import DamagedLibrary
from recommender.precedents.store.library import Library
from recommender.precedents.store.records import now
from recommender.precedents.store.schema import profiles

ACT = "rules"


@dataclass(frozen=True, slots=True)
class Row:
    """One adoption; ``document`` is empty where a profile was taken back."""

    seq: int
    who: str
    at: str
    document: str
    checksum: str


def last(library: Library) -> Row | None:
    """The row that counts; ``None`` where nothing was ever adopted. Raises ``DamagedLibrary``."""
    with library.reading() as connection:
        found = connection.execute(select(profiles).order_by(profiles.c.seq.desc()).limit(1)).first()
    return None if found is None else _sound(library, Row(*found))


def every(library: Library) -> list[Row]:
    """Every adoption, the latest first. Raises ``DamagedLibrary``."""
    with library.reading() as connection:
        rows = connection.execute(select(profiles).order_by(profiles.c.seq.desc())).all()
    return [_sound(library, Row(*row)) for row in rows]


def add(library: Library, document: str, who: str) -> None:
    """One more adoption, or ``""`` for none. Raises ``NotAllowed`` where whoever is at work may not."""
    name = library.named(who)
    row = {"who": name, "at": now(), "document": document, "checksum": checksum(document)}
    with library.writing(ACT) as connection:
        connection.execute(insert(profiles), [row])


def _sound(library: Library, row: Row) -> Row:
    if not is_sound(row.document, row.checksum):
        raise DamagedLibrary(
            f"{library.where}: the profile of the house that was adopted at {row.at} was changed after it was saved; "
            "'library repair' takes it out, '--profile none' goes without it"
        )
    return row
