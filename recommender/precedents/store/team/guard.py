"""Putting the guard of a team into a database: group roles, log-ins of the screens, rights by table, rows, triggers.

Everything is done in one transaction by the owner of the tables, and may be done again after every change of
``shared/roles.yaml`` or of the tables.
"""

import re
from collections.abc import Iterator
from pathlib import Path

import orjson
from sqlalchemy import Connection, text

from recommender.domain.shape import Shape, case_shape
from recommender.precedents.store.errors import LibraryError
from recommender.precedents.store.importing.merging import TAKEN_OUT
from recommender.precedents.store.library import Library, put_setting
from recommender.precedents.store.schema import metadata, settings
from recommender.precedents.store.team.roles import SERVICE, House, Rights, roles

SETTING = "house"
_PREFIX = re.compile(r"[a-z][a-z0-9_]{0,40}")
_ROWS = {
    ("settings", "mappings"): "key LIKE 'mapping:%'",
    ("settings", "plain"): "key NOT LIKE 'deleted:%'",
    ("cases", "approved"): "status = 'approved'",
    ("versions", "approved"): "team_approved(case_id, revision)",
    ("results", "own"): "learner = (SELECT team_alias())",
    ("principles", "own"): "learner = (SELECT team_alias())",
}
_FOR_EVERYBODY = (
    "team_owner()", "team_me()", "team_alias()", "team_role()", "team_approved(text, integer)", "team_house(text)",
)  # fmt: skip
_FOR_SERVICE = ("team_log_in(text, text, timestamptz)", "team_seen(text)", "team_log_out(text)")
_FOR_DESIGNERS = ("team_authors(text)",)
_FOR_STEWARDS = ("team_delete(text, integer, text, boolean)",)


def is_kept(connection: Connection) -> bool:
    """Whether the library of this connection is shared by a team."""
    if connection.dialect.name != "postgresql":
        return False
    here = "proname = 'team_me' AND pronamespace = to_regnamespace(current_schema())"
    return bool(connection.scalar(text(f"SELECT EXISTS (SELECT FROM pg_proc WHERE {here})")))


def start(library: Library, prefix: str | None = None) -> str:
    """Makes a library on PostgreSQL one that a team shares, or renews its guard; returns the prefix of its roles.

    Raises ``LibraryError`` on SQLite, for an unfit prefix, and where whoever calls does not own the database.
    """
    if library.engine.dialect.name != "postgresql":
        raise LibraryError(
            f"{library.where}: a library in one file has one person, who may do everything; "
            "people and roles need a library on PostgreSQL"
        )
    with library.writing() as connection:
        return put_up(connection, prefix)


def put_up(connection: Connection, prefix: str | None = None) -> str:
    """``start`` within an open writing transaction."""
    database, schema, user = connection.execute(
        text("SELECT current_database(), current_schema(), current_user")
    ).one()
    held = house_of(connection)
    name = str(held.pop("prefix", None) or prefix or (database if schema == "public" else schema))
    if not _PREFIX.fullmatch(name):
        raise LibraryError(
            f"{name!r} does not do as the beginning of role names (small letters, digits, _); "
            "give another with --prefix"
        )
    owns = "SELECT pg_has_role(current_user, datdba, 'MEMBER') FROM pg_database WHERE datname = current_database()"
    makes = "SELECT rolsuper OR rolcreaterole FROM pg_roles WHERE rolname = current_user"
    if not connection.scalar(text(owns)) or not connection.scalar(text(makes)):
        raise LibraryError(
            f"{user} has to own the database {database} and to have CREATEROLE; nothing was changed"
        )
    settled = House.model_validate({**roles().house.model_dump(), **held})
    put_setting(connection, SETTING, {**settled.model_dump(), "prefix": name})
    place = str(schema)
    for statement in (*_roles(connection, name), _functions(name, place), *_rights(name, place)):
        connection.exec_driver_sql(statement.replace("%", "%%"))
    return name


def house_of(connection: Connection) -> dict[str, object]:
    """What the house has settled, with the prefix of its roles; empty without a team."""
    value = connection.scalar(
        settings.select().with_only_columns(settings.c.value).where(settings.c.key == SETTING)
    )
    found: dict[str, object] = orjson.loads(value) if value else {}
    return found


def _roles(connection: Connection, prefix: str) -> Iterator[str]:
    present = set(connection.scalars(text("SELECT rolname FROM pg_roles")))
    wanted = {f"{prefix}_app": "LOGIN"}
    for role in roles().roles:
        wanted |= {f"{prefix}_{role}": "NOLOGIN", f"{prefix}_app_{role}": "LOGIN"}
    for name, login in wanted.items():
        if name not in present:
            yield f'CREATE ROLE "{name}" {login}'
    for role in roles().roles:
        yield f'GRANT "{prefix}_{role}" TO "{prefix}_app_{role}"'


