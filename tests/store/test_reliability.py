"""Short forms of the ordeals, and what is said when the disk is full, the file locked or the server gone."""

import contextlib
import os
import shutil
import sqlite3
import subprocess
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path
from uuid import uuid4

import pytest

from recommender.precedents.store import backup, engine
from recommender.precedents.store.checking import faults
from recommender.precedents.store.databases import create_database, open_database
from recommender.precedents.store.errors import (
    DamagedLibrary,
    LibraryBusy,
    LibraryError,
    LibraryFull,
    NotALibrary,
    ReadOnlyLibrary,
    ServerGone,
)
from recommender.precedents.store.exporting import export
from recommender.precedents.store.importing.batch import import_all
from recommender.precedents.store.importing.register import open_register
from recommender.precedents.store.importing.rejected import Rejected
from recommender.precedents.store.importing.reports import Report
from recommender.precedents.store.records import Entry
from tests.store.invented import invented_cases

from .clients import many_clients
from .conftest import SERVER
from .harness import TERMS, Ordeal, _rows
from .test_migrate_and_back_up import older_library

LONG = bool(os.environ.get("RPD_LONG"))
KILLS = 12 if LONG else 2
CASES = list(invented_cases(30, seed=13))


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def ordeal(request: pytest.FixtureRequest, tmp_path: Path) -> Ordeal:
    if request.param == "postgres" and not SERVER:
        pytest.skip("no PostgreSQL server in RPD_TEST_POSTGRES_URL")
    return Ordeal(tmp_path, lambda: fresh(request.param, tmp_path), seed=17)


@contextlib.contextmanager
def fresh(kind: str, folder: Path) -> Iterator[str]:
    """An address where nothing is yet."""
    name = f"t{uuid4().hex[:12]}"
    if kind == "sqlite":
        yield f"sqlite:///{folder / name}.db"
        return
    import psycopg

    with psycopg.connect(SERVER, autocommit=True) as connection:
        connection.execute(f"CREATE SCHEMA {name}")
    yield f"{SERVER}?options=-csearch_path%3D{name}"
    with psycopg.connect(SERVER, autocommit=True) as connection:
        connection.execute(f"DROP SCHEMA {name} CASCADE")


def test_killed_while_editing(ordeal: Ordeal) -> None:
    ordeal.edits(KILLS)
    assert (ordeal.kills, ordeal.cut_short) == (KILLS, KILLS)


def test_killed_while_importing(ordeal: Ordeal) -> None:
    ordeal.imports(KILLS)
    ordeal.whole_imports(KILLS)
    assert ordeal.kills == 2 * KILLS


def test_killed_while_migrating(ordeal: Ordeal) -> None:
    ordeal.migrations(KILLS, older_library)
    assert ordeal.kills == KILLS


def test_killed_while_backing_up(ordeal: Ordeal) -> None:
    ordeal.backups(KILLS)
    assert ordeal.kills == KILLS


def test_killed_while_restoring(ordeal: Ordeal) -> None:
    ordeal.restores(KILLS, 200 if LONG else 60)
    assert ordeal.kills == KILLS


def test_many_clients_at_once(where: str) -> None:
    traffic = many_clients(where, 16, 16, 10.0 if LONG else 8.0)
    assert traffic.errors == ()
    assert traffic.lost == ()
    # how much gets done depends on the machine; that something of each kind was done does not
    assert traffic.saved >= 10
    assert traffic.reads >= 10
    assert traffic.added >= 1


# what a user reads when something outside fails


def content(place: Path) -> list[str]:
    with open_database(str(place)) as library:
        assert faults(library) == []
        return [version.document for version in library.latest()]


@pytest.fixture
def held(tmp_path: Path) -> Path:
    """A library with ten cases."""
    place = tmp_path / "cases.db"
    with create_database(str(place)) as library:
        import_all(library, _rows(CASES[:10]), TERMS, lambda _: None)
    return place


