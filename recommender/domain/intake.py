"""From plain values to a case: tooth numbers brought to ISO 3950, types checked, problems put into words."""

import re
from collections.abc import Iterable
from typing import Any

from pydantic import ValidationError

from recommender.domain import dentition, numbering
from recommender.domain.case import Case, DentistAnswer
from recommender.domain.checks import check
from recommender.domain.errors import CaseError, Problem, did_you_mean, shown
from recommender.domain.measures import is_number
from recommender.domain.parsing import Document, Path, child, field_name
from recommender.domain.shape import Shape, case_shape
from recommender.domain.validation import Issue, issues_of

_BARE_NUMBER = re.compile(r"\s*([-+]?\d+(?:[.,]\d+)?)\s*(?:mm|degrees|deg|°|years|months)?\s*")
_SITE = re.compile(r"\[(\d{1,3})\]")
_FLAG_WORDS = {"yes": "true", "on": "true", "y": "true", "no": "false", "off": "false", "n": "false"}
_NONE_MISSING = "write missing: [] where no tooth is to be replaced"
# Fields that settle which teeth stand: with one of these wrong, checks across fields would only mislead.
_DENTITION = {"arch", "missing", "absent", "planned_extractions"}


def build(document: Document) -> Case:
    """The case that the document holds; ``CaseError`` with every problem of the document otherwise."""
    raw = document.value
    if not isinstance(raw, dict):
        allowed = "a mapping with at least the keys format, id, arch and missing"
        document.problems.append(Problem(document.at(()), "", shown(raw), allowed))
        raise CaseError(document.problems, document.name)
    intake = _Intake(document)
    data = intake.normalise()
    case, issues = _validate(data, intake.issues)
    if case is not None and not _dentition_wrong(data, issues):
        spoilt = {issue.path for issue in issues}
        issues += [issue for issue in check(case) if issue.path not in spoilt]
    problems = [*document.problems, *(intake.problem(data, issue) for issue in issues)]
    if problems or case is None:
        identifier = raw.get("id")
        name = identifier if isinstance(identifier, str) and len(identifier) <= 80 else document.name
        raise CaseError(sorted(_unique(problems), key=_by_place), name)
    return case


def _unique(problems: Iterable[Problem]) -> list[Problem]:
    seen: dict[tuple[str, str], Problem] = {}
    for problem in problems:
        seen.setdefault((problem.at, problem.field), problem)
    return list(seen.values())


def _by_place(problem: Problem) -> tuple[int, int]:
    parts = problem.at.rsplit(":", 2)
    if len(parts) == 3 and parts[1].isdigit() and parts[2].isdigit():
        return int(parts[1]), int(parts[2])
    return (0, 0)


_NAMING: dict[int, tuple[Shape, tuple[tuple[str, Shape], ...]]] = {}
# texts that name fields or parts, and with them teeth
_NAMED_IN = {(Case, "asked"), (Case, "dentist_answer"), (DentistAnswer, "item")}


def _naming_teeth(shape: Shape) -> tuple[tuple[str, Shape], ...]:
    """The fields of a record at or below which a tooth may be named."""
    known = _NAMING.get(id(shape))
    if known is None:
        named = (
            (key, inner)
            for key, inner in shape.fields.items()
            if (shape.model, key) in _NAMED_IN or _names(inner)
        )
        known = _NAMING[id(shape)] = shape, tuple(named)
    return known[1]


_SPOKEN = ("asked", "dentist_answer")
_TEETH_BELOW: dict[int, tuple[Shape, bool]] = {}


def _names_teeth(shape: Shape) -> bool:
    """Whether a tooth may stand at or below this place; worked out once."""
    known = _TEETH_BELOW.get(id(shape))
    if known is None:
        known = _TEETH_BELOW[id(shape)] = shape, _names(shape)
    return known[1]


def _names(shape: Shape) -> bool:
    inner = (*shape.fields.values(), *shape.choices, *((shape.item,) if shape.item is not None else ()))
    return shape.kind in ("tooth", "map") or any(map(_names, inner))


