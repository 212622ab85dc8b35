"""``library repair``: a damaged library made sound again from its own history or from a backup.

A SQLite file is written anew beside the damaged one, which is kept under another name; on a server the rows concerned
are put right in one transaction. Nothing is mended without being told.
"""

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Table, delete, insert, select, update

from recommender.precedents.store import documents
from recommender.precedents.store.checking import UNREADABLE, Kept, find, salvaged, shown, structure
from recommender.precedents.store.databases import create_database, database_url, open_database
from recommender.precedents.store.engine import in_words
from recommender.precedents.store.errors import DamagedLibrary
from recommender.precedents.store.library import Library, put_setting
from recommender.precedents.store.mending import Mended, mended
from recommender.precedents.store.records import now
from recommender.precedents.store.schema import (
    TABLES,
    cases,
    imported,
    mappings,
    profiles,
    settings,
    versions,
)

_BESIDE = tuple(table for table in TABLES if table not in (cases, versions))


@dataclass(slots=True)
class Repaired:
    """``told``: what is not as it was saved, by case; ``lost``: cases that nothing could mend; ``kept``: where the
    damaged file lies now."""

    told: dict[str, tuple[str, ...]] = field(default_factory=dict)
    lost: dict[str, str] = field(default_factory=dict)
    beside: list[str] = field(default_factory=list)
    kept: Path | None = None


def repair(library: Library, spare: Library | None = None) -> Repaired:
    """Mends the library; ``spare`` is an open backup of it. Raises ``DamagedLibrary`` where nothing can be read and
    there is no backup, or where the outcome is not sound; then nothing was changed."""
    library.require("repair")
    done = Repaired()
    rows = list(_mended(library, spare, done))
    if library.engine.dialect.name == "sqlite":
        _write_anew(library, spare, rows, done)
    else:
        _put_right(library, rows, done)
    return done


def made_anew(where: str, spare: Library) -> Repaired:
    """A SQLite library of which nothing can be read, made anew from an open backup; the damaged file is kept beside."""
    from recommender.precedents.store.backup import back_up

    path = Path(str(database_url(where).database))
    done = Repaired(told={head.id: ("taken whole from the backup",) for head in spare.heads()})
    part = path.with_name(f".{path.name}.{_stamp()}.part")
    try:
        back_up(spare, part)
        done.kept = _put_in_place(part, path)
    finally:
        part.with_name(f"{part.name}.sha256").unlink(missing_ok=True)
        part.unlink(missing_ok=True)
    with open_database(where, write=True) as library, library.writing("repair") as connection:
        put_setting(connection, "restored", now())
    return done


def _stamp() -> str:
    return now().replace(":", "").replace(".", "")


def _put_in_place(part: Path, path: Path) -> Path:
    kept = path.with_name(f"{path.name}.damaged-{_stamp()}")
    os.replace(path, kept)
    log = path.with_name(f"{path.name}-wal")
    if log.exists():  # what was saved last may stand there alone
        os.replace(log, kept.with_name(f"{kept.name}-wal"))
    path.with_name(f"{path.name}-shm").unlink(missing_ok=True)
    os.replace(part, path)
    return kept


def _mended(library: Library, spare: Library | None, done: Repaired) -> Iterable[Mended]:
    spares = {kept.case_id: kept for kept in salvaged(spare)} if spare is not None else {}
    forms = _forms(library)
    seen: set[Any] = set()
    try:
        found = list(salvaged(library, whole=bool(structure(library))))
    except DamagedLibrary:
        if spare is None:
            raise
        found = []
    for kept in found:
        # a row whose very id was changed belongs to the case that its documents name
        own = _named(kept)
        if own in seen or (own != kept.case_id and any(other.case_id == own for other in found)):
            continue
        seen.add(own)
        whole = Kept(own, kept.head, [{**version, "case_id": own} for version in kept.versions])
        made = mended(whole, spares.get(own), forms.get(own))
        if made is None:
            done.lost[shown(own)] = "no sound version, no backup of it, and no source that is remembered"
            continue
        if made.told:
            done.told[shown(own)] = made.told
        yield made
    for case_id in sorted(set(spares) - seen):
        made = mended(Kept(case_id), spares[case_id])
        if made is not None:
            done.told[shown(case_id)] = ("taken whole from the backup",)
            yield made


