"""Reading and writing one case library. Every change adds a version; none is ever taken away or written over.

Methods raise the errors of ``store.errors``; when one is raised nothing has been changed.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import fields
from typing import TYPE_CHECKING

import orjson
from sqlalchemy import Connection, Engine, and_, func, insert, select, text, update
from sqlalchemy.exc import IntegrityError

from recommender.domain.case import Case, Review
from recommender.precedents.store import documents, gate
from recommender.precedents.store.engine import in_words
from recommender.precedents.store.errors import (
    CaseExists,
    DamagedLibrary,
    NoSuchCase,
    NotLoggedIn,
    ReadOnlyLibrary,
    StaleEdit,
)
from recommender.precedents.store.gate import checked_who
from recommender.precedents.store.records import Entry, Head, Version, now
from recommender.precedents.store.schema import cases, settings, versions

if TYPE_CHECKING:
    from recommender.precedents.store.team.roles import Person

_HEAD = tuple(field.name for field in fields(Head))
_VERSION = tuple(field.name for field in fields(Version))
_SERVING = select(*(versions.c[name] for name in _VERSION)).join(
    cases,
    and_(
        cases.c.id == versions.c.case_id,
        versions.c.revision == func.coalesce(cases.c.serving, cases.c.revision),
    ),
)


class Library:
    """A library that is open. ``where`` is its address as it may be shown; use it as a context manager."""

    def __init__(
        self,
        engine: Engine,
        where: str,
        *,
        read_only: bool,
        at_work: "Callable[[], Person | None] | None" = None,
    ) -> None:
        """``at_work`` tells for each transaction who is at work in a library that a team shares."""
        self.engine = engine
        self.where = where
        self.read_only = read_only
        self.at_work = at_work

    def __enter__(self) -> "Library":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Gives every connection back."""
        self.engine.dispose()

    def acting(self, at_work: "Callable[[], Person | None]") -> "Library":
        """The same library, with somebody else at work."""
        return Library(self.engine, self.where, read_only=self.read_only, at_work=at_work)

    @property
    def person(self) -> "Person | None":
        """Who is at work; ``None`` where a single person is, who may do everything. Raises ``NotLoggedIn``."""
        if self.at_work is None:
            return None
        found = self.at_work()
        if found is None:
            raise NotLoggedIn(f"{self.where}: nobody is logged in, or the session has ended; log in again")
        return found

    def require(self, act: str) -> "Person | None":
        """Who is at work. Raises ``NotAllowed`` where their role does not allow ``act`` of ``shared/roles.yaml``."""
        person = self.person
        if person is not None:
            from recommender.precedents.store.team.roles import require

            require(person, act)
        return person

    def may(self, act: str) -> bool:
        """Whether whoever is at work may do this. Raises ``NotLoggedIn``."""
        person = self.person
        if person is None:
            return True
        from recommender.precedents.store.team.roles import roles

        return roles().may(person.role, act)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A connection that sees one unchanging state of the library."""
        person = self.person
        with in_words(self.where), self.engine.connect() as connection, connection.begin():
            _as_person(connection, person)
            yield connection

    @contextmanager
    def writing(self, act: str = "edit") -> Iterator[Connection]:
        """A connection whose changes are all kept when the block ends well, and all undone otherwise.

        ``act`` is what is done, as ``shared/roles.yaml`` names it. Raises ``NotAllowed`` where the role of whoever is
        at work does not allow it, ``ReadOnlyLibrary`` for a library that is open for reading only.
        """
        person = self.require(act)
        if self.read_only:
            raise ReadOnlyLibrary(f"{self.where} is open for reading only; make your own with 'library init'")
        with (
            in_words(self.where),
            self.engine.connect().execution_options(rpd_write=True) as connection,
            connection.begin(),
        ):
            _as_person(connection, person)
            yield connection

    def named(self, who: str) -> str:
        """The name for the history: the alias of the person at work, else what was given. Raises ``UnfitText``."""
        person = self.person
        return checked_who(who) if person is None else person.alias

    # reading

    def version(self) -> str:
        """A text that changes whenever anything in the library changes."""
        with self.reading() as connection:
            last, count = connection.execute(select(func.max(versions.c.seq), func.count())).one()
            restored = connection.scalar(select(settings.c.value).where(settings.c.key == "restored"))
        return f"{last or 0}-{count}-{restored or 0}"

    def heads(
        self,
        *,
        status: str | None = None,
        arch: str | None = None,
        kennedy: str | None = None,
        outcome_known: bool | None = None,
        limit: int | None = None,
    ) -> list[Head]:
        """Latest versions without their documents, by id; a filter left out does not filter."""
        wanted = {"status": status, "arch": arch, "kennedy": kennedy, "outcome_known": outcome_known}
        query = select(*(cases.c[name] for name in _HEAD)).order_by(cases.c.id).limit(limit)
        query = query.where(*(cases.c[name] == value for name, value in wanted.items() if value is not None))
        with self.reading() as connection:
            return [Head(*row) for row in connection.execute(query)]

    def counts(self) -> dict[str, int]:
        """How many cases there are in each review state."""
        with self.reading() as connection:
            rows = connection.execute(select(cases.c.status, func.count()).group_by(cases.c.status)).all()
        return {str(state): int(count) for state, count in rows}

    def get(self, case_id: str, revision: int | None = None) -> Version:
        """The latest version of a case, or the one of that revision. Raises ``NoSuchCase``."""
        with self.reading() as connection:
            found = _one(connection, case_id, revision)
        if found is None:
            which = "" if revision is None else f" with revision {revision}"
            raise NoSuchCase(f"{self.where} has no case {case_id!r}{which}")
        return found

    def history(self, case_id: str) -> list[Version]:
        """Every version of a case, oldest first. Raises ``NoSuchCase``."""
        query = select(*(versions.c[name] for name in _VERSION)).where(versions.c.case_id == case_id)
        with self.reading() as connection:
            found = [Version(*row) for row in connection.execute(query.order_by(versions.c.revision))]
        if not found:
            raise NoSuchCase(f"{self.where} has no case {case_id!r}")
        return found

    def latest(self, *, status: Sequence[str] | None = None, batch: int = 500) -> Iterator[Version]:
        """The latest version of every case by id, read in batches, so that memory does not grow with the
        library.

        Each batch sees the library as it then is.
        """
        after = ""
        while True:
            query = (
                select(*(versions.c[name] for name in _VERSION))
                .join(cases, and_(cases.c.id == versions.c.case_id, cases.c.revision == versions.c.revision))
                .where(cases.c.id > after)
                .order_by(cases.c.id)
                .limit(batch)
            )
            if status is not None:
                query = query.where(cases.c.status.in_(list(status)))
            with self.reading() as connection:
                rows = connection.execute(query).all()
            for row in rows:
                yield Version(*row)
            if len(rows) < batch:
                return
            after = str(rows[-1].case_id)

    def serving(self, batch: int = 500) -> Iterator[Version]:
        """What advice is drawn from, by id: of each case the approved revision that serves, else the latest."""
        after = ""
        while True:
            query = _SERVING.where(cases.c.id > after).order_by(cases.c.id).limit(batch)
            with self.reading() as connection:
                rows = connection.execute(query).all()
            for row in rows:
                yield Version(*row)
            if len(rows) < batch:
                return
            after = str(rows[-1].case_id)

    def serving_of(self, ids: Sequence[str]) -> dict[str, Version]:
        """What ``serving`` gives for these cases, by id."""
        with self.reading() as connection:
            found = [Version(*row) for row in connection.execute(_SERVING.where(cases.c.id.in_(ids)))]
        return {version.case_id: version for version in found}

    def held(self, ids: Sequence[str]) -> dict[str, Version]:
        """The latest version of each of these cases that is there, by id."""
        if not ids:
            return {}
        latest = and_(cases.c.id == versions.c.case_id, cases.c.revision == versions.c.revision)
        query = select(*(versions.c[name] for name in _VERSION)).join(cases, latest)
        with self.reading() as connection:
            found = [Version(*row) for row in connection.execute(query.where(cases.c.id.in_(ids)))]
        return {version.case_id: version for version in found}

    def setting(self, key: str) -> object | None:
        """A stored setting, or ``None``."""
        with self.reading() as connection:
            value = connection.scalar(select(settings.c.value).where(settings.c.key == key))
        try:
            return None if value is None else orjson.loads(value)
        except ValueError as error:
            raise DamagedLibrary(f"{self.where}: the setting {key!r} is damaged") from error

    # writing

    def add(self, case: Case, *, who: str, why: str = "", kind: str = "added") -> Version:
        """Adds a case. Raises ``CaseExists`` if the id is taken."""
        entry = Entry.of(case)
        with self.writing() as connection:
            try:
                self.add_all(connection, [entry], who=who, why=why, kind=kind)
            except IntegrityError as error:
                raise CaseExists(f"{self.where} already has a case {case.id!r}") from error
        return self.get(case.id, 1)

    def save(self, case: Case, *, opened: int, who: str, why: str, kind: str = "edited") -> Version:
        """Saves a changed case as a new version.

        ``opened`` is the revision that the edit started from. Raises ``StaleEdit`` (holding both versions) if
        somebody saved another one since, ``NoSuchCase`` if there is no such case.
        """
        entry = Entry.of(case)
        with self.writing() as connection:
            if not self.change(connection, entry, opened=opened, who=who, why=why, kind=kind):
                raise self._stale(connection, case, opened)
        return self.get(case.id, opened + 1)

    def restore(self, case_id: str, revision: int, *, opened: int, who: str, why: str) -> Version:
        """Makes an earlier version the latest again, as a new version; what came between stays readable.

        An approval comes back only with the revision that serves: any other is a draft, for a reviewer to decide on.
        """
        earlier = self.get(case_id, revision)
        case = earlier.case
        serves = self.serving_of([case_id])[case_id]
        if documents.status(case) == "approved" and earlier.document != serves.document:
            note = case.review.teaching_note if case.review else None
            case = case.model_copy(update={"review": Review(status="draft", teaching_note=note)})
        return self.save(case, opened=opened, who=who, why=why or f"as revision {revision}", kind="restored")

    def set_setting(self, key: str, value: object, *, act: str = "settings") -> None:
        """Stores a setting. Raises ``NotAllowed`` where the role of whoever is at work does not allow ``act``."""
        with self.writing(act) as connection:
            put_setting(connection, key, value)

    def add_all(
        self, connection: Connection, entries: Sequence[Entry], *, who: str, why: str, kind: str
    ) -> None:
        """Adds many new cases within an open writing block."""
        if not entries:
            return
        at, name = now(), self.named(who)
        self._may(kind, entries)
        gate.admit(connection, entries, why)
        rows = [
            entry.columns.row()
            | {"revision": 1, "updated_at": at, "serving": 1 if entry.columns.status == "approved" else None}
            for entry in entries
        ]
        connection.execute(insert(cases), rows)
        connection.execute(
            insert(versions),
            [_version_row(entry, 1, kind=kind, who=name, at=at, why=why) for entry in entries],
        )

    def change(
        self, connection: Connection, entry: Entry, *, opened: int, who: str, why: str, kind: str
    ) -> bool:
        """Adds a version within an open writing block; false if ``opened`` is not the latest revision.

        Which revision serves: an approved version does from now on; a draft leaves serving what was approved before,
        unless a reviewer made it a draft again (``kind`` ``drafted``); a retired one lets nothing serve. What
        ``redacted`` takes a text out of serves as before.
        """
        at, name = now(), self.named(who)
        self._may(kind, [])
        gate.admit(connection, [entry] if kind != "redacted" else [], why)
        values = entry.columns.row() | {"revision": opened + 1, "updated_at": at}
        if entry.columns.status == "approved":
            values["serving"] = opened + 1
        elif entry.columns.status == "retired" or kind == "drafted":
            values["serving"] = None
        changed = connection.execute(
            update(cases).where(cases.c.id == entry.columns.id, cases.c.revision == opened).values(values)
        )
        if changed.rowcount != 1:
            return False
        connection.execute(
            insert(versions), [_version_row(entry, opened + 1, kind=kind, who=name, at=at, why=why)]
        )
        return True

    def _may(self, kind: str, entries: Sequence[Entry]) -> None:
        if self.person is not None:
            from recommender.precedents.store.team.roles import roles

            self.require(roles().act_of(kind))
            if any(entry.columns.status == "approved" for entry in entries):
                self.require("import_approved")

    def _stale(self, connection: Connection, yours: Case, opened: int) -> Exception:
        theirs = _one(connection, yours.id, None)
        if theirs is None:
            return NoSuchCase(f"{self.where} has no case {yours.id!r}")
        return StaleEdit(
            yours,
            theirs.case,
            opened=opened,
            current=theirs.revision,
            who=theirs.who,
            at=theirs.at,
            why=theirs.why,
            differences=documents.differences(yours, theirs.case),
        )


def _as_person(connection: Connection, person: "Person | None") -> None:
    # the token is handed over as a value, never within the text of a statement, which other connections may see
    if person is not None and person.token is not None:
        connection.execute(text("SELECT set_config('casebook.token', :token, true)"), {"token": person.token})


def put_setting(connection: Connection, key: str, value: object) -> None:
    """Stores a setting within an open writing block."""
    kept = orjson.dumps(value).decode()
    if connection.execute(update(settings).where(settings.c.key == key).values(value=kept)).rowcount == 0:
        connection.execute(insert(settings).values(key=key, value=kept))


def _one(connection: Connection, case_id: str, revision: int | None) -> Version | None:
    query = select(*(versions.c[name] for name in _VERSION)).where(versions.c.case_id == case_id)
    if revision is None:
        query = query.order_by(versions.c.revision.desc()).limit(1)
    else:
        query = query.where(versions.c.revision == revision)
    row = connection.execute(query).first()
    return None if row is None else Version(*row)


def _version_row(entry: Entry, revision: int, *, kind: str, who: str, at: str, why: str) -> dict[str, object]:
    return {
        "case_id": entry.columns.id,
        "revision": revision,
        "kind": kind,
        "who": who,
        "at": at,
        "why": why,
        "document": entry.document,
        "checksum": documents.checksum(entry.document),
    }
