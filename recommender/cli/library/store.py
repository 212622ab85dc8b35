"""``library init``, ``backup``, ``restore-backup``, ``migrate``."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import HELP, database, told

if TYPE_CHECKING:
    from recommender.precedents.store.library import Library


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
            click.echo(output.told("library.cases_f", where=library.where, number=number))


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
@click.option("--as-it-is", is_flag=True, help="Copy a damaged library too, without verifying its documents.")
@library_option()
def backup(file: Path, as_it_is: bool, where: str | None) -> None:
    """Copy the library to FILE while it is in use, and verify the copy, every document against its checksum.

    The copy is a library of its own (SQLite, whatever the library lies in), with FILE.sha256 beside it.

    \b
    Example: rpd-casebook library backup monday.db --library cases.db
    """
    with told(), database(where, write=False) as library:
        from recommender.precedents.store.backup import back_up

        stamp = back_up(library, file, as_it_is=as_it_is)
        code = "library.backed_up_unverified" if as_it_is else "library.backed_up"
        click.echo(output.told(code, file=file, where=library.where, content=stamp[:16]))


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
            click.confirm(
                output.told("library.replace_content", where=library.where, file=file), abort=True, err=True
            )
        before = restore(library, file, safety or place_of(library))
        click.echo(output.told("library.restored_what_there", where=library.where, file=file, before=before))


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
                click.echo(output.told("library.up_date_tables", place=place, head=HEAD))
                return
            if url.get_backend_name() == "sqlite":
                from recommender.precedents.store.backup import copy_file

                file = Path(str(url.database))
                target = copy or file.with_name(f"{file.name}.tables-{found}")
                with in_words(str(target)):
                    copy_file(engine, place, target)
                click.echo(output.told("library.copy_library", target=target), err=True)
            upgrade(engine, place)
            click.echo(output.told("library.brought_tables", place=place, found=found, head=HEAD))
        finally:
            engine.dispose()


@click.command(context_settings=HELP)
@library_option()
@click.option("--from", "spare", type=click.Path(path_type=Path, exists=True, dir_okay=False), default=None,
              help="A backup to take from what the library's own history cannot give.")  # fmt: skip
@click.option("--yes", is_flag=True, help="Do not ask.")
def repair(where: str | None, spare: Path | None, yes: bool) -> None:
    """Mend a damaged library from its own history, or from a backup. Says everything that is not as it was saved.

    A SQLite file is written anew; the damaged one is kept beside it under another name.

    \b
    Example: rpd-casebook library repair --library cases.db --from monday.db
    """
    from contextlib import nullcontext

    from recommender.precedents.store.databases import open_database
    from recommender.precedents.store.errors import UnreadableLibrary
    from recommender.precedents.store.opening import configured
    from recommender.precedents.store.repairing import made_anew
    from recommender.precedents.store.repairing import repair as mend

    with told(), nullcontext() if spare is None else open_database(str(spare)) as backup_of_it:
        try:
            library = database(where, write=True)
        except UnreadableLibrary as error:
            if backup_of_it is None:
                raise
            place = where or configured() or ""
            _agreed([str(error)], place, yes)
            done = made_anew(place, backup_of_it)
        else:
            with library:
                place = library.where
                library.require("repair")
                damage = _damage(library)
                if not damage:
                    click.echo(f"{place}: nothing is damaged")
                    return
                _agreed(damage, place, yes)
                done = mend(library, backup_of_it)
    for case_id, lines in done.told.items():
        click.echo(f"{case_id}: {'; '.join(lines)}")
    for line in done.beside:
        click.echo(line)
    for case_id, why in done.lost.items():
        click.echo(f"{case_id}: lost: {why}")
    kept = output.told("library.damaged_file", kept=done.kept) if done.kept else ""
    counts = output.told("library.cases_not_they", told=len(done.told), lost=len(done.lost))
    click.echo(output.told("library.mended", place=place, counts=counts, kept=kept))


def _damage(library: "Library") -> list[str]:
    from recommender.precedents.store.checking import find
    from recommender.precedents.store.errors import DamagedLibrary

    try:
        return find(library).lines()
    except DamagedLibrary as error:
        return [str(error)]


def _agreed(damage: list[str], place: str, yes: bool) -> None:
    for line in damage:
        click.echo(line, err=True)
    if not yes:
        click.confirm(f"Mend {place}?", abort=True, err=True)
