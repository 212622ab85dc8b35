"""The ``--library`` option: from where precedents come."""

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output

if TYPE_CHECKING:
    from recommender.advice.recommend import Recommender
    from recommender.precedents.library import PrecedentLibrary


def library_option(profile: bool = False) -> Callable[[Any], Any]:
    """The ``--library`` option of a verb, and ``--profile`` where it gives advice."""
    library = click.option(
        "--library",
        "where",
        metavar="WHERE",
        default=None,
        help="A database URL, a folder of case files, or none. Left out: the configured library, else the "
        "packaged demo library (invented cases, read-only).",
    )
    if not profile:
        return library
    option = click.option(
        "--profile",
        metavar="WHICH",
        default=ADOPTED,
        expose_value=False,
        callback=_kept_profile,
        help="The house profile: adopted (that of the library, if any), none for the textbook's answer, or a file.",
    )
    return lambda verb: library(option(verb))


ADOPTED = "adopted"
_META = "rpd_casebook.profile"


def _kept_profile(context: click.Context, _option: click.Parameter, value: str) -> None:
    context.meta[_META] = value


def asked_profile() -> str:
    """Which house profile the verb that is running was asked to go by."""
    context = click.get_current_context(silent=True)
    return str(context.meta.get(_META, ADOPTED)) if context else ADOPTED


def precedents(where: str | None) -> "PrecedentLibrary | None":
    """The precedents of a library; ``None`` for ``none``.

    Raises ``CaseError`` for a faulty case file and ``LibraryError`` for a library that cannot be opened.
    """
    from recommender.api import libraries
    from recommender.precedents.index.serving import KEPT_FROM, Served

    library = libraries.CONFIGURED if where is None else where
    if libraries.address(library) == "none":
        return None
    found = libraries.served(libraries.open_source(library))
    if not isinstance(found, Served):
        return found
    if found.how == "derived" and found.read >= KEPT_FROM:
        named = "" if where is None else f" --library {shown_address(where)}"
        output.warn(
            f"{found.read} stored cases were read for this answer ({found.why}); "
            f"'rpd-casebook library index{named}' keeps them ready"
        )
    return found.library


def shown_address(where: str) -> str:
    """The address without its password."""
    if "://" not in where:
        return where
    from recommender.precedents.store.engine import parse_url, shown

    return shown(parse_url(where))


def recommender_for(where: str | None, as_json: bool, *, approved_only: bool = True) -> "Recommender":
    """A recommender over a library; a library that cannot be read is reported and ends the command with status 1."""
    from recommender.advice.recommend import Recommender
    from recommender.api import libraries
    from recommender.curation.house.keeping import knowledge_of
    from recommender.domain.errors import CaseError, Problem
    from recommender.precedents.store.errors import LibraryError

    try:
        address = libraries.address(libraries.CONFIGURED if where is None else where)
        library = precedents(where)  # says first what is wrong with the library itself
        base = knowledge_of(address, asked_profile())
        # the records are looked at only where it is asked how sure a choice is
        records = (
            None
            if library is None
            else lambda most: libraries.approved_of(libraries.open_source(address), most)
        )
        return Recommender(library, base, approved_only=approved_only, records=records)
    except CaseError as error:
        output.report(error, as_json)
    except LibraryError as error:
        problem = Problem(where or "library", "library", str(error), "a library that can be opened")
        output.report(CaseError([problem], where or "library"), as_json)
    sys.exit(output.INVALID)