def test_a_full_disk_while_importing(held: Path) -> None:
    """The database itself is told that there is no room left: its own error, at a random page."""
    before = content(held)
    with open_database(str(held), write=True) as library:
        with library.engine.connect() as connection:
            pages = connection.exec_driver_sql("PRAGMA page_count").scalar()

        from sqlalchemy import event

        @event.listens_for(library.engine, "checkout")
        def limit(connection, _record, _proxy) -> None:
            connection.execute(f"PRAGMA max_page_count={pages + 2}").fetchone()

        with pytest.raises(LibraryFull, match="nothing was changed"):
            import_all(library, _rows(list(invented_cases(400, seed=14, prefix="more"))), TERMS, lambda _: None)
    assert content(held) == before


@pytest.mark.skipif(
    os.geteuid() != 0 or not shutil.which("mount"), reason="needs leave to mount a small disk"
)
def test_a_full_disk_for_real(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", str(disk)], capture_output=True
    )
    if mounted.returncode:
        pytest.skip("no leave to mount a small disk")
    try:
        place = disk / "cases.db"
        with create_database(str(place)) as library:
            import_all(library, _rows(CASES[:10]), TERMS, lambda _: None)
        before = content(place)
        with open_database(str(place), write=True) as library, pytest.raises(LibraryFull):
            import_all(library, _rows(list(invented_cases(2000, seed=14, prefix="more"))), TERMS, lambda _: None)
        assert content(place) == before
        with pytest.raises(LibraryFull):
            export.to_lines(invented_cases(3000), disk / "out.jsonl")
        with open_database(str(place)) as library, contextlib.suppress(LibraryFull):
            for number in range(20):
                backup.back_up(library, disk / f"b{number}.db")
        assert not [name for name in os.listdir(disk) if name.endswith(".part")]
        assert content(place) == before
        filler = disk / "filler"
        with contextlib.suppress(OSError), filler.open("wb", buffering=0) as stream:
            while True:
                stream.write(b"\0" * 1024)
        # not even room for what readers share, and none for the rows that could not come in
        with pytest.raises(LibraryFull, match="no room left"), open_database(str(place)) as library:
            library.heads()
        table = tmp_path / "bad.csv"
        table.write_text("numbering,id,arch,missing\niso,m-1,sideways,16\n")
        for name in ("no.csv", "no.xlsx"):
            keeper = Rejected(open_register(table, {}))
            for row in keeper.watched(keeper.register.rows()):
                keeper.take(Report(row.place, None, "invalid", problems=row.problems))
            with pytest.raises(LibraryFull, match="no room left"):
                keeper.write(disk / name)
    finally:
        subprocess.run(["umount", str(disk)], check=True)


