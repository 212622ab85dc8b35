"""A draft of the rules: a folder of one's own in which rules and weights may be changed and tried.

The folder holds ``rules/*.yaml``, ``criteria.yaml`` and, under ``figures/``, every file of figures, copied from the
packaged ones, which are never written to; a file of figures that is not there counts as packaged. A draft is read
as a file of a user: within limits, and with file, rule and place for everything wrong. Each change is written
beside the file and then put in its place, and a change that would make the file unreadable as YAML is refused.
"""

import os
import re
import shutil
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import uuid4

from recommender.domain import limits, parsing
from recommender.domain.errors import CaseError, Problem
from recommender.domain.validation import At
from recommender.domain.writing import write_whole
from recommender.facts.figures import ModelFigures
from recommender.knowledge.atoms import number_text
from recommender.knowledge.criteria import read_criteria
from recommender.knowledge.figures.files import NAMES, Figures, read_figures
from recommender.knowledge.load import assemble, draft_documents, figures_file, read_rules
from recommender.knowledge.model import Criteria, Knowledge
from recommender.knowledge.packaged import document as packaged_document
from recommender.knowledge.registry import registry
from recommender.knowledge.rulefile import Setting
from recommender.resources import shared

CRITERIA = "criteria.yaml"
FIGURES = "figures"
RULES = "rules"
_NUMBER = re.compile(r"[-+]?[0-9.]+([eE][-+]?[0-9]+)?")


class DraftError(Exception):
    """Something about the folder of a draft, in one sentence; nothing was changed."""


@dataclass(frozen=True, slots=True)
class Draft:
    """What a draft folder says. ``knowledge`` is ``None`` while there are ``problems``."""

    folder: Path
    knowledge: Knowledge | None
    problems: tuple[Problem, ...]


def is_draft(folder: Path) -> bool:
    """Whether the folder holds a draft."""
    return (folder / CRITERIA).is_file() and (folder / RULES).is_dir()


