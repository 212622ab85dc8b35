"""What of a library is damaged, case by case: read so that one bad row hides no other.

A single changed byte in a file may spoil a text, a number, the order of a page or the list of tables. What is looked
at: the structure of the file (SQLite checks its own), whether every case has every version, whether each document is
what was saved under that case, and, in full, whether the columns say what the newest document says.
"""

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

import orjson
from sqlalchemy import Connection, func, select, text
from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from recommender.precedents.store import documents
from recommender.precedents.store.errors import DamagedLibrary
from recommender.precedents.store.library import Library
from recommender.precedents.store.records import Version
from recommender.precedents.store.schema import cases, imported, looked, profiles, versions

KINDS = frozenset({
    "added", "imported", "edited", "restored", "approved", "retired", "drafted", "outcome", "redacted", "lost",
})  # fmt: skip
UNREADABLE = (
    DBAPIError, SQLAlchemyError, sqlite3.Error, ValueError, TypeError, KeyError, AttributeError, OverflowError,
)  # fmt: skip
_STREAM = {"stream_results": True, "max_row_buffer": 500}
_SHOWN = 8
_TOLD = 100  # cases between two words on how far it is


@dataclass(frozen=True, slots=True)
class Damage:
    """``whole``: what is wrong with the file as such; ``cases``: what is wrong with each damaged case, by id."""

    whole: tuple[str, ...] = ()
    cases: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def __bool__(self) -> bool:
        return bool(self.whole or self.cases)

    def lines(self) -> list[str]:
        """One line for each thing that is wrong."""
        return [*self.whole, *(f"case {one}: {line}" for one, found in self.cases.items() for line in found)]

    def error(self, where: str, what: str) -> DamagedLibrary:
        """The error that names every damaged case, and what can be done."""
        named = ", ".join(sorted(self.cases)) or "; ".join(self.whole[:_SHOWN])
        return DamagedLibrary(
            f"{where} is damaged ({named}); {what}. 'library check' tells all of it, 'library repair' mends it from "
            "history or a backup, 'library export --sound' takes out what is sound"
        )


@dataclass(slots=True)
class Kept:
    """The rows of one case as far as they can be read. ``trouble`` says what could not be."""

    case_id: str
    head: dict[str, Any] | None = None
    versions: list[dict[str, Any]] = field(default_factory=list)
    trouble: list[str] = field(default_factory=list)


def find(library: Library, *, full: bool = True, told: Callable[[int], None] = lambda _done: None) -> Damage:
    """What is damaged. Without ``full``: only what would change an export. ``told`` hears now and then how many cases
    were looked at. Raises ``DamagedLibrary`` where nothing at
    all can be read, ``NotAllowed`` for somebody of a team who may not look at the whole history."""
    library.require("see_drafts")
    whole = structure(library)
    found: dict[str, tuple[str, ...]] = {}
    for done, kept in enumerate(salvaged(library, whole=bool(whole))):
        if done % _TOLD == 0:
            told(done)
        wrong = tuple(faults_of(kept, full=full))
        if wrong:
            found[shown(kept.case_id)] = wrong
    if full:
        whole = (*whole, *_beside(library))
    return Damage(whole, found)


def faults(library: Library, told: Callable[[int], None] = lambda _done: None) -> list[str]:
    """One line for each thing that is wrong; empty for a sound library."""
    return find(library, told=told).lines()


def uneven(library: Library) -> set[str]:
    """Cases of which a version is missing or the latest is not the newest: by counting, without reading a document.
    None for somebody of a team who sees no history: what they cannot see is not missing."""
    if not library.may("see_drafts"):
        return set()
    newest = select(
        versions.c.case_id, func.max(versions.c.revision).label("newest"), func.count().label("number")
    ).group_by(versions.c.case_id)
    counted = newest.subquery()
    joined = (
        select(cases.c.id, cases.c.revision, counted.c.newest, counted.c.number)
        .join(counted, counted.c.case_id == cases.c.id, isouter=True)
        .where(
            (counted.c.newest.is_(None))
            | (counted.c.newest != cases.c.revision)
            | (counted.c.number != cases.c.revision)
        )
    )
    lost = select(versions.c.case_id).where(versions.c.case_id.not_in(select(cases.c.id))).distinct()
    with library.reading() as connection:
        return {str(row[0]) for query in (joined, lost) for row in connection.execute(query)}


