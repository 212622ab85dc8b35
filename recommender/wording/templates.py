"""The sentences of one language, read from ``shared/wording/``.

A language is the file ``LANG.yaml``, or a folder ``LANG/`` of such files: a code, and the template that says it. In a
template

- ``{name}`` is the argument of that name, in words;
- ``{name:holds|hold}`` chooses by number: one tooth *holds*, several *hold*;
- ``{name:cap}`` begins with a capital, ``{name:low}`` with a small letter, ``{name:clause}`` with a small letter
  and a full stop at its end, ``{name:ended}`` with a capital and a full stop, ``{name:signed}`` has a plus before it
  unless it is negative, ``{name:a}`` has the indefinite article before it, where the language gives it one;
- ``[[ … ]]`` is left out where an argument inside it was not given.

Sections of their own: ``terms`` (words for statuses, verdicts and the like), ``labels`` (options in this language,
where they differ from the catalogue's), ``format`` (decimal mark, joints, articles). Everything else is a statement's
code.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from string import Formatter
from typing import Any

from recommender.resources import read_yaml, shared

DEFAULT = "en"
SECTIONS = ("terms", "labels", "format")
_OPTIONAL = re.compile(r"\[\[(.*?)\]\]", re.DOTALL)


class WordingError(ValueError):
    """A language file that cannot be used; the message names the file, the entry and what is wrong."""


@dataclass(frozen=True, slots=True)
class Piece:
    """Part of a template: literal text, or an argument with its format;

    ``group`` numbers the optional part it stands in (0: none).
    """

    text: str
    name: str | None
    spec: str
    group: int


@dataclass(frozen=True, slots=True)
class Template:
    """One template, taken apart once."""

    pieces: tuple[Piece, ...]

    @property
    def names(self) -> frozenset[str]:
        """The arguments that it uses."""
        return frozenset(piece.name for piece in self.pieces if piece.name is not None)

    @property
    def needed(self) -> frozenset[str]:
        """The arguments without which it cannot be said."""
        return frozenset(piece.name for piece in self.pieces if piece.name is not None and not piece.group)


@dataclass(frozen=True, slots=True)
class Style:
    """How a language writes:

    Its decimal mark, what stands between parts in a row (and before the last), its indefinite articles.
    """

    decimal: str
    joints: Mapping[str, tuple[str, str]]
    articles: Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Language:
    """Everything that one language says. ``terms[list][word]``, ``labels[kind][option]``."""

    name: str
    templates: Mapping[str, Template]
    terms: Mapping[str, Mapping[str, str]]
    labels: Mapping[str, Mapping[str, str]]
    style: Style


def languages() -> tuple[str, ...]:
    """The languages that there are, English first."""
    found = {path.stem for path in shared("wording").iterdir() if not path.name.startswith((".", "README"))}
    return (DEFAULT, *sorted(found - {DEFAULT}))


@cache
def language(name: str = DEFAULT) -> Language:
    """One language. Raises :class:`WordingError` where a file cannot be used or an entry stands twice."""
    templates: dict[str, Template] = {}
    sections: dict[str, dict[str, Any]] = {section: {} for section in SECTIONS}
    for path in _files(name):
        held = read_yaml(path.read_bytes())
        if not isinstance(held, dict):
            raise WordingError(
                f"{path.name}: found {type(held).__name__}; codes with their templates are allowed"
            )
        for code, entry in held.items():
            if code in SECTIONS:
                _merge(path, sections[code], entry)
            elif code in templates:
                raise WordingError(f"{path.name}: {code} stands in another file too")
            else:
                templates[str(code)] = template(entry, f"{path.name}: {code}")
    return Language(name, templates, sections["terms"], sections["labels"], _style(name, sections["format"]))


def _style(name: str, held: Mapping[str, Any]) -> Style:
    if name != DEFAULT:
        base = language(DEFAULT).style
        held = {"decimal": base.decimal, "joints": base.joints, "articles": base.articles} | dict(held)
    return Style(
        str(held["decimal"]),
        {key: (str(marks[0]), str(marks[1])) for key, marks in held["joints"].items()},
        {str(key): tuple(map(str, starts)) for key, starts in held["articles"].items()},
    )


def _merge(path: Path, known: dict[str, Any], entry: object) -> None:
    if not isinstance(entry, dict):
        raise WordingError(f"{path.name}: a section holds a mapping; found {type(entry).__name__}")
    for key, value in entry.items():
        if isinstance(value, dict):
            known.setdefault(str(key), {}).update(value)
        else:
            known[str(key)] = value


def _files(name: str) -> list[Path]:
    root = shared("wording")
    single, folder = root / f"{name}.yaml", root / name
    found = [single] if single.is_file() else []
    if folder.is_dir():
        found += sorted(folder.glob("*.yaml"))
    if not found:
        raise WordingError(f"language {name}: not there; allowed: {', '.join(languages())}")
    return found


def template(text: object, where: str = "template") -> Template:
    """A template from its text. Raises :class:`WordingError`, naming ``where``, for one that cannot be read."""
    if not isinstance(text, str):
        raise WordingError(f"{where}: found {type(text).__name__}; a text is allowed")
    pieces: list[Piece] = []
    try:
        for number, part in enumerate(_OPTIONAL.split(text)):
            pieces += _pieces(part, number if number % 2 else 0)
    except ValueError as error:
        raise WordingError(f"{where}: {error}") from error
    return Template(tuple(pieces))


def _pieces(text: str, group: int) -> Iterator[Piece]:
    for literal, name, spec, _ in Formatter().parse(text):
        if literal:
            yield Piece(literal, None, "", group)
        if name is not None:
            if not name.isidentifier():
                raise ValueError(f"{{{name}}} is not a name")
            yield Piece("", name, spec or "", group)