class _Intake:
    """Walks a document along the shape of the format; brings keys and tooth numbers to their stored form."""

    def __init__(self, document: Document) -> None:
        self._document = document
        self.issues: list[Issue] = []
        self._raw_keys: dict[tuple[int, Any], Any] = {}
        self._kept: list[Any] = []
        raw = document.value
        self._system = raw.get("numbering", "iso")
        arch = raw.get("arch")
        self._arch = arch if isinstance(arch, str) and arch in dentition.ARCH_ORDER else None
        # as nearly every tooth is written
        self._plain = (
            frozenset(dentition.ARCH_ORDER[arch]) if self._arch and self._system == "iso" else frozenset()
        )

    def normalise(self) -> dict[str, Any]:
        """New values with integer tooth keys in ISO 3950 and without ``numbering``."""
        if self._system not in ("iso", "universal"):
            self.issues.append(
                Issue(("numbering",), "iso | universal", did_you_mean(self._system, ("iso", "universal")))
            )
            self._system = "iso"
            self._arch = None
        data: dict[str, Any] = self._record(case_shape(), self._document.value, ())
        if not any(issue.path == ("numbering",) for issue in self.issues):
            data.pop("numbering", None)
        return data

    def _value(self, shape: Shape, value: Any, path: Path) -> Any:
        if value is None:
            return None
        if shape.kind == "choice":
            shape = shape.for_value(value)
        if isinstance(value, dict):
            if shape.kind == "record":
                return self._record(shape, value, path)
            return self._map(shape, value, path) if shape.kind == "map" else value
        if isinstance(value, list):
            if shape.kind != "list" or shape.item is None:
                return value
            if shape.item.kind == "tooth":
                if all(item.__class__ is int and item in self._plain for item in value):
                    return list(value)
            elif not _names_teeth(shape.item) and path[0] not in _SPOKEN:
                return value
            return [self._value(shape.item, item, (*path, index)) for index, item in enumerate(value)]
        if shape.kind == "tooth":
            return self._tooth(value, path, key=False)
        if path[:1] == ("asked",) and isinstance(value, str):
            return self._field_path(value, path)
        if path[:1] == ("dentist_answer",) and path[-1:] == ("item",) and isinstance(value, str):
            return numbering.renumbered(value, numbering.to_iso) if self._system == "universal" else value
        return value

    def _record(self, shape: Shape, value: dict[Any, Any], path: Path) -> dict[str, Any]:
        # most of the format names no tooth: what lies there is taken as it stands
        made: dict[str, Any] = dict(value)
        self._kept.append(made)
        for key, inner in _naming_teeth(shape):
            if key in value:
                made[key] = self._value(inner, value[key], (*path, key))
        return made

    def _map(self, shape: Shape, value: dict[Any, Any], path: Path) -> dict[Any, Any]:
        made: dict[Any, Any] = {}
        self._kept.append(made)
        for raw_key, item in value.items():
            key = self._tooth(raw_key, (*path, raw_key), key=True)
            if key in made:
                self.issues.append(Issue((*path, raw_key), "each tooth once", key=True, found=shown(raw_key)))
                continue
            if key != raw_key:
                self._raw_keys[(id(made), key)] = raw_key
            named = shape.item is not None and (_names_teeth(shape.item) or path[0] in _SPOKEN)
            made[key] = self._value(shape.item, item, (*path, raw_key)) if named and shape.item else item
        return made

    def _field_path(self, value: str, path: Path) -> str:
        """A field path with its teeth in ISO 3950."""

        def iso(match: re.Match[str]) -> str:
            tooth = self._tooth(int(match.group(1)), path, key=False)
            return f"[{tooth}]"

        return _SITE.sub(iso, value)

    def _tooth(self, value: Any, path: Path, *, key: bool) -> Any:
        """The ISO number of a tooth as it was written; an issue where it is no tooth of this arch."""
        if value.__class__ is int and value in self._plain:
            return value
        number = (
            int(value)
            if isinstance(value, str) and value.isascii() and value.isdigit() and len(value) < 4
            else value
        )
        if isinstance(number, bool) or not isinstance(number, int):
            self.issues.append(Issue(path, self._allowed_teeth(), found=shown(value), key=key))
            return value
        tooth = number
        if self._system == "universal" and 1 <= number <= 32:
            tooth = numbering.to_iso(number)
        elif self._system == "universal" or not dentition.is_tooth(number):
            hint = ""
            if self._system == "universal" and dentition.is_tooth(number):
                hint = "the file says numbering: universal; the two systems are never mixed"
            elif self._system == "iso" and 1 <= number <= 32:
                hint = "for numbers of the universal system say numbering: universal"
            self.issues.append(Issue(path, self._allowed_teeth(), hint, shown(value), key))
            return number
        if self._arch is not None and dentition.arch_of(tooth) != self._arch:
            where = f"{shown(value)}, a tooth of the {dentition.arch_of(tooth)}"
            self.issues.append(Issue(path, self._allowed_teeth(), found=where, key=key))
        return tooth

    def _allowed_teeth(self) -> str:
        if self._system == "universal":
            spans = {"maxilla": "1-16", "mandible": "17-32", None: "1-32"}
        else:
            spans = {
                "maxilla": "11-18, 21-28",
                "mandible": "31-38, 41-48",
                None: "11-18, 21-28, 31-38, 41-48",
            }
        arch = f" of the {self._arch}" if self._arch else ""
        return f"a tooth{arch}: {spans[self._arch]}"

    def problem(self, data: Any, issue: Issue) -> Problem:
        """An issue as a problem: placed in the text, and quoted as it was written there."""
        path = self._raw_path(data, issue.path)
        node = self._document.value
        for step in path:
            node = child(node, step)
        quoted = path[-1] if issue.key and path else node
        found = issue.found if issue.found is not None else shown(quoted)
        at = self._document.at(path, key=issue.key)
        return Problem(at, field_name(path, self._document.value), found, issue.allowed, issue.hint)

    def _raw_path(self, data: Any, path: Path) -> Path:
        raw: list[Any] = []
        node = data
        for step in path:
            raw.append(self._raw_keys.get((id(node), step), step))
            node = child(node, step)
        return tuple(raw)