def sound(library: Library, left_out: dict[str, str], *, serving: bool = False) -> Iterator[Version]:
    """The latest version (or the one that serves) of every case that is sound, whatever became of the file; what is
    left out goes into ``left_out`` with its reason."""
    for kept in salvaged(library, whole=bool(structure(library))):
        wrong = list(faults_of(kept, full=False))
        version = kept.versions[-1] if kept.versions else None
        if serving and not wrong and kept.head is not None and kept.head["serving"] is not None:
            version = next((v for v in kept.versions if v["revision"] == kept.head["serving"]), None)
            wrong = (
                [fault_of_version(kept.case_id, version)]
                if version
                else ["the revision that serves is not there"]
            )
            wrong = [line for line in wrong if line]
        if wrong or version is None:
            left_out[shown(kept.case_id)] = "; ".join(wrong)
        else:
            yield Version(**{name: version[name] for name in Version.__dataclass_fields__})


def shown(value: Any) -> str:
    """An id or the like as it may be printed, whatever became of it."""
    return value if isinstance(value, str) and value.isprintable() else repr(value)


def structure(library: Library) -> tuple[str, ...]:
    """What the database itself says is wrong with its file."""
    if library.engine.dialect.name != "sqlite":
        return ()
    try:
        with library.engine.connect() as connection, connection.begin():
            said = [str(row[0]) for row in connection.execute(text("PRAGMA integrity_check(20)"))]
            orphans = connection.execute(text("PRAGMA foreign_key_check")).all()
    except UNREADABLE as error:
        return (f"{library.where}: the file cannot be read through ({_cause(error)})",)
    found = [f"{library.where}: damaged file ({' '.join(line.split())})" for line in said if line != "ok"]
    return (*found, *(f"{library.where}: row {row[1]} of {row[0]} belongs to no case" for row in orphans))


def salvaged(library: Library, *, whole: bool = False) -> Iterator[Kept]:
    """Every case that is named anywhere, with the rows that can be read of it; one by one where the file is damaged
    as a ``whole``."""
    done: set[Any] = set()
    if not whole:
        try:
            # in one transaction: what others write meanwhile is no damage
            with library.engine.connect() as connection, connection.begin():
                heads = {row["id"]: dict(row) for row in connection.execute(select(cases)).mappings()}
                query = select(versions).order_by(versions.c.case_id, versions.c.revision)
                stream = connection.execute(query, execution_options=_STREAM).mappings()
                for case_id, rows in groupby(stream, key=lambda row: row["case_id"]):
                    kept = Kept(case_id, heads.get(case_id), [dict(row) for row in rows])
                    done.add(case_id)
                    yield kept
            yield from (Kept(case_id, head) for case_id, head in heads.items() if case_id not in done)
            return
        except UNREADABLE:
            pass
    yield from (_one_by_one(library, one) for one in sorted(_ids(library) - done, key=str))


def _ids(library: Library) -> set[Any]:
    """Every id that is named anywhere, by tables and by their indexes."""
    named: set[Any] = set()
    readable = False
    queries = (
        select(versions.c.case_id, versions.c.document),
        select(cases.c.id, cases.c.title),
        select(versions.c.case_id).order_by(versions.c.case_id, versions.c.revision),
        select(cases.c.id).order_by(cases.c.id),
    )
    for query in queries:
        try:
            with library.engine.connect() as connection, connection.begin():
                for row in connection.execute(query, execution_options=_STREAM):
                    readable = True
                    named.add(row[0])
                readable = True
        except UNREADABLE:
            continue
    if not readable:
        raise DamagedLibrary(
            f"{library.where} is damaged so that none of its cases can be read; restore the last backup "
            "(library restore-backup), or make a new library of it (library init)"
        )
    return named


def _one_by_one(library: Library, case_id: Any) -> Kept:
    kept = Kept(case_id)
    try:
        with library.engine.connect() as connection, connection.begin():
            row = connection.execute(select(cases).where(cases.c.id == case_id)).mappings().first()
            kept.head = None if row is None else dict(row)
    except UNREADABLE as error:
        kept.trouble.append(f"its row cannot be read ({_cause(error)})")
    revision = 0
    while True:
        try:
            with library.engine.connect() as connection, connection.begin():
                query = select(versions).where(versions.c.case_id == case_id, versions.c.revision > revision)
                row = connection.execute(query.order_by(versions.c.revision).limit(1)).mappings().first()
        except UNREADABLE as error:
            kept.trouble.append(f"a version after revision {revision} cannot be read ({_cause(error)})")
            revision += 1
            if len(kept.trouble) > _SHOWN or (
                kept.head is not None and revision >= _whole(kept.head["revision"])
            ):
                return kept
            continue
        if row is None or _whole(row["revision"]) <= revision:
            return kept
        kept.versions.append(dict(row))
        revision = _whole(row["revision"])


