"""Backup and restore while the library is in use.

A backup of any library, SQLite or PostgreSQL, is one SQLite file with the same tables: it can be opened for
reading like any library. Beside it stands ``NAME.sha256`` in the form of ``sha256sum``. A backup is verified
by a digest over every row, taken from the library and from the copy in the same state.
"""

import hashlib
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import orjson
from sqlalchemy import Connection, Engine, Table, func, insert, select, text

from recommender.precedents.processes import batched
from recommender.precedents.store.checking import find
from recommender.precedents.store.databases import create_database, open_database, require_folder
from recommender.precedents.store.engine import in_words
from recommender.precedents.store.errors import DamagedLibrary, LibraryError
from recommender.precedents.store.exporting.export import replacing
from recommender.precedents.store.library import Library, put_setting
from recommender.precedents.store.records import now
from recommender.precedents.store.schema import TABLES

_BATCH = 500


def rows_of(connection: Connection, table: Table) -> Iterator[dict[str, object]]:
    """Every row of a table by its key, without holding them all."""
    query = select(table).order_by(*table.primary_key.columns)
    result = connection.execute(query, execution_options={"stream_results": True, "max_row_buffer": _BATCH})
    names = [str(column.name) for column in table.columns]
    for row in result:
        yield dict(zip(names, row, strict=True))


def digest(connection: Connection) -> str:
    """SHA-256 over every row of every table: equal for equal content, on whichever database it lies."""
    found = hashlib.sha256()
    for table in TABLES:
        found.update(f"{table.name}\n".encode())
        # the databases sort texts differently; a sum over the rows of a table does not depend on their order
        total = 0
        for row in rows_of(connection, table):
            line = orjson.dumps(row, option=orjson.OPT_SORT_KEYS)
            total = (total + int.from_bytes(hashlib.sha256(line).digest(), "big")) % (1 << 256)
        found.update(total.to_bytes(32, "big"))
    return found.hexdigest()


def back_up(library: Library, path: Path, *, as_it_is: bool = False) -> str:
    """Copies the library to a new file at ``path`` and verifies it, every document against its checksum; returns the
    digest of its content.

    Raises ``LibraryError`` if the file is there already, or the copy does not match, ``DamagedLibrary`` for a library
    that is not sound (``as_it_is`` copies that too); then no file is left.
    """
    library.require("backup")
    if path.exists():
        raise LibraryError(f"{path}: is there already; a backup never replaces another")
    if not path.parent.is_dir():
        raise LibraryError(f"{path.parent}: no such folder for the backup")
    require_folder(path)
    with replacing(path) as part:
        try:
            with library.reading() as connection:
                expected = digest(connection)
                with in_words(str(path)):
                    if library.engine.dialect.name == "sqlite":
                        _copy_file(connection, part)
                    else:
                        _copy_rows(connection, part)
            _settle(part)
            with open_database(str(part)) as copy, copy.reading() as connection:
                if digest(connection) != expected:
                    raise LibraryError(f"{path}: the copy does not match the library; no backup was made")
                damage = None if as_it_is else find(copy)  # the copy holds one state; the library goes on
            if damage:
                raise damage.error(library.where, "a damaged library is not backed up as if it were sound")
        finally:
            _sweep(part)
        with part.open("rb") as stream:
            stamp = f"{hashlib.file_digest(stream, 'sha256').hexdigest()}  {path.name}\n"
    with replacing(_stamp(path)) as part:
        part.write_text(stamp, encoding="utf-8")
    return expected


def copy_file(engine: Engine, place: str, path: Path) -> None:
    """Copies a SQLite library of whatever version to a new file. Raises ``LibraryError`` if it is there already."""
    if path.exists():
        raise LibraryError(f"{path}: is there already; a copy never replaces another")
    with replacing(path) as part, in_words(place), engine.connect() as connection:
        _copy_file(connection, part)
        _settle(part)
        _sweep(part)


def _stamp(path: Path) -> Path:
    return path.with_name(path.name + ".sha256")


def _copy_file(connection: Connection, part: Path) -> None:
    source = connection.connection.driver_connection
    assert isinstance(source, sqlite3.Connection)
    target = sqlite3.connect(part)
    try:
        # the open read transaction pins the state that the digest was taken from
        source.backup(target)
    finally:
        target.close()


