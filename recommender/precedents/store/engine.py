"""Connections to a library, and their errors put into words.

SQLite settings are those of its own manual: write-ahead log (readers never wait for the writer), foreign keys
on, and a waiting time for a lock. ``synchronous=FULL`` is chosen over the quicker NORMAL because a saved case
has to survive a power cut, not only the end of a process. Writing transactions start with BEGIN IMMEDIATE, so
that two writers queue up instead of failing half-way.
"""

import random
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError
from sqlalchemy.pool import NullPool, QueuePool

from recommender.precedents.store.errors import (
    DamagedLibrary,
    LibraryBusy,
    LibraryError,
    LibraryFull,
    NotALibrary,
    NotAllowed,
    ReadOnlyLibrary,
    ServerGone,
)
from recommender.precedents.store.schema import APPLICATION_ID

WAIT_SECONDS = 30
PAGE_SIZE = 16384


def parse_url(where: str) -> URL:
    """The database URL, ``postgresql://`` put onto the psycopg driver.

    Raises ``NotALibrary`` without its password.
    """
    try:
        url = make_url(where)
    except ArgumentError:
        scheme = where.split(":", 1)[0]
        raise NotALibrary(
            f"not a database address: {scheme}:… (expected sqlite:///FILE or postgresql://HOST/NAME)"
        ) from None
    if url.drivername in ("postgresql", "postgres"):
        return url.set(drivername="postgresql+psycopg")
    if url.drivername not in ("sqlite", "postgresql+psycopg"):
        raise NotALibrary(
            f"a library lies in SQLite or PostgreSQL, not in {url.drivername} (expected sqlite:///FILE or postgresql://HOST/NAME)"
        )
    if url.drivername == "sqlite" and not url.database:
        raise NotALibrary("a library in SQLite needs a file: sqlite:///FILE")
    return url


def shown(url: URL) -> str:
    """The address as it may be printed: passwords, also those among the options, are starred out."""
    hidden = {key: "***" for key in url.query if "pass" in key.lower()}
    if url.get_backend_name() == "postgresql":
        url = url.set(drivername="postgresql")
    return (url.update_query_dict(hidden) if hidden else url).render_as_string(hide_password=True)


def connect(url: URL, *, write: bool, create: bool = False) -> Engine:
    """An engine for that library.

    A reading engine cannot write, and never creates a file that was not there.
    """
    if url.get_backend_name() == "sqlite":
        return _sqlite(Path(str(url.database)), write=write, create=create)
    try:
        engine = create_engine(
            url,
            pool_pre_ping=True,
            pool_size=5,
            max_overflow=20,
            connect_args={"connect_timeout": 10, "application_name": "rpd-casebook"},
            hide_parameters=True,
        )
    except (ModuleNotFoundError, ImportError, NoSuchModuleError):
        raise NotALibrary(
            "PostgreSQL needs the extra 'postgres': pip install 'rpd-casebook[postgres]'"
        ) from None

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        if not connection.get_execution_options().get("rpd_write"):
            connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        connection.exec_driver_sql(f"SET LOCAL lock_timeout = '{WAIT_SECONDS}s'")

    return engine


def forget_between_uses(engine: Engine) -> None:
    """Lets a connection of a pool forget everything of one use before the next, which may be somebody else's."""

    @event.listens_for(engine, "checkout")
    def _plain(connection: Any, _record: Any, _proxy: Any) -> None:
        connection.prepare_threshold = None  # what is forgotten below must not be counted on

    @event.listens_for(engine, "checkin")
    def _forget(connection: Any, record: Any) -> None:
        if connection is None or connection.closed:
            return
        try:
            connection.rollback()
            connection.autocommit = True
            connection.execute("DISCARD ALL")
            connection.autocommit = False
        except Exception as error:
            record.invalidate(error)


def _sqlite(path: Path, *, write: bool, create: bool) -> Engine:
    mode = "rwc" if create else "rw"
    immutable = False
    if not write and not writable(path):
        # the log of a live library needs a folder to write in; without a log the file can be read as it
        # stands
        mode = "ro"
        immutable = not path.with_name(path.name + "-wal").exists()
    address = f"file:{quote(str(path.resolve()))}?mode={mode}{'&immutable=1' if immutable else ''}"

    def open_file() -> sqlite3.Connection:
        return sqlite3.connect(
            address, uri=True, timeout=WAIT_SECONDS, isolation_level=None, check_same_thread=False
        )

    if write:
        engine = create_engine(
            "sqlite://",
            creator=open_file,
            poolclass=QueuePool,
            pool_size=5,
            max_overflow=20,
            hide_parameters=True,
        )
    else:
        # closed after each reading, so that nothing of the reading stays beside the file
        engine = create_engine("sqlite://", creator=open_file, poolclass=NullPool, hide_parameters=True)

    @event.listens_for(engine, "connect")
    def _settings(connection: Any, _record: Any) -> None:
        # a damaged text must not hide the rows beside it; its checksum tells that it is not what was saved
        connection.text_factory = _readable
        cursor = connection.cursor()
        cursor.execute(f"PRAGMA busy_timeout={int(WAIT_SECONDS * 1000)}")
        cursor.execute("PRAGMA foreign_keys=ON")
        cursor.execute("PRAGMA trusted_schema=OFF")
        if create:
            cursor.execute(f"PRAGMA page_size={PAGE_SIZE}")
            cursor.execute(f"PRAGMA application_id={APPLICATION_ID}")
        if write:
            cursor.execute("PRAGMA journal_mode=WAL")
            cursor.execute("PRAGMA synchronous=FULL")
        else:
            cursor.execute("PRAGMA query_only=ON")
        cursor.close()

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        if connection.get_execution_options().get("rpd_write"):
            _take_turn(connection.connection.driver_connection)
        else:
            connection.exec_driver_sql("BEGIN")

    return engine