def faults_of(kept: Kept, *, full: bool) -> Iterator[str]:
    """What is wrong with one case."""
    yield from kept.trouble
    head = kept.head
    if head is None:
        yield "it is not among the cases, only among the versions"
    if not kept.versions:
        yield "has no version at all"
        return
    numbers = [version["revision"] for version in kept.versions]
    if numbers != list(range(1, len(numbers) + 1)) or (head is not None and head["revision"] != len(numbers)):
        latest = "none" if head is None else head["revision"]
        yield f"revision {shown(str(latest))}, but versions {', '.join(shown(str(number)) for number in numbers)}"
    for version in kept.versions if full else kept.versions[-1:]:
        wrong = fault_of_version(kept.case_id, version)
        if wrong:
            yield f"revision {version['revision']}: {wrong}"
        elif full and version["kind"] not in KINDS:
            yield f"revision {version['revision']}: an unknown kind of version, {shown(version['kind'])}"
    if full and head is not None:
        yield from _fault_of_head(kept, head)


def fault_of_version(case_id: Any, version: dict[str, Any]) -> str:
    """What is wrong with a version; empty for a sound one."""
    document = version["document"]
    if not documents.is_sound(document, version["checksum"]):
        return "the document was changed after it was saved"
    try:
        data = orjson.loads(document)
        if data.get("id") != case_id:
            return f"its document is of another case ({shown(data.get('id'))})"
    except (ValueError, AttributeError):
        return "its document is not a case of this format"
    return ""


def _fault_of_head(kept: Kept, head: dict[str, Any]) -> Iterator[str]:
    newest = kept.versions[-1]
    if fault_of_version(kept.case_id, newest):
        return
    try:
        expected = documents.columns(documents.load(newest["document"])).row()
    except ValueError as error:
        yield f"its document is not a case of this format ({error})"
        return
    wrong = [name for name in expected if head[name] != expected[name]]
    if head["serving"] not in (None, serving_by(kept.versions)):
        wrong.append("serving")
    if wrong:
        yield f"the columns {', '.join(wrong)} do not fit its document"


def serving_by(history: Sequence[dict[str, Any]]) -> int | None:
    """The revision that serves by what happened to the case (as ``Library.change`` decides it)."""
    serves = None
    for version in history:
        status = _status(version["document"])
        if status == "approved":
            serves = version["revision"]
        elif status == "retired" or version["kind"] == "drafted":
            serves = None
    return serves


def _status(document: Any) -> str:
    try:
        return str((orjson.loads(document).get("review") or {}).get("status") or "draft")
    except (ValueError, AttributeError, TypeError):
        return "draft"


def _beside(library: Library) -> tuple[str, ...]:
    """What is wrong with what is kept beside the cases."""
    found = []
    try:
        with library.engine.connect() as connection, connection.begin():
            found = _forms(connection)
            for row in connection.execute(text("SELECT key, value FROM settings")):
                try:
                    orjson.loads(row[1])
                except (ValueError, TypeError):
                    found.append(f"the setting {shown(row[0])} cannot be read")
            connection.execute(select(looked)).all()
            found += [
                f"the profile of the house adopted at {shown(row.at)} was changed after it was saved"
                for row in connection.execute(select(profiles))
                if not documents.is_sound(row.document, row.checksum)
            ]
    except UNREADABLE as error:
        found.append(f"{library.where}: what is kept beside the cases cannot be read ({_cause(error)})")
    return tuple(found)


def _forms(connection: Connection) -> list[str]:
    return [
        f"case {shown(row.case_id)}: what its source said at its last import was changed after it was saved"
        for row in connection.execute(select(imported), execution_options=_STREAM)
        if not documents.is_sound(row.document, row.checksum)
    ]


def _whole(value: Any) -> int:
    return value if isinstance(value, int) else 0


def _cause(error: BaseException) -> str:
    original = getattr(error, "orig", None) or error
    return " ".join(str(original).split())[:120] or type(original).__name__
