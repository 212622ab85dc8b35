"""The roles of a team and what each may do, as ``shared/roles.yaml`` says."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Literal

import yaml
from pydantic import Field, model_validator

from recommender.domain.measures import Record
from recommender.precedents.store.errors import NotAllowed
from recommender.resources import shared

OWNER, SERVICE = "owner", "service"
Rows = Literal["all", "approved", "own", "mappings", "plain"]


@dataclass(frozen=True, slots=True)
class Person:
    """Who is at work: alias, role, and the token of the log-in where it came through the screens."""

    alias: str
    role: str
    token: str | None = field(default=None, repr=False)


class Act(Record):
    """Something that is done: the least role that may, in words, and the kinds of version that it makes."""

    least: str = Field(alias="from")
    says: str
    kinds: tuple[str, ...] = ()


class Rights(Record):
    """Rights on one table: for each the least role and of which rows, from that role upward to the next named."""

    select: dict[str, Rows] = Field(default_factory=dict)
    insert: dict[str, Rows] = Field(default_factory=dict)
    update: dict[str, Rows] = Field(default_factory=dict)
    delete: dict[str, Rows] = Field(default_factory=dict)
    update_columns: tuple[str, ...] = ()


class House(Record):
    """What a house settles for its people: times in minutes."""

    four_eyes: bool
    session_minutes: int = Field(ge=1, le=100_000)
    idle_minutes: int = Field(ge=1, le=100_000)


class Roles(Record):
    """``shared/roles.yaml``."""

    format: Literal[1]
    roles: dict[str, str]
    acts: dict[str, Act]
    house: House
    tables: dict[str, Rights]

    @model_validator(mode="after")
    def _known(self) -> "Roles":
        least = {act.least for act in self.acts.values()} - {OWNER}
        for rights in self.tables.values():
            for name in ("select", "insert", "update", "delete"):
                least |= set(getattr(rights, name)) - {SERVICE}
        unknown = least - set(self.roles)
        if unknown:
            raise ValueError(f"no such role: {', '.join(sorted(unknown))}")
        return self

    def may(self, role: str, act: str) -> bool:
        """Whether a role may do this. Raises ``KeyError`` for an act that is not in the file."""
        return role in self.who_may(act)

    def who_may(self, act: str) -> tuple[str, ...]:
        """The roles that may, from the least on."""
        names, least = list(self.roles), self.acts[act].least
        return () if least == OWNER else tuple(names[names.index(least) :])

    def rows(self, rights: Mapping[str, Rows]) -> dict[str, Rows]:
        """Which rows each role has, the service among them."""
        found: dict[str, Rows] = {SERVICE: rights[SERVICE]} if SERVICE in rights else {}
        held: Rows | None = None
        for role in self.roles:
            held = rights.get(role, held)
            if held is not None:
                found[role] = held
        return found

    def act_of(self, kind: str) -> str:
        """The act that makes a version of this kind."""
        return next((name for name, act in self.acts.items() if kind in act.kinds), "edit")


@cache
def roles() -> Roles:
    """The roles as packaged."""
    path = shared("roles.yaml")
    return Roles.model_validate(yaml.safe_load(path.read_text(encoding="utf-8")))


def require(person: Person | None, act: str) -> None:
    """Raises ``NotAllowed`` in one sentence where somebody may not do this; without a team everybody may."""
    if person is not None and not roles().may(person.role, act):
        raise NotAllowed(refusal(person, act))


def refusal(person: Person, act: str) -> str:
    """Why somebody may not do this, and who may."""
    who = [f"a {name}" for name in roles().who_may(act)] or ["the owner of the database"]
    return f"{person.alias} is a {person.role}; to {roles().acts[act].says} takes {' or '.join(who)}"
