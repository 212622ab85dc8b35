"""Making the tables of a new library, telling which version one has, and bringing an older one up to date."""

import threading
from pathlib import Path

from sqlalchemy import Connection, Engine, inspect, text

from recommender.precedents.store.engine import in_words
from recommender.precedents.store.errors import NewerLibrary, NotALibrary, OlderLibrary
from recommender.precedents.store.schema import HEAD, REVISIONS

# alembic keeps the migration at work in module globals: one at a time in a process
_ONE_AT_A_TIME = threading.Lock()


def revision_of(connection: Connection) -> str | None:
    """Revision of the tables; ``None`` where there is no library."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    found = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return None if found is None else str(found)


def revision_at(engine: Engine, place: str) -> str:
    """Revision of the tables. Raises ``NotALibrary`` where there is no library, ``NewerLibrary`` for a later one."""
    with in_words(place), engine.connect() as connection:
        found = revision_of(connection)
    if found is None:
        raise NotALibrary(f"{place} holds no case library; make one with 'library init'")
    if found not in REVISIONS:
        raise NewerLibrary(
            f"{place} was written by a later version of the program (tables {found}, this program {HEAD}); "
            "it was not touched. Use that version, or a newer one"
        )
    return found


def require_current(engine: Engine, place: str) -> None:
    """Raises ``NotALibrary``, ``OlderLibrary`` or ``NewerLibrary`` unless the tables are of this version."""
    found = revision_at(engine, place)
    if found != HEAD:
        raise OlderLibrary(
            f"{place} was written by an earlier version (tables {found}, this program {HEAD}); "
            "bring it up to date with 'library migrate'"
        )


def upgrade(engine: Engine, place: str, to: str = HEAD) -> str | None:
    """Brings the tables to ``to`` in one transaction; returns the revision that they had before.

    Raises ``NewerLibrary`` for tables of a later version. Stopped half-way, the library is as it was. The guard of a
    team is renewed with the tables.
    """
    from alembic import command
    from alembic.config import Config

    with (
        in_words(place),
        engine.connect().execution_options(rpd_write=True) as connection,
        connection.begin(),
    ):
        before = revision_of(connection)
        if before is not None and before not in REVISIONS:
            raise NewerLibrary(
                f"{place} was written by a later version of the program (tables {before}); not touched"
            )
        config = Config()
        config.set_main_option(
            "script_location", str(Path(__file__).parent / "migrations").replace("%", "%%")
        )
        config.attributes["connection"] = connection
        with _ONE_AT_A_TIME:
            command.upgrade(config, to)
        from recommender.precedents.store.team import guard

        if to == HEAD and guard.is_kept(connection):
            guard.put_up(connection)
    return before
