"""Precedents of a large library without deriving the facts of every case again: an index kept beside it.

``serve`` only reads: the kept index where it fits, brought up to date in memory by the cases that changed since; else
everything is derived. ``keep_up`` also writes it down. What does not fit (damaged, of another library, of another
vocabulary or program) is never served. A reader never waits for a writer; one writer at a time.
"""

import json
import os
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, Protocol, runtime_checkable

from recommender.domain.case import Case
from recommender.precedents.index import saved
from recommender.precedents.index.compiled import derivation_stamp
from recommender.precedents.index.deriving import derived_library, situations_of
from recommender.precedents.index.locking import FolderLockedError, locked
from recommender.precedents.library import PrecedentLibrary
from recommender.precedents.search.tables import Likeness, load

# From so many cases on, deriving them takes seconds, and an index is kept without being asked for.
KEPT_FROM = 200
_PORTION = 1_000  # changed cases taken up at a time, so that memory does not grow with them
_ATTEMPTS = 4  # a reader may find that the index was replaced between its stamp and its files
_REBUILT_SHARE = 0.5  # where more of the cases changed, deriving all is no dearer

Progress = Callable[[int, int], None]


@runtime_checkable
class Indexed(Protocol):
    """A source of cases whose index can be kept. ``mark`` tells how far it has come."""

    def cases(self) -> Iterator[Case]:
        """Every case, in order of id."""
        ...

    def some(self, ids: Sequence[str]) -> Iterator[Case]:
        """Those of these cases that are there."""
        ...

    def count(self) -> int:
        """How many cases there are."""
        ...

    def mark(self) -> str:
        """One line of text that differs for every state."""
        ...

    def changed_since(self, mark: str) -> tuple[str, list[str] | None]:
        """The mark now, and ids of the cases changed since; ``None`` if this is no later state of that one."""
        ...

    def index_folders(self) -> tuple[Path, ...]:
        """Where the index may lie, the preferred place first."""
        ...


@dataclass(frozen=True, slots=True)
class Served:
    """A library ready to be asked. ``how``: the index as it was kept, caught up with ``read`` changed cases, or
    all ``read`` cases derived; ``why`` says why the index was not used. ``kept`` is the library as it lies in
    ``folder``; ``made_with`` stamps the rules of derivation."""

    library: PrecedentLibrary
    how: Literal["kept", "caught_up", "derived"]
    read: int
    mark: str
    made_with: str
    why: str = ""
    folder: Path | None = None
    kept: PrecedentLibrary | None = None


def _silent(_done: int, _of: int) -> None:
    return None


def serve(
    source: Indexed, likeness: Likeness | None = None, progress: Progress = _silent, jobs: int = 1
) -> Served:
    """The precedents of a source, exactly as if every case were derived now. Writes nothing.

    ``progress`` is called with how many of how many cases have been read; ``jobs`` processes derive them.
    """
    known = likeness or load()
    derived = derivation_stamp(known.version)
    why = "there is no index"
    for folder in source.index_folders():
        for _ in range(_ATTEMPTS):
            text = saved.held_version(folder)
            if text is None:
                break
            found, why = _from_index(
                source, folder, text, derived, known, progress, jobs if likeness is None else 1
            )
            if found is not None:
                return found
            if saved.held_version(folder) == text:
                break  # it was not replaced meanwhile: it does not fit
    mark = source.mark()
    count = source.count()
    library = derived_library(source.cases(), likeness, jobs, lambda done: progress(done, count))
    return Served(library, "derived", count, mark, derived, why)


