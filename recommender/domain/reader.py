"""Reading cases from files, folders and text, with errors that name file, line, field, found and allowed."""

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from recommender.domain import limits
from recommender.domain.case import Case
from recommender.domain.errors import CaseError
from recommender.domain.intake import build
from recommender.domain.parsing import Document, parse

SUFFIXES = (".yaml", ".yml", ".json")


def read_text(text: str, name: str = "case") -> Case:
    """The case in a YAML or JSON text; ``name`` stands for the file in messages. Raises ``CaseError``."""
    return build(parse(text, name))


def read_bytes(data: bytes, name: str = "case") -> Case:
    """The case in the bytes of a file, e.g. an upload or standard input. Raises ``CaseError``."""
    return read_text(limits.decode(data, name), name)


def read_case(path: str | Path) -> Case:
    """The case in a YAML or JSON file. Raises ``CaseError``; an unreadable or missing file is one too."""
    where = Path(path)
    return read_text(limits.decode(limits.read_bytes(where), str(where)), str(where))


def read_value(value: Mapping[str, Any], name: str = "case") -> Case:
    """The case in plain values (as from a database or a program). Raises ``CaseError``."""
    return build(Document(name, dict(value)))


def case_files(folder: str | Path) -> list[Path]:
    """The case files of a folder and the folders in it, sorted by name; hidden ones are passed over."""
    root = Path(folder)
    return sorted(
        path
        for path in root.rglob("*")
        if path.suffix.lower() in SUFFIXES
        and path.is_file()
        and not any(part.startswith(".") for part in path.relative_to(root).parts)
    )


def read_folder(folder: str | Path) -> Iterator[Case | CaseError]:
    """Every case of a folder in the order of ``case_files``; a file that cannot be used gives its error."""
    return read_many(case_files(folder))


def read_many(paths: Iterable[str | Path]) -> Iterator[Case | CaseError]:
    """Every case of these files, in this order; a file that cannot be used gives its error."""
    for path in paths:
        try:
            yield read_case(path)
        except CaseError as error:
            yield error
