"""``library init``, ``backup``, ``restore-backup``, ``migrate``."""

from pathlib import Path

import click

from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import HELP, database, told


@click.command(context_settings=HELP)
@click.argument("where", metavar="WHERE")
@click.option(
    "--empty", is_flag=True, help="Start without cases. Left out: a copy of the demo cases (invented)."
)
@click.option("--who", envvar="RPD_CASEBOOK_WHO", default="setup", show_default=True, help="For the history.")
def init(where: str, empty: bool, who: str) -> None:
    """Make a library at WHERE: a file name, sqlite:///FILE or postgresql://HOST/NAME.

    Nothing that stands there already is touched. The packaged demo library itself is read-only.

    \b
    Example: rpd-casebook library init cases.db
             rpd-casebook library init postgresql://lab-server/cases --empty
    """
    with told():
        from recommender.precedents.store.databases import create_database
        from recommender.precedents.store.gate import checked_who

        checked_who(who)
        with create_database(where) as library:
            number = 0 if empty else _copy_demo(library, who)
            click.echo(f"{library.where}: {number} cases")


def _copy_demo(library: object, who: str) -> int:
    from recommender.precedents.source import demo_source
    from recommender.precedents.store.importing.batch import import_all
    from recommender.precedents.store.importing.reports import Terms
    from recommender.precedents.store.importing.rows import Row
    from recommender.precedents.store.library import Library

    assert isinstance(library, Library)
    terms = Terms(who, "copied from the demo library (invented cases)", keep_status=True)
    rows = (Row(case.id, case) for case in demo_source().cases())
    return import_all(library, rows, terms, lambda _report: None).written


@click.command(context_settings=HELP)
@click.argument("file", type=click.Path(path_type=Path))
@library_option()
def backup(file: Path, where: str | None) -> None:
    """Copy the library to FILE while it is in use, and verify the copy.

    The copy is a library of its own (SQLite, whatever the library lies in), with FILE.sha256 beside it.

    \b
    Example: rpd-casebook library backup monday.db --library cases.db
    """
    with told(), database(where, write=False) as library:
        from recommender.precedents.store.backup import back_up

        stamp = back_up(library, file)
        click.echo(f"{file}: backed up {library.where} and verified (content {stamp[:16]}…)")


@click.command("restore-backup", context_settings=HELP)
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--safety", type=click.Path(path_type=Path, file_okay=False), default=None,
              help="Folder for the backup of what is there now. Left out: beside the library.")  # fmt: skip
@click.option("--yes", is_flag=True, help="Do not ask.")
@library_option()
def restore_backup(file: Path, safety: Path | None, yes: bool, where: str | None) -> None:
    """Make the library what the backup FILE holds. What is there now is backed up first.

    \b
    Example: rpd-casebook library restore-backup monday.db --library cases.db
    """
    with told(), database(where, write=True) as library:
        from recommender.precedents.store.backup import place_of, restore

        if not yes:
            click.confirm(f"Replace the content of {library.where} by {file}?", abort=True, err=True)
        before = restore(library, file, safety or place_of(library))
        click.echo(f"{library.where}: restored from {file}; what was there before: {before}")


@click.command(context_settings=HELP)
@click.argument("where", metavar="WHERE")
@click.option("--backup", "copy", type=click.Path(path_type=Path, dir_okay=False), default=None,
              help="Where a copy of the old SQLite file goes. Left out: beside it.")  # fmt: skip
def migrate(where: str, copy: Path | None) -> None:
    """Bring a library of an earlier version of the program up to date.

    A SQLite file is copied first. The change is one transaction: stopped half-way, the library is as it was.
    A library on a server is backed up by its administrator's own means.

    \b
    Example: rpd-casebook library migrate cases.db
    """
    with told():
        from recommender.precedents.store.databases import database_url, require_file
        from recommender.precedents.store.engine import connect, in_words, shown
        from recommender.precedents.store.migrate import revision_at, upgrade
        from recommender.precedents.store.schema import HEAD

        url = database_url(where)
        place = shown(url)
        require_file(url, place, write=True)
        reading = connect(url, write=False)
        found = revision_at(reading, place)
        reading.dispose()
        engine = connect(url, write=True)
        try:
            if found == HEAD:
                click.echo(f"{place}: is up to date (tables {HEAD})")
                return
            if url.get_backend_name() == "sqlite":
                from recommender.precedents.store.backup import copy_file

                file = Path(str(url.database))
                target = copy or file.with_name(f"{file.name}.tables-{found}")
                with in_words(str(target)):
                    copy_file(engine, place, target)
                click.echo(f"{target}: copy of the library as it was", err=True)
            upgrade(engine, place)
            click.echo(f"{place}: brought from tables {found} to {HEAD}")
        finally:
            engine.dispose()