def _readable(data: bytes) -> str:
    return data.decode("utf-8", "backslashreplace")


def _take_turn(connection: Any) -> None:
    """Begins to write as soon as nobody else does; the longer the wait, the more often it asks.

    SQLite's own waiting asks ever more seldom, so that among many writers the one that has waited longest is the
    last to get in. Raises ``sqlite3.OperationalError`` after the waiting time.
    """
    until = time.monotonic() + WAIT_SECONDS
    pause = 0.02
    connection.execute("PRAGMA busy_timeout=0")
    try:
        while True:
            try:
                connection.execute("BEGIN IMMEDIATE")
                return
            except sqlite3.OperationalError as error:
                busy = str(getattr(error, "sqlite_errorname", "")).startswith("SQLITE_BUSY")
                if not busy or time.monotonic() >= until:
                    raise
            time.sleep(pause * random.uniform(0.5, 1.5))
            pause = max(0.002, pause * 0.9)
    finally:
        connection.execute(f"PRAGMA busy_timeout={int(WAIT_SECONDS * 1000)}")


def writable(path: Path) -> bool:
    """Whether a SQLite file and its folder (where its log lies) may be written to."""
    import os

    return os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)


@contextmanager
def in_words(place: str) -> Iterator[None]:
    """Puts a database's own error into one sentence about the library at ``place``."""
    try:
        yield
    except LibraryError:
        raise
    except DBAPIError as error:
        raise _translate(error, place) from error
    except sqlite3.Error as error:
        raise _from_sqlite(error, place) from error
    except UnicodeDecodeError as error:
        # SQLite quotes a damaged list of tables, and its words cannot even be read
        told = f"{place} is damaged (its list of tables); 'library repair' mends it from a backup"
        raise DamagedLibrary(told) from error
    except OSError as error:
        raise from_system(error, place) from error


def _translate(error: DBAPIError, place: str) -> LibraryError:
    original = error.orig
    if isinstance(original, sqlite3.Error):
        return _from_sqlite(original, place)
    state = str(getattr(original, "sqlstate", "") or "")
    if state == "RP001":  # said by the guard of a team, for people
        return NotAllowed(f"{original.diag.message_primary}; nothing was changed")  # type: ignore[union-attr]
    if state.startswith("53"):
        return LibraryFull(f"the server of {place} has no room or no connection left; nothing was changed")
    if state in ("55P03", "40001", "40P01"):
        return LibraryBusy(f"{place} was held by somebody else for too long; nothing was changed, try again")
    if state == "25006":
        return ReadOnlyLibrary(f"{place} may not be written to with these access rights; nothing was changed")
    if state == "42501":
        return NotAllowed(f"{place}: these access rights do not allow it; nothing was changed")
    if state == "28P01" or state.startswith("28"):
        return ServerGone(f"the server of {place} refused the user name or password")
    if state == "3D000":
        return NotALibrary(f"the server has no database at {place}")
    if not state and "authentication failed" in str(original):
        return ServerGone(f"the server of {place} refused the user name or password")
    if not state and "permission denied for database" in str(original):
        return NotAllowed(
            f"{place}: this user has no rights there; whoever looks after the library can give some"
        )
    if error.connection_invalidated or not state or state.startswith(("08", "57P")):
        return ServerGone(
            f"the server of {place} cannot be reached or went away; the change in progress was undone, "
            "what was saved before is safe. Start the server and try again"
        )
    return LibraryError(f"{place}: the database refused this ({state}); nothing was changed")


def _from_sqlite(error: sqlite3.Error, place: str) -> LibraryError:
    name = str(getattr(error, "sqlite_errorname", "") or "")
    text = str(error)
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")) or "locked" in text:
        return LibraryBusy(
            f"{place} was held by another program for more than {WAIT_SECONDS} seconds; "
            "nothing was changed, try again"
        )
    # the second: no room even for what readers share beside the file
    if name in ("SQLITE_FULL", "SQLITE_IOERR_SHMSIZE") or "disk is full" in text:
        return LibraryFull(f"no room left where {place} lies; nothing was changed, make room and try again")
    if name.startswith("SQLITE_READONLY") or "readonly" in text:
        return ReadOnlyLibrary(f"{place} is read-only; nothing was changed")
    if name.startswith("SQLITE_NOTADB") or "not a database" in text:
        return NotALibrary(f"{place} is not a case library")
    if (
        name.startswith("SQLITE_CORRUPT")
        or "malformed" in text
        or text.startswith(("no such table", "no such column"))
    ):
        return DamagedLibrary(
            f"{place} is damaged; 'library check' names what is, 'library repair' mends it from history or a backup"
        )
    if name.startswith("SQLITE_CANTOPEN") or "unable to open" in text:
        return NotALibrary(f"{place} cannot be opened: no such file, or no leave to open it")
    if name.startswith("SQLITE_IOERR"):
        return LibraryFull(f"{place} could not be written to its disk ({name}); nothing was changed")
    return LibraryError(f"{place}: the database refused this ({text}); nothing was changed")


def from_system(error: OSError, place: str) -> LibraryError:
    """The system's own error in one sentence about that place."""
    import errno

    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return LibraryFull(f"no room left where {place} lies; nothing was changed, make room and try again")
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return ReadOnlyLibrary(f"{place} may not be written to; nothing was changed")
    return LibraryError(f"{place}: {error.strerror or error}")