def _copy_rows(connection: Connection, part: Path) -> None:
    with create_database(str(part)) as copy, copy.writing() as writing:
        for table in TABLES:
            for batch in batched(rows_of(connection, table), _BATCH):
                writing.execute(insert(table), batch)


def _settle(part: Path) -> None:
    # one plain file, without a log beside it
    with sqlite3.connect(part) as target:
        target.execute("PRAGMA journal_mode=DELETE")
        state = target.execute("PRAGMA integrity_check").fetchone()[0]
    target.close()
    if state != "ok":
        raise DamagedLibrary(f"{part}: the copy is damaged ({state})")


def _sweep(part: Path) -> None:
    for suffix in ("-wal", "-shm", "-journal"):
        part.with_name(part.name + suffix).unlink(missing_ok=True)


def verify(path: Path) -> None:
    """Holds a backup against its checksum file and looks into it.

    Raises ``LibraryError`` where something is off.
    """
    with in_words(str(path)):
        if not path.is_file():
            raise LibraryError(f"{path}: no such backup")
        stamp = _stamp(path)
        if not stamp.is_file():
            raise LibraryError(f"{stamp}: the checksum of the backup is missing")
        words = stamp.read_text(encoding="utf-8").split()
        with path.open("rb") as stream:
            found = hashlib.file_digest(stream, "sha256").hexdigest()
        if not words or words[0] != found:
            raise DamagedLibrary(
                f"{path}: does not match its checksum; it was changed or damaged since it was made"
            )
    with open_database(str(path)) as copy, copy.reading() as connection:
        state = connection.scalar(text("PRAGMA integrity_check"))
    if state != "ok":
        raise DamagedLibrary(f"{path}: is damaged ({state})")
    with open_database(str(path)) as copy:
        damage = find(copy)
        if damage:
            raise damage.error(str(path), "it is not put in place of anything")


def restore(library: Library, path: Path, safety: Path) -> Path:
    """Makes the library what the backup holds, in one transaction; returns the backup made of it just before.

    ``safety`` is the folder for that backup, so that nothing newer is lost either. Readers see the old state
    until the new one is complete. Raises ``LibraryError`` with the library untouched.
    """
    verify(path)
    stamp = now().replace(":", "").replace(".", "")
    before = safety / f"before-restore-{stamp}.db"
    try:
        back_up(library, before, as_it_is=True)
    except DamagedLibrary:
        # so far gone that it cannot be copied row by row: the file as it lies
        _copy_as_it_lies(library, before)
    with open_database(str(path)) as copy, copy.reading() as source:
        expected = digest(source)
        with library.writing("restore") as connection:
            for table in reversed(TABLES):
                connection.execute(table.delete())
            for table in TABLES:
                for batch in batched(rows_of(source, table), _BATCH):
                    connection.execute(insert(table), batch)
            if digest(connection) != expected:
                raise LibraryError(
                    f"{library.where}: what came out does not match {path}; nothing was changed"
                )
            _mend_serials(connection)
            put_setting(connection, "restored", now())
    return before


def _copy_as_it_lies(library: Library, path: Path) -> None:
    if library.engine.dialect.name != "sqlite":
        raise DamagedLibrary(f"{library.where}: cannot be copied before it is replaced; nothing was changed")
    source = Path(str(library.engine.url.database or library.where.removeprefix("sqlite:///")))
    with replacing(path) as part:
        shutil.copyfile(source, part)


def _mend_serials(connection: Connection) -> None:
    # rows came with their numbers; PostgreSQL has to be told to go on after the last one
    if connection.dialect.name != "postgresql":
        return
    for table in TABLES:
        if "seq" in table.c:
            last = connection.scalar(select(func.max(table.c.seq)))
            if last is not None:
                connection.execute(
                    text("SELECT setval(pg_get_serial_sequence(:name, 'seq'), :last)"),
                    {"name": table.name, "last": last},
                )


def place_of(library: Library) -> Path:
    """Folder in which the SQLite file of a library lies; the current folder for a server."""
    if library.engine.dialect.name != "sqlite":
        return Path.cwd()
    with library.reading() as connection:
        return Path(str(connection.execute(text("PRAGMA database_list")).first()[2])).parent  # type: ignore[index]
