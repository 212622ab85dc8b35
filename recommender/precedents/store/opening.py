"""Finding the library that is meant, and opening it for reading.

``where`` is a database URL, a SQLite file, a folder of case files, or ``none``; left out, it is the
configured library (``RPD_CASEBOOK_LIBRARY``, else ``library = "…"`` in the configuration file), else the
packaged demo. Nothing that opens a library for reading writes to it or makes a file.
"""

import os
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

from recommender.precedents.store.errors import LibraryError

if TYPE_CHECKING:
    from recommender.precedents.source import CaseSource

ENVIRONMENT = "RPD_CASEBOOK_LIBRARY"


def configuration_file() -> Path:
    """Where a lasting choice of library may stand: ``rpd-casebook/config.toml`` in the user's configuration
    folder.
    """
    base = os.environ.get("XDG_CONFIG_HOME") or os.environ.get("APPDATA") or str(Path.home() / ".config")
    return Path(base) / "rpd-casebook" / "config.toml"


def configured() -> str | None:
    """The configured library, or ``None``.

    Raises ``LibraryError`` if the configuration file cannot be read.
    """
    if named := os.environ.get(ENVIRONMENT):
        return named
    path = configuration_file()
    if not path.is_file():
        return None
    try:
        value = tomllib.loads(path.read_text(encoding="utf-8")).get("library")
    except (OSError, ValueError) as error:
        raise LibraryError(f"{path}: {error}") from error
    if value is not None and not isinstance(value, str):
        raise LibraryError(f'{path}: library has to be a text, as in library = "sqlite:///cases.db"')
    return value


def is_database(where: str) -> bool:
    """Whether this names a database (a URL, or a file that is not a folder) rather than a folder of case
    files.
    """
    return "://" in where or (where != "none" and not Path(where).is_dir())


def open_library(where: str | None = None) -> "CaseSource":
    """The cases of the library that is meant, for reading.

    Raises ``LibraryError`` for a library that is not there or of another version, ``CaseError`` (when its
    cases are first asked for) for a folder with a faulty file.
    """
    from recommender.precedents.source import FolderSource, NoCases, demo_source

    meant = where if where is not None else configured()
    if meant is None or meant == "demo":
        return demo_source()
    if meant == "none":
        return NoCases()
    if not is_database(meant):
        return FolderSource(Path(meant))
    from recommender.precedents.store.database_source import DatabaseSource
    from recommender.precedents.store.databases import open_database

    return DatabaseSource(open_database(meant))
