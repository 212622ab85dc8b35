"""Opening a database that is there, and making one that is not."""

import os
from pathlib import Path

from sqlalchemy.engine import URL

from recommender.precedents.store.engine import connect, in_words, parse_url, shown
from recommender.precedents.store.errors import DamagedLibrary, LibraryError, NotALibrary, UnreadableLibrary
from recommender.precedents.store.library import Library
from recommender.precedents.store.schema import APPLICATION_ID


def database_url(where: str) -> URL:
    """URL of the database that is meant; a bare file name is a SQLite file."""
    return parse_url(where if "://" in where else f"sqlite:///{where}")


def open_database(where: str, *, write: bool = False) -> Library:
    """Opens a database library. Raises ``LibraryError`` (what kind says why); creates nothing."""
    from recommender.precedents.store.migrate import require_current

    url = database_url(where)
    place = shown(url)
    require_file(url, place, write=write)
    # looked at for reading first: a file of something else is not touched in any way
    engine = connect(url, write=False)
    try:
        require_current(engine, place)
    except (DamagedLibrary, NotALibrary) as error:
        engine.dispose()
        if isinstance(error, NotALibrary) and not _marked(url):
            raise
        raise UnreadableLibrary(
            f"{place} is damaged, and nothing of it can be read{_breaks_off(Path(str(url.database)))}; 'library repair "
            "--from BACKUP' makes it anew from a backup"
        ) from None
    except BaseException:
        engine.dispose()
        raise
    if write:
        engine.dispose()
        engine = connect(url, write=True)
    return _at_work(Library(engine, place, read_only=not write))


def _marked(url: URL) -> bool:
    """Whether a SQLite file bears the mark of a case library, whatever else of its head is damaged."""
    if url.get_backend_name() != "sqlite":
        return False
    with Path(str(url.database)).open("rb") as stream:
        return stream.read(72)[68:] == APPLICATION_ID.to_bytes(4)


def _breaks_off(path: Path) -> str:
    """Says so where a SQLite file is shorter than its head (pages, and bytes of each) tells."""
    with path.open("rb") as stream:
        head = stream.read(100)
    size, pages = int.from_bytes(head[16:18]), int.from_bytes(head[28:32])
    whole, here = (65536 if size == 1 else size) * pages, path.stat().st_size
    return f" (it breaks off after {here} of {whole} bytes)" if here < whole else ""


def _at_work(library: Library) -> Library:
    """The library with whoever is known to be at work; over the screens that is told later (``Library.acting``)."""
    if library.engine.dialect.name != "postgresql":
        return library
    from recommender.precedents.store.engine import forget_between_uses
    from recommender.precedents.store.team.standing import standing

    try:
        found = standing(library.engine, library.where)
    except BaseException:
        library.close()
        raise
    if found.kind == "alone":
        return library
    forget_between_uses(library.engine)
    return library if found.kind == "service" else library.acting(lambda: found.person)


def require_file(url: URL, place: str, *, write: bool) -> None:
    """Raises ``NotALibrary`` where a SQLite file is not there, ``ReadOnlyLibrary`` where it may not be written to."""
    from recommender.precedents.store.engine import writable
    from recommender.precedents.store.errors import ReadOnlyLibrary

    if url.get_backend_name() != "sqlite":
        return
    path = Path(str(url.database))
    if not path.is_file():
        raise NotALibrary(f"{place}: there is no such file; make a library with 'library init'")
    with in_words(place):
        if write and not writable(path):
            raise ReadOnlyLibrary(
                f"{place}: the file or its folder may not be written to; nothing was changed"
            )


def require_folder(path: Path) -> None:
    """Raises ``ReadOnlyLibrary`` where a file cannot be made in a folder that is there."""
    from recommender.precedents.store.errors import ReadOnlyLibrary

    if path.parent.is_dir() and not os.access(path.parent, os.W_OK):
        raise ReadOnlyLibrary(f"{path}: its folder may not be written to; nothing was changed")


def create_database(where: str) -> Library:
    """Makes an empty library there. Raises ``LibraryError`` if something stands there already."""
    from recommender.precedents.store.migrate import revision_of, upgrade

    url = database_url(where)
    place = shown(url)
    if url.get_backend_name() == "sqlite":
        path = Path(str(url.database))
        if path.exists():
            raise LibraryError(f"{place}: there is something there already; nothing was changed")
        if not path.parent.is_dir():
            raise LibraryError(f"{place}: the folder {path.parent} does not exist")
        require_folder(path)
        _create_file(url, path, place)
        return open_database(where, write=True)
    engine = connect(url, write=True)
    with in_words(place), engine.connect() as connection:
        present = revision_of(connection)
    if present is not None:
        engine.dispose()
        raise LibraryError(
            f"{place}: there is a library there already (tables {present}); nothing was changed"
        )
    upgrade(engine, place)
    return Library(engine, place, read_only=False)


def _put_in_place(part: Path, path: Path) -> None:
    try:
        os.link(part, path)  # unlike a rename, never replaces what somebody else put there meanwhile
    except OSError:
        if path.exists():
            raise
        os.rename(part, path)  # some file systems have no links


def _create_file(url: URL, path: Path, place: str) -> None:
    # made beside and then put in place, so that a stop half-way leaves nothing that looks like a library
    from uuid import uuid4

    from recommender.precedents.store.migrate import upgrade

    part = path.with_name(f".{path.name}.{uuid4().hex[:8]}.part")
    with in_words(place):
        try:
            engine = connect(url.set(database=str(part)), write=True, create=True)
            upgrade(engine, place)
            engine.dispose()  # the last connection folds the log into the file
            _put_in_place(part, path)
        finally:
            for leftover in (part, part.with_name(part.name + "-wal"), part.with_name(part.name + "-shm")):
                leftover.unlink(missing_ok=True)
