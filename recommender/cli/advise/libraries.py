"""The ``--library`` option: from where precedents come."""

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

from recommender.cli import output

if TYPE_CHECKING:
    from recommender.advice.recommend import Recommender
    from recommender.precedents.library import PrecedentLibrary


def library_option() -> Callable[[Any], Any]:
    """The ``--library`` option of a verb."""
    return click.option(
        "--library",
        "where",
        metavar="WHERE",
        default=None,
        help="A database URL, a folder of case files, or none. Left out: the configured library, else the "
        "packaged demo library (invented cases, read-only).",
    )


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
        named = "" if where is None else f" --library {_shown(where)}"
        output.warn(
            f"{found.read} stored cases were read for this answer ({found.why}); "
            f"'rpd-casebook library index{named}' keeps them ready"
        )
    return found.library


def _shown(where: str) -> str:
    """The address without its password."""
    if "://" not in where:
        return where
    from recommender.precedents.store.engine import parse_url, shown

    return shown(parse_url(where))


def recommender_for(where: str | None, as_json: bool, *, approved_only: bool = True) -> "Recommender":
    """A recommender over a library; a library that cannot be read is reported and ends the command with status 1."""
    from recommender.advice.recommend import Recommender
    from recommender.domain.errors import CaseError, Problem
    from recommender.precedents.store.errors import LibraryError

    try:
        return Recommender(precedents(where), approved_only=approved_only)
    except CaseError as error:
        output.report(error, as_json)
    except LibraryError as error:
        problem = Problem(where or "library", "library", str(error), "a library that can be opened")
        output.report(CaseError([problem], where or "library"), as_json)
    sys.exit(output.INVALID)