def start(folder: Path) -> None:
    """Makes a draft of the packaged rules in a folder that is new or empty. Raises ``DraftError``."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise DraftError(f"{folder}: is there already and not an empty folder; nothing was written")
    if not folder.parent.is_dir():
        raise DraftError(f"{folder}: the folder {folder.parent} does not exist")
    part = folder.with_name(f".{folder.name}.{uuid4().hex[:8]}.part")
    try:
        copy_rules(shared(), part)
        if folder.exists():
            folder.rmdir()
        os.replace(part, folder)
    except OSError as error:
        raise DraftError(f"{folder}: cannot be written ({error.strerror}); nothing was changed") from error
    finally:
        shutil.rmtree(part, ignore_errors=True)


def copy_rules(source: Path, target: Path) -> None:
    """Copies the rule files, the criteria and the figures of a folder into a new one."""
    (target / RULES).mkdir(parents=True)
    for path in rule_files(source):
        shutil.copyfile(path, target / RULES / path.name)
    shutil.copyfile(source / CRITERIA, target / CRITERIA)
    for name, path in figure_files(source):
        copy = target / FIGURES / name
        copy.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(path, copy)


def figure_files(folder: Path) -> list[tuple[str, Path]]:
    """The files of figures of a draft (or of ``shared/`` itself) that are there, by name below ``shared/``."""
    home = folder if folder == shared() else folder / FIGURES
    return [(name, home / name) for name in NAMES if (home / name).is_file()]


def rule_files(folder: Path) -> list[Path]:
    """The rule files of a draft, by name."""
    return sorted(path for path in (folder / RULES).glob("*.y*ml") if path.suffix in (".yaml", ".yml"))


def read(folder: Path) -> Draft:
    """The draft as knowledge, or everything that is wrong with it."""
    from recommender.domain.catalogue import load as load_catalogue

    problems: list[Problem] = []
    catalogue = load_catalogue()
    criteria = _criteria(folder, problems)
    labels = criteria.labels if criteria is not None else _packaged_labels()
    setting = Setting(registry(), catalogue, labels)
    rules = read_rules(draft_documents(folder / RULES, problems), setting, problems)
    figures, models = _figures(folder, problems)
    if problems or criteria is None or figures is None:
        return Draft(folder, None, tuple(problems))
    return Draft(folder, assemble(rules, catalogue, criteria, figures, models), ())


def _figures(folder: Path, problems: list[Problem]) -> tuple[Figures | None, ModelFigures | None]:
    """The figures of a draft, and those of the computing models where they differ from the packaged ones."""
    own = dict(figure_files(folder))
    plain: dict[str, Any] = {}
    broken: list[Problem] = []

    def read(name: str) -> tuple[Any, At]:
        plain[name] = packaged_document(name)
        if name not in own:
            return plain[name], lambda path: f"shared/{name}"
        try:
            plain[name], at = figures_file(own[name], str(own[name]))
        except CaseError as error:
            broken.extend(error.problems)
            return plain[name], lambda path: str(own[name])
        return plain[name], at

    figures = read_figures(read, problems)
    problems.extend(broken)
    models = {name: plain[f"{name}.yaml"] for name in ("mechanics", "display")}
    if all(value == packaged_document(f"{name}.yaml") for name, value in models.items()):
        return figures, None
    return figures, ModelFigures(**models)


def _packaged_labels() -> Mapping[str, str]:
    return {entry["id"]: entry["label"] for entry in packaged_document(CRITERIA)["criteria"]}


def _criteria(folder: Path, problems: list[Problem]) -> Criteria | None:
    path = folder / CRITERIA
    try:
        found = parsing.parse(limits.decode(limits.read_bytes(path), str(path)), str(path))
    except CaseError as error:
        problems.extend(error.problems)
        return None
    problems.extend(found.problems)
    decisions = frozenset(packaged_document(CRITERIA)["base"])
    return read_criteria(found.value, found.at, registry(), decisions, problems)


@dataclass(frozen=True, slots=True)
class Entry:
    """A rule as it stands in a draft file: its lines (first, and one past the last, from 0) and their text."""

    path: Path
    rule_id: str
    first: int
    last: int
    text: str


def entry(folder: Path, rule_id: str) -> Entry:
    """Where a rule stands in the draft. Raises ``DraftError`` where it is not there."""
    for path in rule_files(folder):
        for found in entries(path):
            if found.rule_id == rule_id:
                return found
    raise DraftError(f"{folder}: the draft has no rule {rule_id}")


def entries(path: Path) -> list[Entry]:
    """The rules of a draft file in order. Raises ``DraftError`` where the file cannot be read."""
    text, document = _opened(path)
    return _entries(path, text, document)


def _opened(path: Path) -> tuple[str, parsing.Document]:
    try:
        text = limits.decode(limits.read_bytes(path), str(path))
    except CaseError as error:
        raise DraftError(str(error)) from error
    return text, _parsed(text, str(path))


def _parsed(text: str, name: str) -> parsing.Document:
    try:
        document = parsing.parse(text, name)
    except CaseError as error:
        raise DraftError(str(error)) from error
    if document.problems:
        raise DraftError("\n".join(str(problem) for problem in document.problems))
    return document


def _entries(path: Path, text: str, document: parsing.Document) -> list[Entry]:
    listed = document.value.get("rules") if isinstance(document.value, dict) else None
    if not isinstance(listed, list):
        return []
    lines = text.splitlines(keepends=True)
    starts = [int(document.at(("rules", index)).rsplit(":", 2)[1]) - 1 for index in range(len(listed))]
    found = []
    for index, value in enumerate(listed):
        first, last = starts[index], starts[index + 1] if index + 1 < len(starts) else len(lines)
        # comments and empty lines before the next rule belong to that one
        while last - 1 > first and lines[last - 1].strip()[:1] in ("", "#"):
            last -= 1
        name = value.get("id") if isinstance(value, dict) else None
        found.append(Entry(path, str(name), first, last, "".join(lines[first:last])))
    return found


def change_rule(folder: Path, rule_id: str, text: str) -> None:
    """Puts this YAML entry (``- id: …``) in place of a rule's; empty text takes the rule out.

    The rest of the file stays as it is, byte for byte. Raises ``DraftError`` for text that is not one entry.
    """
    old = entry(folder, rule_id)
    new = text.strip("\n") + "\n" if text.strip() else ""
    if new:
        _one_entry(new, f"rule {rule_id}")
    lines = old.path.read_text(encoding="utf-8").splitlines(keepends=True)
    _replace(old.path, "".join([*lines[: old.first], new, *lines[old.last :]]))


def add_rule(folder: Path, file_name: str, text: str) -> None:
    """Adds a YAML entry at the end of a rule file of the draft (made if it is new)."""
    path = folder / RULES / file_name
    if path.parent != folder / RULES or not file_name.endswith(".yaml"):
        raise DraftError(f"{file_name}: a plain file name that ends in .yaml")
    _one_entry(text, "the new rule")
    before = path.read_text(encoding="utf-8") if path.is_file() else "format: 1\nrules:\n"
    _replace(path, before.rstrip("\n") + "\n" + text.strip("\n") + "\n")


def _one_entry(text: str, what: str) -> None:
    value = _parsed(text, what).value
    if not isinstance(value, list) or len(value) != 1 or not isinstance(value[0], dict):
        raise DraftError(f"{what}: give one entry that starts with '- id:', each key on a line of its own")


def set_weight(folder: Path, decision: str, criterion: str, weight: float) -> None:
    """Changes one weight of ``criteria.yaml``; the rest stays byte for byte. Raises ``DraftError``."""
    _set_number(folder / CRITERIA, ("base", decision, criterion), weight)


def set_shift(folder: Path, index: int, add: float) -> None:
    """Changes how much a shift adds to its criterion (``index`` from 0). Raises ``DraftError``."""
    _set_number(folder / CRITERIA, ("shifts", index, "add"), add)


def set_figure(folder: Path, name: str, steps: tuple[str | int, ...], number: float) -> None:
    """Changes one number of a file of figures (``frameworks.yaml``); the rest stays byte for byte.

    The file is copied into the draft first where it is not there. Raises ``DraftError``.
    """
    if name not in NAMES:
        raise DraftError(f"{name}: no file of figures; there are {', '.join(NAMES)}")
    path = folder / FIGURES / name
    if not path.is_file():
        path.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(shared(*name.split("/")), path)
    _set_number(path, steps, number)


def _set_number(path: Path, steps: tuple[str | int, ...], number: float) -> None:
    text, document = _opened(path)
    value: Any = document.value
    for step in steps:
        value = parsing.child(value, step)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise DraftError(f"{path}: no number at {'.'.join(map(str, steps))}; mend the file first")
    line, column = (int(part) - 1 for part in document.at(steps).rsplit(":", 2)[1:])
    lines = text.splitlines(keepends=True)
    old = _NUMBER.match(lines[line], column)
    if old is None:
        raise DraftError(f"{document.at(steps)}: the number is not written plainly; mend the file first")
    lines[line] = lines[line][:column] + number_text(number) + lines[line][old.end() :]
    _replace(path, "".join(lines))


def _replace(path: Path, text: str) -> None:
    _parsed(text, str(path))
    try:
        write_whole(path, text.encode())
    except OSError as error:
        raise DraftError(f"{path}: cannot be written ({error.strerror}); nothing was changed") from error
