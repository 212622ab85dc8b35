"""The people of a library that a team shares: added, given another role, taken off the list."""

from dataclasses import dataclass

from sqlalchemy import Connection, insert, or_, select, text, update

from recommender.precedents.store.errors import LibraryError, UnfitText
from recommender.precedents.store.gate import checked_alias, checked_who
from recommender.precedents.store.library import Library, put_setting
from recommender.precedents.store.records import now
from recommender.precedents.store.schema import people
from recommender.precedents.store.team.guard import SETTING, house_of, is_kept
from recommender.precedents.store.team.roles import House, roles


@dataclass(frozen=True, slots=True)
class Entry:
    """One person: by what the provider of identities knows them, by which database user, and until when."""

    alias: str
    role: str
    login: str | None
    database_user: str | None
    who: str
    at: str
    ended: str | None

    def row(self) -> list[str]:
        """Alias, role, log-in, database user, since and until, as a row of a table."""
        known = self.login or "", self.database_user or ""
        return [self.alias, self.role, *known, self.at[:10], (self.ended or "")[:10]]


def listed(library: Library) -> list[Entry]:
    """Everybody, by alias. Raises ``NotAllowed`` for anybody but a steward, ``LibraryError`` without a team."""
    library.require("people")
    columns = (people.c[name] for name in Entry.__slots__)
    with library.reading() as connection:
        _need_team(connection, library.where)
        return [Entry(*row) for row in connection.execute(select(*columns).order_by(people.c.alias))]


def add(
    library: Library, alias: str, role: str, *, login: str | None = None, database_user: str | None = None
) -> Entry:
    """Adds a person, or gives one who is there what is named here; log-ins of theirs end where that changes.

    ``login`` is what the provider of identities calls the person, ``database_user`` a user of the server for the
    command line. Raises ``UnfitText`` for an alias that may be a name, ``NotAllowed`` for anybody but a steward.
    """
    name = checked_alias(checked_who(alias))
    if role not in roles().roles:
        raise LibraryError(f"{role!r} is no role; there are {', '.join(roles().roles)}")
    if login is not None and (not login.strip() or len(login) > 200):
        raise UnfitText("the log-in is what the provider of identities calls the person: 1 to 200 letters")
    library.require("people")
    said = library.named("owner")
    with library.writing("people") as connection:
        _need_team(connection, library.where)
        held = connection.execute(select(people).where(people.c.alias == name)).first()
        values = {
            "role": role,
            "login": login.strip() if login else (held.login if held else None),
            "database_user": database_user or (held.database_user if held else None),
            "who": said,
            "at": now(),
            "ended": None,
        }
        if values["login"] is None and values["database_user"] is None:
            raise LibraryError(f"{name}: say by which log-in or which database user the person is known")
        known = [people.c[by] == values[by] for by in ("login", "database_user") if values[by] is not None]
        taken = select(people.c.alias).where(people.c.alias != name, or_(*known))
        if (other := connection.scalar(taken)) is not None:
            raise LibraryError(f"{name}: that log-in or database user is {other}'s")
        if held is None:
            connection.execute(insert(people).values(alias=name, **values))
        else:
            connection.execute(update(people).where(people.c.alias == name).values(values))
    return next(entry for entry in listed(library) if entry.alias == name)


def remove(library: Library, alias: str) -> Entry:
    """Takes a person's rights away, and what tells who they are; the alias stays, for the history names it."""
    library.require("people")
    said = library.named("owner")
    with library.writing("people") as connection:
        _need_team(connection, library.where)
        values = {"login": None, "database_user": None, "ended": now(), "who": said, "at": now()}
        there = (people.c.alias == alias) & people.c.ended.is_(None)
        if connection.execute(update(people).where(there).values(values)).rowcount != 1:
            raise LibraryError(f"{library.where}: nobody called {alias!r} works here")
    return next(entry for entry in listed(library) if entry.alias == alias)


def house(library: Library) -> House:
    """What the house has settled. Raises ``LibraryError`` without a team."""
    with library.reading() as connection:
        _need_team(connection, library.where)
        held = house_of(connection)
    held.pop("prefix", None)
    return House.model_validate(held)


def settle(library: Library, changed: dict[str, object]) -> House:
    """Changes what the house has settled. Raises ``NotAllowed`` for anybody but a steward."""
    with library.writing("settings") as connection:
        _need_team(connection, library.where)
        held = house_of(connection)
        new = House.model_validate(
            {name: value for name, value in {**held, **changed}.items() if name != "prefix"}
        )
        put_setting(connection, SETTING, {**new.model_dump(), "prefix": held["prefix"]})
    return new


def entered_by_approver(library: Library, case_id: str) -> bool:
    """Whether whoever is at work entered or changed what would be approved, where the house wants four eyes."""
    person = library.person
    if person is None:
        return False
    with library.reading() as connection:
        if not house_of(connection).get("four_eyes"):
            return False
        return person.alias in set(connection.scalars(text("SELECT team_authors(:of)"), {"of": case_id}))


def _need_team(connection: Connection, place: str) -> None:
    if not is_kept(connection):
        raise LibraryError(
            f"{place}: one person works here, who may do everything; 'library people start' makes a library on "
            "PostgreSQL one that a team shares"
        )
