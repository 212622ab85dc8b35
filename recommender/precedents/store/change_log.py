"""How far a library has come, as a mark; which cases changed since a mark; where its index lies.

``versions`` is only ever added to, so what came after a mark is what changed. A mark names its last version by case,
revision and time as well: a library that was replaced by another one is never taken for a later state of it.
"""

import hashlib
import os
from dataclasses import asdict, dataclass
from pathlib import Path

import orjson
from sqlalchemy import Connection, func, select

from recommender.precedents.store.library import Library
from recommender.precedents.store.schema import cases, settings, versions


@dataclass(frozen=True, slots=True)
class Mark:
    """``last``: number of the last version; ``count``: how many there are; ``restored``: when a backup was last
    put in its place; ``newest``: case, revision, time and checksum of the last version."""

    last: int
    count: int
    restored: str
    newest: tuple[str, ...]

    def dump(self) -> str:
        """As one line of text."""
        return orjson.dumps(asdict(self), option=orjson.OPT_SORT_KEYS).decode()

    @classmethod
    def parse(cls, text: str) -> "Mark | None":
        """The mark of a line; ``None`` for another text."""
        try:
            value = orjson.loads(text)
            newest = tuple(str(part) for part in value["newest"])
            return cls(int(value["last"]), int(value["count"]), str(value["restored"]), newest)
        except (ValueError, KeyError, TypeError):
            return None


def mark_of(library: Library) -> Mark:
    """The mark of the library as it is."""
    with library.reading() as connection:
        return _mark(connection)


def changed_since(library: Library, mark: Mark) -> tuple[Mark, list[str] | None]:
    """The mark of the library as it is, and ids of the cases with a version after ``mark``, in order.

    The ids are ``None`` where the library is no later state of the one that was marked.
    """
    with library.reading() as connection:
        now = _mark(connection)
        if now.restored != mark.restored or now.last < mark.last:
            return now, None
        # a version that was written before the mark was made, but became visible only afterwards, shows here
        before = connection.scalar(
            select(func.count()).select_from(versions).where(versions.c.seq <= mark.last)
        )
        # the checksum is left out: taking identity out of a case changes it, and is a new version besides
        if before != mark.count or (mark.count and _newest(connection, mark.last)[:3] != mark.newest[:3]):
            return now, None
        query = select(versions.c.case_id).where(versions.c.seq > mark.last).distinct()
        changed = sorted(str(case_id) for case_id in connection.scalars(query))
        # the same last version with another content: changed behind the program's back
        return now, None if not changed and now != mark else changed


def case_count(library: Library) -> int:
    """How many cases the library holds."""
    with library.reading() as connection:
        return int(connection.scalar(select(func.count()).select_from(cases)) or 0)


def _mark(connection: Connection) -> Mark:
    last = connection.scalar(select(func.max(versions.c.seq))) or 0
    count = connection.scalar(select(func.count()).select_from(versions)) or 0
    restored = connection.scalar(select(settings.c.value).where(settings.c.key == "restored"))
    return Mark(int(last), int(count), str(restored or ""), _newest(connection, int(last)))


def _newest(connection: Connection, seq: int) -> tuple[str, ...]:
    columns = (versions.c.case_id, versions.c.revision, versions.c.at, versions.c.checksum)
    row = connection.execute(select(*columns).where(versions.c.seq == seq)).first()
    return () if row is None else tuple(str(value) for value in row)


def index_folders(library: Library) -> tuple[Path, ...]:
    """Where the index of a library may lie: beside its SQLite file, else (and for a server) in the user's cache
    folder, under a digest of the address without its password."""
    where = library.where
    beside: tuple[Path, ...] = ()
    if library.engine.dialect.name == "sqlite":
        file = _sqlite_file(library)
        beside = (file.with_name(f"{file.name}.index"),)
        where = str(file)
    return (*beside, cache_folder() / hashlib.blake2b(where.encode(), digest_size=12).hexdigest())


def cache_folder() -> Path:
    """``rpd-casebook/index`` in the user's cache folder (XDG Base Directory Specification)."""
    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA") or str(Path.home() / ".cache")
    return Path(base) / "rpd-casebook" / "index"


def _sqlite_file(library: Library) -> Path:
    with library.reading() as connection:
        row = connection.exec_driver_sql("PRAGMA database_list").first()
    assert row is not None
    return Path(str(row[2])).resolve()
