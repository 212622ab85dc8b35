"""A lasting choice of library, kept in the configuration file that ``opening`` reads."""

import re
import tomllib
from pathlib import Path

from recommender.domain.writing import write_whole
from recommender.precedents.store.errors import LibraryError
from recommender.precedents.store.opening import configuration_file

_LINE = re.compile(r"^library\s*=.*\n?", re.MULTILINE)
_PASSWORD = re.compile(r"://[^/@:]*:[^@/]+@|passw", re.IGNORECASE)


def remember_library(where: str) -> Path:
    """Makes ``where`` the configured library; whatever else stands in the file stays. Returns the file.

    Raises ``LibraryError`` for an address with a password (keep that in the environment instead), for a file
    that is no sound TOML, and where it cannot be written.
    """
    if _PASSWORD.search(where):
        raise LibraryError(
            "an address with a password is not kept in a file; set RPD_CASEBOOK_LIBRARY, or use the database's "
            "own password file"
        )
    path = configuration_file()
    line = f"library = {_quoted(where)}\n"
    try:
        before = path.read_text(encoding="utf-8") if path.is_file() else ""
        tomllib.loads(before)
        # keys of the file itself stand before its first table
        head, mark, rest = before.partition("\n[") if not before.startswith("[") else ("", "", before)
        text = line + _LINE.sub("", head) + mark + rest
        if tomllib.loads(text).get("library") != where:
            raise LibraryError(f"{path}: the line could not be put in; write it yourself: {line.strip()}")
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, text.encode())
    except (OSError, ValueError) as error:
        raise LibraryError(f"{path}: {error}") from error
    return path


def _quoted(text: str) -> str:
    if any(not letter.isprintable() for letter in text):
        raise LibraryError("the address of the library holds a control character")
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
