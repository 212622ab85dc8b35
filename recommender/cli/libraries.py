"""The ``--library`` option: from where precedents come."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
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
    if where == "none":
        return None
    from recommender.precedents.source import library_of
    from recommender.precedents.store.opening import open_library

    return library_of(open_library(where))