def _functions(prefix: str, schema: str) -> str:
    acts = {name: roles().who_may(name) for name in roles().acts}
    kinds = {kind: name for name, act in roles().acts.items() for kind in act.kinds}
    text_of = _guard()
    values = {
        ":SCHEMA": _name(schema),
        ":ROLES": f"ARRAY[{', '.join(map(_literal, roles().roles))}]",
        ":ACTS": _literal(orjson.dumps(acts).decode()),
        ":KINDS": _literal(orjson.dumps(kinds).decode()),
        ":TAKEN_OUT": _literal(TAKEN_OUT),
        ":PREFIX": _literal(prefix),
        ":FOLLOW_UP": _literal(orjson.dumps(_follow_up()).decode()) + "::jsonb",
    }
    for word, value in values.items():
        text_of = text_of.replace(word, value)
    return text_of


def _follow_up() -> dict[str, object]:
    """What of an approved case anybody may add to who may not approve, as ``team_fits`` reads it."""
    fields = {name: _shape(case_shape().fields[name]) for name in ("outcome", "dentist_answer")}
    return {"kind": "record", "json": "object", "fields": fields, "required": []}


_JSON = {"record": "object", "list": "array", "flag": "boolean", "word": "string", "text": "string"}


def _shape(shape: Shape) -> dict[str, object]:
    found: dict[str, object] = {"kind": shape.kind, "json": _JSON.get(shape.kind, "number")}
    if shape.kind == "record":
        inner = {name: _shape(below) for name, below in shape.fields.items()}
        found |= {"fields": inner, "required": shape.required}
    elif shape.item is not None:
        found["item"] = _shape(shape.item)
    return found | {"words": shape.words, "low": shape.low, "high": shape.high, "longest": shape.longest}


def _guard() -> str:
    return Path(__file__).with_name("guard.sql").read_text(encoding="utf-8")


def _rights(prefix: str, schema: str) -> Iterator[str]:
    groups = {role: _name(f"{prefix}_{role}") for role in roles().roles} | {SERVICE: _name(f"{prefix}_app")}
    everybody = ", ".join(groups.values())
    yield (
        f"DO $$ BEGIN EXECUTE format('REVOKE ALL ON DATABASE %I FROM PUBLIC', current_database()); "
        f"EXECUTE format('GRANT CONNECT ON DATABASE %I TO {everybody}', current_database()); END $$"
    )
    yield f"REVOKE ALL ON SCHEMA {_name(schema)} FROM PUBLIC"
    yield f"GRANT USAGE ON SCHEMA {_name(schema)} TO {everybody}"
    yield f"GRANT SELECT ON alembic_version TO {everybody}"
    for name in sorted(metadata.tables):
        yield from _table(name, roles().tables[name], groups)
    for function in _every_function():
        yield f"REVOKE ALL ON FUNCTION {function} FROM PUBLIC"
    yield from (f"GRANT EXECUTE ON FUNCTION {function} TO {everybody}" for function in _FOR_EVERYBODY)
    yield from (f"GRANT EXECUTE ON FUNCTION {function} TO {groups[SERVICE]}" for function in _FOR_SERVICE)
    above = ", ".join(groups[role] for role in roles().who_may("see_drafts"))
    yield from (f"GRANT EXECUTE ON FUNCTION {function} TO {above}" for function in _FOR_DESIGNERS)
    above = ", ".join(groups[role] for role in roles().who_may("delete"))
    yield from (f"GRANT EXECUTE ON FUNCTION {function} TO {above}" for function in _FOR_STEWARDS)


def _every_function() -> Iterator[str]:
    for name, arguments in re.findall(r"CREATE OR REPLACE FUNCTION (team_\w+)\(([^)]*)\)", _guard()):
        kinds = [part.split(" DEFAULT")[0].split(None, 1)[1] for part in arguments.split(",") if part.strip()]
        yield f"{name}({', '.join(kinds)})"


def _table(name: str, rights: Rights, groups: dict[str, str]) -> Iterator[str]:
    everybody = ", ".join(groups.values())
    yield f"ALTER TABLE {name} ENABLE ROW LEVEL SECURITY"
    yield f"REVOKE ALL ON {name} FROM {everybody}"
    # the number of a version or result is the database's own; it is never given
    given = [column.name for column in metadata.tables[name].columns if column.name != "seq"]
    columns = {"insert": f" ({', '.join(given)})"}
    if rights.update_columns:
        columns["update"] = f" ({', '.join(rights.update_columns)})"
    for privilege in ("select", "insert", "update", "delete"):
        found = roles().rows(getattr(rights, privilege))
        for role, group in groups.items():
            policy = f"team_{privilege}_{role}"
            yield f"DROP POLICY IF EXISTS {policy} ON {name}"
            if role not in found:
                continue
            yield f"GRANT {privilege.upper()}{columns.get(privilege, '')} ON {name} TO {group}"
            if privilege == "insert" and "seq" in metadata.tables[name].c:
                yield f"GRANT USAGE ON SEQUENCE {name}_seq_seq TO {group}"
            meant = "true" if role == SERVICE else f"(SELECT team_role()) = {_literal(role)}"
            if found[role] != "all":
                meant += f" AND {_ROWS[name, found[role]]}"
            kind = "WITH CHECK" if privilege == "insert" else "USING"
            yield f"CREATE POLICY {policy} ON {name} FOR {privilege.upper()} TO {group} {kind} ({meant})"


def _name(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _literal(value: str) -> str:
    return "'" + value.replace("'", "''") + "'"
