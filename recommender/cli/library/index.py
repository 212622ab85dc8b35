"""``library index``, and the index brought up to date after verbs that change a library."""

import copy
import functools
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.cli.advise.libraries import library_option
from recommender.cli.library.common import HELP, progress, source, told

if TYPE_CHECKING:
    from recommender.precedents.index.serving import Indexed, Progress

# Verbs after which stored cases may differ from what was indexed.
CHANGING = frozenset(
    {
        "import",
        "edit",
        "restore",
        "outcome",
        "approve",
        "retire",
        "reopen",
        "redact",
        "turn-down",
        "restore-backup",
        "repair",
        "bulk",
        "looked-at",
    }
)


@click.command("index", context_settings=HELP)
@library_option()
@click.option("--check", is_flag=True, help="Only say whether the index is up to date.")
@click.option("--anew", is_flag=True, help="Derive every case again, whatever the index holds.")
@click.option("--jobs", type=click.IntRange(1, 64), default=None,
              help="Processes that share the work. Left out: one for each processor core.")  # fmt: skip
def index(where: str | None, check: bool, anew: bool, jobs: int | None) -> None:
    """Keep the situations of all cases ready, so that a large library is asked at once.

    The index lies beside the library's file (for a server: in your cache folder). It holds nothing that is not in
    the library, is brought up to date by every verb that changes the library, and may be deleted at any time: it is
    never used where it does not fit. It may be stopped; then the former index stays.

    \b
    Example: rpd-casebook library index --library cases.db
    """
    with told():
        cases = indexed(where)
        if check:
            _check(cases)
            return
        keep(cases, anew=anew, jobs=jobs or os.cpu_count() or 1, quiet=False)


def indexed(where: str | None) -> "Indexed":
    """The library to index. Raises ``LibraryError`` for one that is no database."""
    from recommender.precedents.index.serving import Indexed
    from recommender.precedents.store.errors import LibraryError

    found = source(where)
    if not isinstance(found, Indexed):
        raise LibraryError("only a database has an index; a folder or the demo library is read as it is")
    return found


def _check(cases: "Indexed") -> None:
    from recommender.precedents.index.serving import standing

    words, number = standing(cases)
    if words:
        click.echo(output.told("library.cases_read", words=words, number=number))
        sys.exit(output.INVALID)
    click.echo("the index is up to date")


def keep(cases: "Indexed", *, anew: bool, jobs: int, quiet: bool) -> None:
    """Bring the index up to date, with progress and a line on what was done (``quiet``: only if it took reading
    many cases)."""
    from recommender.precedents.index.locking import FolderLockedError
    from recommender.precedents.index.serving import KEPT_FROM, keep_up

    try:
        with _progress() as step:
            served = keep_up(cases, progress=step, jobs=jobs, anew=anew)
    except FolderLockedError:
        click.echo("the index is being written by another process", err=True)
        return
    except OSError as error:
        output.warn(
            f"the index could not be written ({error.strerror or error}); answers only come more slowly"
        )
        if not quiet:
            sys.exit(output.INVALID)
        return
    if not quiet or served.read >= KEPT_FROM:
        click.echo(output.told("library.index_cases_read", read=served.read, count=cases.count()), err=quiet)


@contextmanager
def _progress() -> Iterator["Progress"]:
    with progress("index", None) as step:
        bar: Any = step
        yield lambda done, _of: bar(done)


def then_index(command: click.Command) -> click.Command:
    """The command, followed by bringing the index of its library up to date."""
    inner = command.callback
    assert inner is not None

    @functools.wraps(inner)
    def both(*args: Any, **kwargs: Any) -> Any:
        try:
            return inner(*args, **kwargs)
        finally:
            # a verb that ends with status 1 may have changed something all the same: an import of the valid rows
            if not isinstance(sys.exc_info()[1], (click.ClickException, click.Abort, KeyboardInterrupt)):
                after_change(kwargs.get("where"))

    made = copy.copy(command)
    made.callback = both
    return made


def after_change(where: str | None) -> None:
    """Bring the index of a library up to date if it has one, or is large enough to need one. Never fails."""
    from recommender.precedents.index.serving import KEPT_FROM, standing
    from recommender.precedents.store.errors import LibraryError

    try:
        cases = indexed(where)
        has_one = any((folder / "current.json").is_file() for folder in cases.index_folders())
        if has_one or cases.count() >= KEPT_FROM:
            _, number = standing(cases)
            if number >= KEPT_FROM and not sys.stderr.isatty():
                click.echo(output.told("library.reading_cases_index", number=number), err=True)
            jobs = (os.cpu_count() or 1) if number >= KEPT_FROM else 1
            keep(cases, anew=False, jobs=jobs, quiet=True)
    except LibraryError:
        return  # the verb itself has told what is wrong
