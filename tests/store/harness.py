"""What the reliability checks are made of: processes killed at random moments.

The short forms run with the tests; ``python -m tests.store.long_form`` runs the long ones.
"""

import contextlib
import multiprocessing
import os
import random
import signal
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any

from recommender.domain.case import Case
from recommender.precedents.store import backup
from recommender.precedents.store.checking import faults
from recommender.precedents.store.databases import create_database, database_url, open_database
from recommender.precedents.store.engine import connect
from recommender.precedents.store.errors import OlderLibrary
from recommender.precedents.store.importing import rows as incoming
from recommender.precedents.store.importing.batch import import_all, import_valid
from recommender.precedents.store.importing.reports import Terms
from recommender.precedents.store.library import Library
from recommender.precedents.store.migrate import upgrade
from recommender.precedents.store.schema import HEAD
from tests.store.invented import invented_cases

FORK = multiprocessing.get_context("fork")
ROWS = 600
TERMS = Terms("KM", "past work")

DONE = "done"
Say = Callable[[object], None]


def killed_after(work: Callable[[Say], None], delay: float) -> tuple[list[Any], bool]:
    """Runs ``work`` in a process of its own and kills it with SIGKILL ``delay`` seconds after it says it is ready.

    Returns what it had said by then, and whether it was still at work.
    """
    receiving, sending = FORK.Pipe(duplex=False)
    process = FORK.Process(target=_run, args=(work, sending))
    process.start()
    sending.close()
    said: list[Any] = []
    with contextlib.suppress(EOFError):
        assert receiving.recv() == "ready"
        deadline = time.monotonic() + delay
        while (left := deadline - time.monotonic()) > 0:
            if receiving.poll(left):
                said.append(receiving.recv())
    os.kill(process.pid or 0, signal.SIGKILL)
    process.join()
    with contextlib.suppress(EOFError, OSError):
        while receiving.poll():
            said.append(receiving.recv())
    assert process.exitcode == -signal.SIGKILL, "the work failed before it was killed"
    return [one for one in said if one != DONE], DONE not in said


def _run(work: Callable[[Say], None], sending: Connection) -> None:
    try:
        sending.send("ready")
        work(sending.send)
        sending.send(DONE)
        time.sleep(60)  # to be killed: a kill after the end is a moment like any other
    finally:
        os._exit(3)


def time_of(work: Callable[[Say], None]) -> float:
    """Seconds that the work takes undisturbed."""
    start = time.monotonic()
    work(lambda _said: None)
    return time.monotonic() - start


def sound(library: Library) -> None:
    """Nothing half-written anywhere."""
    assert faults(library) == []


# one kind of work for each ordeal: prepare, work, and what has to hold afterwards


