"""Tables of other versions of the program, and backups made and restored while the library is in use."""

import hashlib
import os
import sqlite3
import subprocess
from pathlib import Path

import pytest
from sqlalchemy import text

from recommender.precedents.store import backup, documents
from recommender.precedents.store.checking import faults
from recommender.precedents.store.databases import create_database, database_url, open_database
from recommender.precedents.store.engine import connect, shown
from recommender.precedents.store.errors import DamagedLibrary, LibraryError, NewerLibrary, OlderLibrary
from recommender.precedents.store.library import Library
from recommender.precedents.store.migrate import upgrade
from recommender.precedents.store.schema import HEAD, REVISIONS, TABLES, metadata
from tests.store.invented import invented_cases

CASES = list(invented_cases(25, seed=7))


def older_library(where: str, cases: list = CASES) -> None:
    """A library as the first version of the program wrote it."""
    url = database_url(where)
    engine = connect(url, write=True, create=url.get_backend_name() == "sqlite")
    upgrade(engine, shown(url), to="0001")
    with engine.connect().execution_options(rpd_write=True) as connection, connection.begin():
        for case in cases:
            document = documents.dump(case)
            connection.execute(
                text(
                    "INSERT INTO cases (id, revision, arch, kennedy, status, outcome_known, age, fingerprint, format, "
                    "title, updated_at) VALUES (:id, 1, :arch, :kennedy, :status, :known, :age, :print, 1, :title, 'x')"
                ),
                {
                    "id": case.id, "arch": case.arch, "kennedy": documents.kennedy_label(case),
                    "status": documents.status(case), "known": documents.outcome_known(case),
                    "age": str(case.patient.age), "print": documents.content_fingerprint(case), "title": case.title,
                },
            )  # fmt: skip
            connection.execute(
                text(
                    "INSERT INTO versions (case_id, revision, kind, who, at, why, document, checksum) "
                    "VALUES (:id, 1, 'added', 'KM', 'x', '', :document, :checksum)"
                ),
                {"id": case.id, "document": document, "checksum": documents.checksum(document)},
            )
    engine.dispose()


def test_an_older_library_is_migrated_by_command(where: str) -> None:
    older_library(where)
    with pytest.raises(OlderLibrary, match="library migrate"):
        open_database(where)
    engine = connect(database_url(where), write=True)
    assert upgrade(engine, where) == "0001"
    assert upgrade(engine, where) == HEAD
    engine.dispose()
    with open_database(where) as library:
        assert {version.case_id: version.case for version in library.latest()} == {c.id: c for c in CASES}
        assert faults(library) == []


def test_a_newer_library_is_refused_untouched(where: str) -> None:
    create_database(where).close()
    engine = connect(database_url(where), write=True)
    with engine.connect().execution_options(rpd_write=True) as connection, connection.begin():
        connection.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    with pytest.raises(NewerLibrary, match="later version"):
        open_database(where, write=True)
    with pytest.raises(NewerLibrary):
        upgrade(engine, where)
    engine.dispose()


def test_migrations_make_the_tables_that_the_program_expects(library: Library) -> None:
    """The check of alembic: nothing left to be changed."""
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext
    from alembic.script import ScriptDirectory

    import recommender.precedents.store.migrations as package

    with library.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []
    scripts = ScriptDirectory(str(Path(package.__file__).parent))
    assert tuple(script.revision for script in reversed(list(scripts.walk_revisions()))) == REVISIONS


def test_a_failed_migration_leaves_the_old_library(where: str, monkeypatch: pytest.MonkeyPatch) -> None:
    older_library(where)
    calls = iter(range(10))

    def failing(case, data=None):
        if next(calls) == 5:
            raise RuntimeError("stopped")
        return 1

    monkeypatch.setattr(documents, "sketch", failing)
    engine = connect(database_url(where), write=True)
    with pytest.raises(RuntimeError):
        upgrade(engine, where)
    monkeypatch.undo()
    with pytest.raises(OlderLibrary):
        open_database(where)
    assert upgrade(engine, where) == "0001"
    engine.dispose()
    with open_database(where) as library:
        assert faults(library) == []


def filled(library: Library) -> None:
    for case in CASES:
        library.add(case, who="KM")
    library.save(CASES[0].model_copy(update={"title": "second"}), opened=1, who="tutor", why="better")
    library.set_setting("failure", "remade")


def content(library: Library) -> dict[str, list[tuple]]:
    with library.reading() as connection:
        return {
            table.name: sorted((tuple(row.values()) for row in backup.rows_of(connection, table)), key=repr)
            for table in TABLES
        }