def _named(kept: Kept) -> Any:
    import orjson

    for version in kept.versions:
        document = version["document"]
        if documents.is_sound(document, version["checksum"]):
            return orjson.loads(document).get("id")
    return kept.case_id


def _forms(library: Library) -> dict[Any, str]:
    return {
        row["case_id"]: row["document"]
        for row in _readable(library, imported)
        if documents.is_sound(row["document"], row["checksum"])
    }


def _readable(library: Library, table: Table) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    try:
        with library.engine.connect() as connection, connection.begin():
            found.extend(dict(row) for row in connection.execute(select(table)).mappings())
    except UNREADABLE:
        pass
    return found


def _write_anew(library: Library, spare: Library | None, rows: list[Mended], done: Repaired) -> None:
    path = Path(library.where.removeprefix("sqlite:///"))
    part = path.with_name(f".{path.name}.{_stamp()}.part")
    with in_words(library.where):
        try:
            with create_database(str(part)) as fresh:
                with fresh.writing() as connection:
                    _fill(connection, rows)
                    for table in _BESIDE:
                        _beside(connection, table, library, spare, done)
                    put_setting(connection, "restored", now())
                damage = find(fresh)
                if damage:
                    raise damage.error(library.where, "it could not be mended; nothing was changed")
            library.close()
            done.kept = _put_in_place(part, path)
        finally:
            for ending in ("", "-wal", "-shm"):
                part.with_name(part.name + ending).unlink(missing_ok=True)


def _fill(connection: Connection, rows: list[Mended]) -> None:
    taken: set[int] = set()
    later: list[dict[str, Any]] = []
    for made in rows:
        connection.execute(insert(cases).values(made.head))
    for made in rows:
        for version in made.versions:
            number = version.get("seq")
            if isinstance(number, int) and number not in taken:
                taken.add(number)
                connection.execute(insert(versions).values(version))
            else:
                later.append({key: value for key, value in version.items() if key != "seq"})
    for version in later:
        connection.execute(insert(versions).values(version))


def _beside(
    connection: Connection, table: Table, library: Library, spare: Library | None, done: Repaired
) -> None:
    rows = _readable(library, table)
    if spare is not None:
        keys = [column.name for column in table.primary_key.columns]
        known = {tuple(row[key] for key in keys) for row in rows}
        rows += [row for row in _readable(spare, table) if tuple(row[key] for key in keys) not in known]
    left = 0
    for row in rows:
        if not _fits(table, row):
            left += 1
            continue
        try:
            with connection.begin_nested():
                connection.execute(insert(table).values(row))
        except UNREADABLE:
            left += 1
    if left:
        done.beside.append(f"{table.name}: {left} rows were damaged and are left out")


def _fits(table: Table, row: Mapping[str, Any]) -> bool:
    if table in (imported, profiles):
        return documents.is_sound(row["document"], row["checksum"])
    if table in (settings, mappings):
        import orjson

        try:
            orjson.loads(row["value" if table is settings else "mapping"])
        except (ValueError, TypeError):
            return False
    return True


def _put_right(library: Library, rows: list[Mended], done: Repaired) -> None:
    damage = find(library)
    with library.writing("repair") as connection:
        for made in rows:
            if made.head["id"] not in damage.cases:
                continue
            of = made.head["id"]
            connection.execute(update(cases).where(cases.c.id == of).values(made.head))
            for version in made.versions:
                values = {key: value for key, value in version.items() if key != "seq"}
                here = (versions.c.case_id == of) & (versions.c.revision == version["revision"])
                if connection.execute(update(versions).where(here).values(values)).rowcount == 0:
                    connection.execute(insert(versions).values(values))
        forms = [row["case_id"] for row in _readable(library, imported) if not _fits(imported, row)]
        connection.execute(delete(imported).where(imported.c.case_id.in_(forms)))
        adopted = [row["seq"] for row in _readable(library, profiles) if not _fits(profiles, row)]
        connection.execute(delete(profiles).where(profiles.c.seq.in_(adopted)))
        for table, left in ((imported, forms), (profiles, adopted)):
            if left:
                done.beside.append(f"{table.name}: {len(left)} rows were damaged and are left out")
        put_setting(connection, "restored", now())