def test_a_folder_that_may_not_be_written_to_is_told(held: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.access
    closed = held.parent / "closed"
    closed.mkdir(0o500)
    # whoever is root may write everywhere: the system's answer for anybody else
    monkeypatch.setattr(os, "access", lambda path, how: Path(path) != closed and real(path, how))
    with pytest.raises(ReadOnlyLibrary, match="its folder may not be written to"):
        create_database(str(closed / "new.db"))
    with open_database(str(held)) as library, pytest.raises(ReadOnlyLibrary, match="its folder may not be written to"):
        backup.back_up(library, closed / "copy.db")
    assert not os.listdir(closed)


def test_a_locked_file_is_told_and_nothing_is_lost(held: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = content(held)
    monkeypatch.setattr(engine, "WAIT_SECONDS", 0.2)
    other = sqlite3.connect(held, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    try:
        with open_database(str(held), write=True) as library, pytest.raises(LibraryBusy, match="try again"):
            library.add(CASES[20], who="KM")
    finally:
        other.execute("ROLLBACK")
        other.close()
    assert content(held) == before


def test_a_writer_does_not_keep_readers_waiting(held: Path) -> None:
    with open_database(str(held), write=True) as writing, open_database(str(held)) as reading:
        with writing.writing() as connection:
            writing.add_all(connection, [Entry.of(CASES[25])], who="KM", why="", kind="added")
            assert len(reading.heads()) == 10
        assert len(reading.heads()) == 11


def test_a_read_only_file_is_told(held: Path) -> None:
    from unittest.mock import patch

    before = content(held)
    with patch("os.access", lambda path, mode: mode != os.W_OK):
        with pytest.raises(ReadOnlyLibrary, match="nothing was changed"):
            open_database(str(held), write=True)
        with open_database(str(held)) as library:
            assert len(library.heads()) == 10
    assert content(held) == before


def test_a_damaged_file_is_told(held: Path) -> None:
    data = bytearray(held.read_bytes())
    data[16384 : 16384 * 4] = bytes(range(256)) * 192
    held.write_bytes(bytes(data))

    def read() -> None:
        with open_database(str(held)) as library:
            assert faults(library) == []

    with pytest.raises((DamagedLibrary, NotALibrary)):
        read()


@pytest.mark.postgres
def test_a_server_that_goes_away_in_the_middle(server_url: str) -> None:
    import psycopg

    with create_database(server_url) as library:
        library.add(CASES[0], who="KM")

        def add_two() -> None:
            with library.writing() as connection:
                library.add_all(connection, [Entry.of(CASES[1])], who="KM", why="", kind="added")
                own = connection.exec_driver_sql("SELECT pg_backend_pid()").scalar()
                with psycopg.connect(SERVER, autocommit=True) as other:
                    other.execute("SELECT pg_terminate_backend(%s)", (own,))
                library.add_all(connection, [Entry.of(CASES[2])], who="KM", why="", kind="added")

        with pytest.raises(ServerGone, match="what was saved before is safe"):
            add_two()
        # the next try finds the server again
        assert [head.id for head in library.heads()] == [CASES[0].id]
        library.add(CASES[3], who="KM")
        assert faults(library) == []


@pytest.mark.postgres
def test_a_server_that_is_stopped_and_started(tmp_path: Path) -> None:
    if not SERVER:
        pytest.skip("no PostgreSQL server in RPD_TEST_POSTGRES_URL")
    script = Path(__file__).parent.parent / "postgres_server.sh"
    # not in tmp_path: the name of a server's socket has to be short, and its user has to get there
    folder = Path(tempfile.gettempdir()) / f"rpd-server-{uuid4().hex[:8]}"
    started = subprocess.run([script, "start", folder], capture_output=True, text=True, check=True)
    try:
        with create_database(started.stdout.strip()) as library:
            library.add(CASES[0], who="KM")
            writing = library.writing()
            connection = writing.__enter__()
            library.add_all(connection, [Entry.of(CASES[1])], who="KM", why="", kind="added")
            subprocess.run([script, "halt", folder], check=True)
            with pytest.raises(ServerGone):
                writing.__exit__(None, None, None)
            with pytest.raises(ServerGone, match="cannot be reached"):
                library.add(CASES[2], who="KM")
            subprocess.run([script, "resume", folder], check=True)
            assert [head.id for head in library.heads()] == [CASES[0].id]
            library.add(CASES[3], who="KM")
            assert faults(library) == []
    finally:
        subprocess.run([script, "stop", folder], check=True)
    assert not folder.exists()


def test_the_server_refuses_a_write_in_a_reading(where: str) -> None:
    from sqlalchemy import text

    with create_database(where) as made:
        made.add(CASES[0], who="KM")

    def write() -> None:
        with library.reading() as connection:
            connection.execute(text("DELETE FROM versions"))

    with open_database(where) as library:
        with pytest.raises(ReadOnlyLibrary):
            write()
        assert len(library.heads()) == 1


def test_two_who_make_the_same_library_at_once(tmp_path: Path) -> None:
    place, results = str(tmp_path / "cases.db"), []

    def make() -> None:
        try:
            create_database(place).close()
            results.append("made")
        except LibraryError:
            results.append("told")

    threads = [threading.Thread(target=make) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(results) == ["made"] + ["told"] * 5
    assert os.listdir(tmp_path) == ["cases.db"]