def test_a_backup_is_a_library(library: Library, tmp_path: Path) -> None:
    filled(library)
    stamp = backup.back_up(library, tmp_path / "backup.db")
    backup.verify(tmp_path / "backup.db")
    assert sorted(name for name in os.listdir(tmp_path) if "backup" in name) == [
        "backup.db",
        "backup.db.sha256",
    ]
    with open_database(str(tmp_path / "backup.db")) as copy:
        assert content(copy) == content(library)
        assert faults(copy) == []
        with copy.reading() as connection:
            assert backup.digest(connection) == stamp
    subprocess.run(["sha256sum", "-c", "backup.db.sha256"], cwd=tmp_path, check=True, capture_output=True)


def test_a_backup_never_replaces_another(library: Library, tmp_path: Path) -> None:
    filled(library)
    backup.back_up(library, tmp_path / "backup.db")
    before = hashlib.sha256((tmp_path / "backup.db").read_bytes()).digest()
    with pytest.raises(LibraryError, match="never replaces"):
        backup.back_up(library, tmp_path / "backup.db")
    with pytest.raises(LibraryError, match="no such folder"):
        backup.back_up(library, tmp_path / "nowhere" / "backup.db")
    assert hashlib.sha256((tmp_path / "backup.db").read_bytes()).digest() == before


def test_restoring_loses_nothing_newer(library: Library, tmp_path: Path) -> None:
    filled(library)
    backup.back_up(library, tmp_path / "backup.db")
    then = content(library)
    stamp = library.version()
    newer = CASES[1].model_copy(update={"title": "newer than the backup"})
    library.save(newer, opened=1, who="KM", why="later")
    now = content(library)

    before = backup.restore(library, tmp_path / "backup.db", tmp_path)
    restored = content(library)
    assert {name: rows for name, rows in restored.items() if name != "settings"} == {
        name: rows for name, rows in then.items() if name != "settings"
    }
    assert library.setting("failure") == "remade"
    assert library.version() != stamp
    assert faults(library) == []
    with open_database(str(before)) as kept:
        assert content(kept) == now
    library.add(CASES[0].model_copy(update={"id": "after"}), who="KM")  # numbering goes on


@pytest.mark.postgres
def test_a_backup_moves_between_databases(server_url: str, tmp_path: Path) -> None:
    with create_database(str(tmp_path / "one.db")) as one, create_database(server_url) as group:
        filled(one)
        backup.back_up(one, tmp_path / "backup.db")
        backup.restore(group, tmp_path / "backup.db", tmp_path)
        assert {version.document for version in group.latest()} == {
            version.document for version in one.latest()
        }
        assert faults(group) == []


def test_a_damaged_backup_is_refused_and_the_library_untouched(library: Library, tmp_path: Path) -> None:
    filled(library)
    path = tmp_path / "backup.db"
    backup.back_up(library, path)
    now = content(library)
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(bytes(data))
    with pytest.raises(DamagedLibrary, match="checksum"):
        backup.restore(library, path, tmp_path)
    (tmp_path / "backup.db.sha256").unlink()
    with pytest.raises(LibraryError, match="missing"):
        backup.restore(library, path, tmp_path)
    assert content(library) == now
    assert not [name for name in os.listdir(tmp_path) if name.startswith("before-restore")]


def test_a_backup_while_others_write_holds_one_state(tmp_path: Path) -> None:
    """Writers add pairs in one transaction each; no backup ever holds half a pair."""
    import threading

    from recommender.precedents.store.records import Entry

    place = str(tmp_path / "cases.db")
    create_database(place).close()
    stop = threading.Event()

    def writer() -> None:
        number = 0
        with open_database(place, write=True) as library:
            while not stop.is_set():
                pair = [
                    Entry.of(CASES[0].model_copy(update={"id": f"{side}-{number}"})) for side in ("a", "b")
                ]
                with library.writing() as connection:
                    library.add_all(connection, pair[:1], who="KM", why="", kind="added")
                    library.add_all(connection, pair[1:], who="KM", why="", kind="added")
                number += 1

    thread = threading.Thread(target=writer)
    thread.start()
    sizes = []
    try:
        with open_database(place) as library:
            for number in range(6):
                backup.back_up(library, tmp_path / f"b{number}.db")
    finally:
        stop.set()
        thread.join()
    for number in range(6):
        with open_database(str(tmp_path / f"b{number}.db")) as copy:
            ids = [head.id for head in copy.heads()]
            assert len([i for i in ids if i[0] == "a"]) == len([i for i in ids if i[0] == "b"])
            sizes.append(len(ids))
    assert sizes == sorted(sizes)
    assert sizes[-1] > sizes[0]


def test_a_sqlite_library_is_marked_as_one(tmp_path: Path) -> None:
    create_database(str(tmp_path / "cases.db")).close()
    with sqlite3.connect(tmp_path / "cases.db") as connection:
        assert connection.execute("PRAGMA application_id").fetchone()[0] == 0x52504443
        assert connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
        assert connection.execute("PRAGMA page_size").fetchone()[0] == 16384
    connection.close()