def _from_index(
    source: Indexed, folder: Path, text: str, derived: str, likeness: Likeness, progress: Progress, jobs: int
) -> tuple[Served | None, str]:
    mark, _, made_with = text.rpartition(" ")
    if made_with != derived:
        return None, "the index was made with other rules of derivation or another version of the program"
    now, changed = source.changed_since(mark)
    if changed is None:
        return None, "the index was made of another library"
    if len(changed) > _REBUILT_SHARE * source.count() and len(changed) > _PORTION:
        return None, "most of the cases changed since the index was made"
    try:
        kept = saved.load(folder, text, likeness)
    except saved.UnfitIndexError as error:
        return None, f"the index cannot be used ({error})"
    library = kept
    for start in range(0, len(changed), _PORTION):
        ids = changed[start : start + _PORTION]
        progress(start, len(changed))
        several = jobs if len(ids) >= KEPT_FROM else 1
        library = library.changed(ids, situations_of(source.some(ids), likeness, several))
    how: Literal["kept", "caught_up"] = "caught_up" if changed else "kept"
    return Served(library, how, len(changed), now, derived, "", folder, kept), ""


def keep_up(
    source: Indexed,
    likeness: Likeness | None = None,
    progress: Progress = _silent,
    *,
    jobs: int = 1,
    anew: bool = False,
) -> Served:
    """Bring the kept index up to date with the source (``anew``: whatever it holds), and serve it.

    Raises ``FolderLockedError`` while another process writes it, and ``OSError`` where it can be written nowhere. A
    stop half-way leaves the former index as it was.
    """
    folder = _writable(source.index_folders())
    with locked(folder):
        if anew:
            (folder / "current.json").unlink(missing_ok=True)
        with _progress(folder, progress) as step:
            served = serve(source, likeness, step, jobs)
            if served.how != "kept" or served.folder != folder:
                before = served.kept if served.folder == folder else None
                text = f"{served.mark} {served.made_with}"
                saved.save(served.library, folder, text, before)
    return served


def standing(source: Indexed, likeness: Likeness | None = None) -> tuple[str, int]:
    """What there is of an index, in words (empty if it is up to date), and how many cases have to be read."""
    known = likeness or load()
    derived = derivation_stamp(known.version)
    why = "there is no index"
    for folder in source.index_folders():
        text = saved.held_version(folder)
        if text is None:
            continue
        mark, _, made_with = text.rpartition(" ")
        changed = source.changed_since(mark)[1] if made_with == derived else None
        if changed is None:
            why = "the index is of another library, or of another version of the program or its data"
            continue
        try:
            saved.load(folder, text, known)
        except saved.UnfitIndexError as error:
            why = f"the index cannot be used ({error})"
            continue
        return (f"{len(changed)} cases changed since the index was made" if changed else ""), len(changed)
    return why, source.count()


def progress(source: Indexed) -> tuple[int, int] | None:
    """How many of how many cases a process that is writing the index has read; ``None`` if none is at it."""
    for folder in source.index_folders():
        try:
            if (folder / "lock").exists():
                with locked(folder, shared=True):
                    continue
        except FolderLockedError:
            with suppress(OSError, ValueError, KeyError, TypeError):
                value = json.loads((folder / _PROGRESS).read_text(encoding="utf-8"))
                return int(value["done"]), int(value["of"])
            return 0, source.count()
        except OSError:
            continue
    return None


def forget(source: Indexed) -> None:
    """Take every kept index of the source away, so that no text of a case stays in it."""
    import shutil

    for folder in source.index_folders():
        if folder.is_dir():
            (folder / "current.json").unlink(missing_ok=True)
            shutil.rmtree(folder, ignore_errors=True)


_PROGRESS = "progress.json"


@contextmanager
def _progress(folder: Path, progress: Progress) -> Iterator[Progress]:
    """Passes on how far it has come, and leaves it in a file for other processes to see."""
    path, last = folder / _PROGRESS, -1.0

    def step(done: int, of: int) -> None:
        nonlocal last
        progress(done, of)
        share = done / of if of else 1.0
        if share - last >= 0.005 or done == of:
            last = share
            file, name = tempfile.mkstemp(dir=folder, prefix="current-", suffix=".part")
            with os.fdopen(file, "w", encoding="utf-8") as stream:
                json.dump({"done": done, "of": of}, stream)
            os.replace(name, path)

    try:
        yield step
    finally:
        path.unlink(missing_ok=True)


def _writable(folders: Sequence[Path]) -> Path:
    trouble: OSError | None = None
    for folder in folders:
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                return folder
        except OSError as error:
            trouble = error
    assert trouble is not None
    raise trouble
