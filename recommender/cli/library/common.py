"""What the ``library`` and ``exercise`` verbs share: which library, who, and errors as one clear line."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output
from recommender.domain.errors import CaseError
from recommender.precedents.store.errors import LibraryError

if TYPE_CHECKING:
    from recommender.precedents.source import CaseSource
    from recommender.precedents.store.library import Library
    from recommender.wording.words import Words

HELP = {"help_option_names": ["-h", "--help"]}


def who_option() -> Callable[[Any], Any]:
    """Who is at work, for the history; on a server the database may know that itself."""

    def given(ctx: click.Context, param: click.Parameter, value: str | None) -> str:
        from recommender.precedents.store.opening import configured

        if value is None and not str(ctx.params.get("where") or configured()).startswith("postgres"):
            raise click.MissingParameter(ctx=ctx, param=param)
        return value or ""

    return click.option(
        "--who",
        envvar="RPD_CASEBOOK_WHO",
        callback=given,
        help="A role or initials for the history, never a patient. Also from RPD_CASEBOOK_WHO. Needed, save in a "
        "library of a team, which knows it.",
    )


_WHY = "Why, for the history."


def why_option(text: str = _WHY, required: bool = False) -> Callable[[Any], Any]:
    """Why it is done, for the history."""
    return click.option("--why", default="", required=required, help=text)


def opened_option() -> Callable[[Any], Any]:
    """The revision that a change starts from."""
    return click.option(
        "--opened",
        type=click.IntRange(min=1),
        default=None,
        help="The revision you looked at; refused if somebody saved another since. Left out: the latest.",
    )


@contextmanager
def told(words: "Words | None" = None) -> Iterator[None]:
    """Ends with exit status 1 and one message on standard error where a library or a case cannot be used; what names
    teeth is said in ``words``."""
    _opened.clear()
    try:
        yield
    except (LibraryError, CaseError) as error:
        said = getattr(error, "said", None)
        output.warn(str(error) if said is None or words is None else said(words))
        sys.exit(output.INVALID)
    except (click.ClickException, click.Abort):
        raise
    except Exception as error:
        # a value that nothing can make sense of: where the library is damaged, that is the cause and is told as such
        damage = _damage_behind()
        if damage is None:
            raise
        output.warn(f"{damage} ({type(error).__name__})")
        sys.exit(output.INVALID)
    finally:
        tell_left_out()


_opened: list[Any] = []


def tell_left_out() -> None:
    """Says which cases were passed over because they are damaged."""
    for one in _opened:
        for case_id, why in getattr(one, "left_out", {}).items():
            output.warn(f"left out, damaged: {case_id}: {why}")


def _damage_behind() -> str | None:
    from recommender.precedents.store.checking import find

    for one in _opened:
        library = getattr(one, "library", one)
        try:
            found = find(library)
        except LibraryError as error:
            return str(error)
        if found:
            return str(found.error(library.where, "this could not be done"))
    return None


def source(where: str | None) -> "CaseSource":
    """The library to read, whatever it lies in."""
    from recommender.precedents.store.database_source import DatabaseSource
    from recommender.precedents.store.opening import open_library

    found = open_library(where)
    if isinstance(found, DatabaseSource):
        _opened.append(found)
    return found


def database(where: str | None, *, write: bool) -> "Library":
    """The database to work on. Raises ``LibraryError`` where the library is none."""
    from recommender.precedents.store.databases import open_database
    from recommender.precedents.store.opening import configured, is_database

    meant = where if where is not None else configured()
    if meant is None or meant == "none" or not is_database(meant):
        named = meant or "the demo library"
        raise LibraryError(
            f"{named} is no database, so it cannot be worked on; make one with 'rpd-casebook library init cases.db' "
            "and name it with --library or RPD_CASEBOOK_LIBRARY"
        )
    found = open_database(meant, write=write)
    _opened.append(found)
    return found


def reason(text: str) -> str:
    """A reason for the history, held against the patterns of identity. Raises ``LibraryError``."""
    from recommender.precedents.store.gate import checked_reason

    return checked_reason(text)


def table(title: str, *columns: str) -> Any:
    """A rich table."""
    from rich.table import Table

    made = Table(title=title, title_justify="left", header_style="bold")
    for column in columns:
        made.add_column(column, overflow="fold")
    return made


@contextmanager
def progress(label: str, length: int | None) -> Iterator[Callable[[int], None]]:
    """A progress bar on a terminal; the function takes how many are done."""
    if not sys.stderr.isatty():
        yield lambda _done: None
        return
    with click.progressbar(length=length or 0, label=label, file=sys.stderr, show_pos=True) as bar:
        seen = 0

        def step(done: int) -> None:
            nonlocal seen
            if length is None:
                bar.length = max(bar.length or 0, done)
            bar.update(done - seen)
            seen = done

        yield step