@dataclass(slots=True)
class Ordeal:
    """Kills of one kind of work on one database. ``fresh`` gives the address of an empty place each time."""

    folder: Path
    fresh: Callable[[], contextlib.AbstractContextManager[str]]
    seed: int = 1
    kills: int = 0
    cut_short: int = 0
    chance: random.Random = field(init=False)

    def __post_init__(self) -> None:
        self.chance = random.Random(self.seed)

    def edits(self, times: int) -> None:
        """Adding and saving cases: every save that was acknowledged is there, and no version is half-written."""
        cases = list(invented_cases(2000, seed=self.seed))
        for _ in range(times):
            with self.fresh() as where:
                create_database(where).close()
                said, cut = killed_after(
                    lambda say, w=where: _edit(w, cases, say), self.chance.uniform(0, 0.8)
                )
                self._count(cut)
                with open_database(where, write=True) as library:
                    sound(library)
                    for case_id, revision, title in said:
                        assert library.get(case_id, revision).case.title == title
                    library.add(cases[0].model_copy(update={"id": "next-start"}), who="KM")

    def imports(self, times: int) -> None:
        """An import of the valid rows: whole batches, and run again it ends with every row exactly once."""
        source = self._source()
        with self.fresh() as where:
            create_database(where).close()
            usual = time_of(lambda _say: _import_valid(where, source))
        for _ in range(times):
            with self.fresh() as where:
                create_database(where).close()
                _, cut = killed_after(
                    lambda _say, w=where: _import_valid(w, source), self.chance.uniform(0, usual * 1.05)
                )
                self._count(cut)
                with open_database(where) as library:
                    sound(library)
                    assert len(library.heads()) in (0, 500, ROWS)
                _import_valid(where, source)
                with open_database(where) as library:
                    sound(library)
                    heads = library.heads()
                    assert len(heads) == ROWS
                    assert {head.revision for head in heads} == {1}

    def whole_imports(self, times: int) -> None:
        """An import of all or nothing: all or nothing."""
        source = self._source()
        with self.fresh() as where:
            create_database(where).close()
            usual = time_of(lambda _say: _import_all(where, source))
        with self.fresh() as where:  # the first is slower: nothing has been loaded yet
            create_database(where).close()
            usual = min(usual, time_of(lambda _say: _import_all(where, source)))
        for _ in range(times):
            with self.fresh() as where:
                create_database(where).close()
                # most of the time goes into reading; the kills are to fall into the writing
                _, cut = killed_after(
                    lambda _say, w=where: _import_all(w, source), usual * self.chance.uniform(0.5, 1.0)
                )
                self._count(cut)
                with open_database(where) as library:
                    sound(library)
                    assert len(library.heads()) in (0, ROWS)

    def migrations(self, times: int, older: Callable[[str, list[Case]], None]) -> None:
        """A migration: the old library or the new one, and run again it ends well."""
        cases = list(invented_cases(250, seed=self.seed))
        with self.fresh() as where:
            older(where, cases)
            usual = time_of(lambda _say: _migrate(where))
        for _ in range(times):
            with self.fresh() as where:
                older(where, cases)
                _, cut = killed_after(lambda _say, w=where: _migrate(w), self.chance.uniform(0, usual * 1.05))
                self._count(cut)
                with contextlib.suppress(OlderLibrary), open_database(where) as library:
                    sound(library)
                assert _migrate(where) in ("0001", HEAD)
                with open_database(where) as library:
                    sound(library)
                    assert {version.document for version in library.latest()} == _documents(cases)

    def backups(self, times: int) -> None:
        """A backup: there and verified, or not there; the library as it was."""
        cases = list(invented_cases(300, seed=self.seed))
        with self.fresh() as where:
            with create_database(where) as library:
                import_all(library, _rows(cases), TERMS, lambda _: None)
                stamp = library.version()
            usual = time_of(lambda _say: _back_up(where, self.folder / "usual.db"))
            for number in range(times):
                path = self.folder / f"backup-{self.seed}-{number}.db"
                _, cut = killed_after(
                    lambda _say, p=path: _back_up(where, p), self.chance.uniform(0, usual * 1.05)
                )
                self._count(cut)
                if path.exists() and path.with_name(path.name + ".sha256").exists():
                    backup.verify(path)
                elif path.exists():
                    with open_database(str(path)) as copy:
                        sound(copy)
                with open_database(where) as library:
                    assert library.version() == stamp
                _back_up(where, self.folder / f"after-{self.seed}-{number}.db")
            with open_database(where) as library:
                sound(library)

    def restores(self, times: int, cases: int) -> None:
        """A restore over a library of so many cases: what was, or what the backup holds (half as many again)."""
        before = list(invented_cases(cases, seed=8))
        after = list(invented_cases(cases * 3 // 2, seed=9, prefix="other"))
        with self.fresh() as where, create_database(where) as library:
            import_all(library, _rows(after), TERMS, lambda _: None)
            backup.back_up(library, self.folder / "held.db")
        with self.fresh() as where:
            with create_database(where) as library:
                import_all(library, _rows(before), TERMS, lambda _: None)
                backup.back_up(library, self.folder / "first.db")
            usual = time_of(lambda _say: _restore(where, self.folder / "held.db", self.folder))
            for _ in range(times):
                _restore(where, self.folder / "first.db", self.folder)
                _, cut = killed_after(
                    lambda _say: _restore(where, self.folder / "held.db", self.folder),
                    usual * self.chance.uniform(0.2, 1.05),
                )
                self._count(cut)
                with open_database(where) as library:
                    sound(library)
                    documents = {version.document for version in library.latest()}
                assert documents in (_imported(before), _imported(after))

    def _source(self) -> Path:
        from recommender.precedents.store.exporting.export import to_lines

        path = self.folder / "source.jsonl"
        if not path.exists():
            to_lines(invented_cases(ROWS, seed=self.seed), path)
        return path

    def _count(self, cut: bool) -> None:
        self.kills += 1
        self.cut_short += cut


def _documents(cases: list[Case]) -> set[str]:
    from recommender.precedents.store.documents import dump

    return {dump(case) for case in cases}


def _imported(cases: list[Case]) -> set[str]:
    kept = [
        case.model_copy(update={"review": case.review.model_copy(update={"status": "draft"})})
        for case in cases
    ]
    return _documents(kept)


def _rows(cases: list[Case]) -> Iterator[incoming.Row]:
    return (incoming.Row(case.id, case) for case in cases)


def _edit(where: str, cases: list[Case], say: Say) -> None:
    with open_database(where, write=True) as library:
        for case in cases:
            library.add(case, who="KM")
            say((case.id, 1, case.title))
            library.save(case.model_copy(update={"title": "second"}), opened=1, who="KM", why="again")
            say((case.id, 2, "second"))


def _import_valid(where: str, source: Path) -> None:
    with open_database(where, write=True) as library:
        rows = incoming.rows(source)
        import_valid(library, rows, TERMS, lambda _: None, digest=incoming.digest(source), name=source.name)


def _import_all(where: str, source: Path) -> None:
    with open_database(where, write=True) as library:
        import_all(library, incoming.rows(source), TERMS, lambda _: None)


def _migrate(where: str) -> str | None:
    engine = connect(database_url(where), write=True)
    try:
        return upgrade(engine, where)
    finally:
        engine.dispose()


def _back_up(where: str, path: Path) -> None:
    with open_database(where) as library:
        backup.back_up(library, path)


def _restore(where: str, path: Path, folder: Path) -> None:
    with open_database(where, write=True) as library:
        backup.restore(library, path, folder)