def _validate(data: dict[str, Any], issues: list[Issue]) -> tuple[Case | None, list[Issue]]:
    """The case, or what is left of it without its faulty values; ``None`` where too little is left."""
    try:
        return Case.model_validate(data, strict=True), issues
    except ValidationError as error:
        found = issues_of(data, error, case_shape(), _hint, ("numbering",))
    known = {issue.path for issue in issues}
    issues = issues + [issue for issue in found if issue.path not in known]
    # With one entry of a list at fault the whole list goes: the places of the other entries stay true.
    faulty = {issue.path[:-1] if _in_list(data, issue.path) else issue.path for issue in issues}
    try:
        rest = {"format": 1, "id": "unnamed", **_pruned(data, faulty, ())}
        return Case.model_validate(rest, strict=True), issues
    except ValidationError:
        return None, issues


def _in_list(data: Any, path: Path) -> bool:
    for step in path[:-1]:
        data = child(data, step)
    return isinstance(data, list)


def _pruned(value: Any, faulty: set[Path], path: Path) -> Any:
    if isinstance(value, dict):
        return {k: _pruned(v, faulty, (*path, k)) for k, v in value.items() if (*path, k) not in faulty}
    if isinstance(value, list):
        return [_pruned(v, faulty, (*path, i)) for i, v in enumerate(value)]
    return value


def _dentition_wrong(data: Any, issues: Iterable[Issue]) -> bool:
    def settles(path: Path) -> bool:
        if path[:1] == ("abutments",):
            return len(path) < 3 or path[2] in ("tooth", "kind")
        return bool(path) and (path[0] in _DENTITION or path[0] == "numbering")

    return any(settles(issue.path) for issue in issues)


def _hint(shape: Shape | None, path: list[Any], value: Any) -> str:
    if shape is None:
        return ""
    if path == ["missing"] and value is None:
        return _NONE_MISSING
    if path == ["id"] and isinstance(value, (int, float)) and not isinstance(value, bool):
        return f'put the id in quotes: "{shown(value)}"'
    if path == ["patient", "age"] and is_number(value) and value > 89:
        return 'write "90+" for every age over 89'
    kinds = {shape.kind, *(choice.kind for choice in shape.choices)}
    if "flag" in kinds and isinstance(value, str) and value.lower() in _FLAG_WORDS:
        return f"write {_FLAG_WORDS[value.lower()]}"
    if "word" in kinds and isinstance(value, bool):
        return ""
    if kinds & {"number", "whole"} and isinstance(value, str):
        match = _BARE_NUMBER.fullmatch(value)
        return f"write {match.group(1).replace(',', '.')}, without quotes or unit" if match else ""
    words = shape.words or tuple(word for choice in shape.choices for word in choice.words)
    if shape.kind == "list" and isinstance(value, str):
        return f"write [{shown(value)}]"
    return did_you_mean(value, words) if words else ""
