"""A library that a team shares, in a database of its own, made by an owner who is no superuser."""

import os
import time
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from itertools import count
from uuid import uuid4

import pytest
from sqlalchemy.engine import make_url

from recommender.domain.case import Review
from recommender.precedents.store.databases import create_database, database_url, open_database
from recommender.precedents.store.library import Library
from recommender.precedents.store.team import guard, people
from recommender.precedents.store.team.roles import Person
from recommender.precedents.store.team.standing import log_in, url_for
from tests.store.invented import invented_cases

SERVER = os.environ.get("RPD_TEST_POSTGRES_URL", "")
PEOPLE = {
    "LN": "learner", "L2": "learner", "DS": "designer", "D2": "designer", "RV": "reviewer", "R2": "reviewer",
    "ST": "steward",
}  # fmt: skip
CASES = [case.model_copy(update={"review": Review(status="draft")}) for case in invented_cases(40, seed=16)]
_LOGINS = count(1)


def claims_of(alias: str, **more: object) -> dict[str, object]:
    """What a provider of identities says of a person who has just logged in."""
    mail = f"{alias.lower()}@lab.example"
    number = next(_LOGINS)
    return {"sub": alias, "nonce": number, "iat": int(time.time()), "email": mail, "email_verified": True, **more}


@dataclass
class Team:
    """The library by its owner, and how to come to it as anybody else."""

    owner: str
    prefix: str
    opened: ExitStack
    held: dict[str, Library] = field(default_factory=dict)
    numbers: Iterator[int] = field(default_factory=lambda: count(1))

    @property
    def service_url(self) -> str:
        """Over which the screens work."""
        return self.address(f"{self.prefix}_app")

    def address(self, user: str) -> str:
        """The library as another user of the server."""
        return database_url(self.owner).set(username=user, password=None).render_as_string(hide_password=False)

    def open(self, url: str) -> Library:
        """The library at that address, open for work until the tests of the file end."""
        if url not in self.held:
            self.held[url] = self.opened.enter_context(open_database(url, write=True))
        return self.held[url]

    @property
    def service(self) -> Library:
        return self.open(self.service_url)

    def person(self, alias: str) -> Person:
        """A person logged in over the screens."""
        return log_in(self.service, claims_of(alias), "email")

    def over_screens(self, person: Person) -> Library:
        """The library as the screens open it for somebody."""
        url = url_for(database_url(self.owner), self.prefix, person.role).render_as_string(hide_password=False)
        return self.open(url).acting(lambda: person)

    def as_(self, alias: str) -> Library:
        """The library with somebody at work."""
        return self.over_screens(self.person(alias))

    def draft(self, by: str = "DS") -> str:
        """A new draft case of somebody; its id."""
        number = next(self.numbers)
        case = CASES[number % len(CASES)].model_copy(update={"id": f"case-{number}"})
        self.as_(by).add(case, who="")
        return case.id


@pytest.fixture(scope="module")
def team() -> Iterator[Team]:
    """A library with a person in each role, and the database users ``PREFIX_u_ALIAS`` for the command line."""
    if not SERVER:
        pytest.skip("no PostgreSQL server in RPD_TEST_POSTGRES_URL")
    import psycopg

    name = f"t{uuid4().hex[:10]}"
    owner = make_url(SERVER).set(username=f"owner_{name}", database=name).render_as_string(hide_password=False)
    with psycopg.connect(SERVER, autocommit=True) as connection:
        connection.execute(f"CREATE ROLE owner_{name} LOGIN CREATEROLE")
        connection.execute(f"CREATE DATABASE {name} OWNER owner_{name}")
        connection.execute("".join(f"CREATE ROLE u{name}_{alias.lower()} LOGIN;" for alias in PEOPLE))
    with ExitStack() as opened:
        with create_database(owner) as library:
            guard.start(library)
        with open_database(owner, write=True) as library:
            for alias, role in PEOPLE.items():
                people.add(
                    library, alias, role, login=f"{alias.lower()}@lab.example", database_user=f"u{name}_{alias.lower()}"
                )
        yield Team(owner, name, opened)
    with psycopg.connect(SERVER, autocommit=True) as connection:
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")
        roles = connection.execute("SELECT rolname FROM pg_roles WHERE rolname LIKE %s", [f"%{name}%"]).fetchall()
        for (role,) in roles:
            connection.execute(f'DROP ROLE "{role}"')
