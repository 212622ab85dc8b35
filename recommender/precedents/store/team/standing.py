"""As whom a library was opened, and the log-ins over which the screens act for somebody."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal

import orjson
from sqlalchemy import Engine, text
from sqlalchemy.engine import URL

from recommender.precedents.store.engine import in_words
from recommender.precedents.store.errors import NotAllowed, NotLoggedIn
from recommender.precedents.store.library import Library
from recommender.precedents.store.team.guard import is_kept
from recommender.precedents.store.team.roles import Person, roles

Kind = Literal["alone", "service", "over_screens", "person"]


@dataclass(frozen=True, slots=True)
class Standing:
    """``alone``: one person who may do everything, and the owner of a team's library; ``service``: the screens before
    somebody is logged in; ``over_screens``: for whoever is logged in; ``person``: a database user of the team."""

    kind: Kind
    prefix: str = ""
    person: Person | None = None


def standing(engine: Engine, place: str) -> Standing:
    """As whom this engine is connected. Raises ``NotAllowed`` for a database user who is not of the team."""
    if engine.dialect.name != "postgresql":
        return Standing("alone")
    with in_words(place), engine.connect() as connection, connection.begin():
        if not is_kept(connection) or connection.scalar(text("SELECT team_owner()")):
            return Standing("alone")
        prefix = str(connection.scalar(text("SELECT team_house('prefix')")))
        user = str(connection.scalar(text("SELECT session_user")))
        if user == f"{prefix}_app":
            return Standing("service", prefix)
        if user in {f"{prefix}_app_{role}" for role in roles().roles}:
            return Standing("over_screens", prefix)
        row = connection.execute(text("SELECT alias, role FROM team_me()")).first()
    if row is None:
        raise NotAllowed(f"{place}: {user} is not among the people of this library; a steward adds them")
    return Standing("person", prefix, Person(*row))


def url_for(service: URL, prefix: str, role: str) -> URL:
    """The address over which the screens act for somebody of that role."""
    return service.set(username=f"{prefix}_app_{role}", password=None)


def log_in(service: Library, claims: Mapping[str, Any], claim: str) -> Person:
    """Who that is whom a provider of identities vouches for. ``claims`` are those of a checked identity token.

    Raises ``NotAllowed`` for somebody who is not of the team, ``NotLoggedIn`` where this log-in has ended.
    """
    name = claims.get(claim)
    if not isinstance(name, str) or not name:
        raise NotAllowed(f"the provider of identities does not say who you are (no {claim!r})")
    if claim == "email" and claims.get("email_verified") is not True:
        raise NotAllowed(
            "the provider of identities has not verified your mail address; ask its administrator"
        )
    at = claims.get("iat")
    if not isinstance(at, int | float):
        raise NotAllowed("the provider of identities does not say when you logged in (no 'iat')")
    call = text("SELECT alias, role, token, problem FROM team_log_in(:key, :name, :at)")
    with service.writing() as connection:
        values = {"key": key_of(claims), "name": name, "at": datetime.fromtimestamp(at, UTC)}
        alias, role, token, problem = connection.execute(call, values).one()
    if problem == "unknown":
        raise NotAllowed("you are not among the people of this library; a steward can add you")
    if problem is not None:
        raise NotLoggedIn("your session has ended; log in again")
    return Person(alias, role, token)


def key_of(claims: Mapping[str, Any]) -> str:
    """What tells one log-in at the provider from every other."""
    return hashlib.sha256(orjson.dumps(dict(claims), option=orjson.OPT_SORT_KEYS, default=str)).hexdigest()


def still_there(service: Library, person: Person) -> bool:
    """Notes that somebody is at work; false where the session has ended."""
    with service.writing() as connection:
        return bool(connection.scalar(text("SELECT team_seen(:token)"), {"token": person.token}))


def lasts(library: Library, person: Person) -> bool:
    """Whether the session of somebody still lasts; ``library`` is one opened for their role. Changes nothing."""
    with library.acting(lambda: person).reading() as connection:
        return bool(connection.scalar(text("SELECT team_alias()")) == person.alias)


def log_out(service: Library, person: Person) -> None:
    """Ends a session for good."""
    with service.writing() as connection:
        connection.execute(text("SELECT team_log_out(:token)"), {"token": person.token})
