"""``library people``: who works in a library on PostgreSQL, and in which role."""

from typing import TYPE_CHECKING

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import HELP, database, table, told
from recommender.domain.statement import Word

if TYPE_CHECKING:
    pass


@click.group(context_settings=HELP)
def people() -> None:
    """Say who works in a library on PostgreSQL, and in which role.

    A library in one file has one person, who may do everything. On a server the role comes from the database
    user, or from the log-in over the screens; the database enforces it.

    \b
    Example: rpd-casebook library people start --library postgresql:///casebook
             rpd-casebook library people add RV --role reviewer --log-in rv@lab.example
    """


@people.command(context_settings=HELP)
@library_option()
@click.option(
    "--prefix", default=None, help="Beginning of the names of its roles. Left out: the name of the database."
)
def start(where: str | None, prefix: str | None) -> None:
    """Make a library one that a team shares, or renew its guard after a change of shared/roles.yaml.

    Run by the owner of the database, who needs the right to make roles (CREATEROLE).
    """
    with told(), database(where, write=True) as library:
        from recommender.precedents.store.team import guard
        from recommender.precedents.store.team.roles import roles

        name = guard.start(library, prefix)
    click.echo((output.told("library.shared_team_screens", where=library.where, name=name) + " ")
               + ", ".join(f"{name}_app_{role}" for role in roles().roles))  # fmt: skip


@people.command(context_settings=HELP)
@click.argument("alias")
@library_option()
@click.option("--role", required=True, help="learner, designer, reviewer or steward.")
@click.option("--log-in", "login", default=None, help="What the provider of identities calls the person.")
@click.option("--database-user", "user", default=None, help="A user of the server, for this command line.")
def add(alias: str, where: str | None, role: str, login: str | None, user: str | None) -> None:
    """Add ALIAS, or give somebody who is there another role, log-in or database user. For a steward.

    The history names the alias: one that names nobody outside the house.
    """
    with told(), database(where, write=True) as library:
        from recommender.precedents.store.team.people import add as adding

        entry = adding(library, alias, role, login=login, database_user=user)
    click.echo(f"{entry.alias}: {entry.role}")


@people.command("list", context_settings=HELP)
@library_option()
@output.json_option()
def list_people(where: str | None, as_json: bool) -> None:
    """Everybody, with role and log-in. For a steward."""
    with told(), database(where, write=False) as library:
        from recommender.precedents.store.team.people import listed

        found = listed(library)
    if as_json:
        for entry in found:
            output.emit({name: getattr(entry, name) for name in entry.__slots__})
        return
    shown = table("People", "alias", "role", "log-in", "database user", "since", "until")
    for entry in found:
        shown.add_row(*entry.row())
    output.console().print(shown)


@people.command(context_settings=HELP)
@click.argument("alias")
@library_option()
def remove(alias: str, where: str | None) -> None:
    """Take all rights from ALIAS, and what tells who that is. The history keeps the alias. For a steward."""
    with told(), database(where, write=True) as library:
        from recommender.precedents.store.team.people import remove as removing

        removing(library, alias)
    click.echo(output.told("library.no_longer_works_here", alias=alias))


@people.command(context_settings=HELP)
@library_option()
def me(where: str | None) -> None:
    """Who you are to the library, and what you may do."""
    with told(), database(where, write=False) as library:
        from recommender.precedents.store.team.roles import roles
        from recommender.precedents.store.team.standing import standing

        person = library.person
        if person is None:
            service = standing(library.engine, library.where).kind == "service"
            click.echo(
                output.told("library.service" if service else "library.one_person", library=library.where)
            )
            return
        click.echo(f"{person.alias}, {person.role}: {roles().roles[person.role]}")
        for name, act in roles().acts.items():
            click.echo(f"  {'✓' if roles().may(person.role, name) else '✕'} {act.says}")


@people.command(context_settings=HELP)
@library_option()
@click.option(
    "--four-eyes/--no-four-eyes", default=None, help="Whether somebody else approves what one entered."
)
@click.option(
    "--session-minutes", type=click.IntRange(1, 100_000), default=None, help="How long a log-in lasts."
)
@click.option(
    "--idle-minutes", type=click.IntRange(1, 100_000), default=None, help="How long without a click."
)
def house(
    where: str | None, four_eyes: bool | None, session_minutes: int | None, idle_minutes: int | None
) -> None:
    """Show what the house has settled; with options, change it. For a steward."""
    given = {"four_eyes": four_eyes, "session_minutes": session_minutes, "idle_minutes": idle_minutes}
    changed: dict[str, object] = {name: value for name, value in given.items() if value is not None}
    with told(), database(where, write=bool(changed)) as library:
        from recommender.precedents.store.team import people as team

        found = team.settle(library, changed) if changed else team.house(library)
    click.echo(
        output.told(
            "library.house",
            eyes=Word("yes_no", "yes" if found.four_eyes else "no"),
            session=found.session_minutes,
            idle=found.idle_minutes,
        )
    )
