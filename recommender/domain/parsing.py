"""YAML or JSON text into plain values that remember where they stood.

One pass over the C parser's event stream, without recursion, with the limits of ``limits`` kept on the way.
Scalars follow the YAML 1.2 core schema: ``true`` and ``false`` are the only booleans, and there are no dates,
octal or sexagesimal numbers. Aliases, tags, directives, merge keys, repeated keys, numbers that are not
finite and a second document are refused. JSON is read by the same rules, being a part of YAML 1.2.
"""

import re
from dataclasses import dataclass, field
from typing import Any

import yaml
from yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)

from recommender.domain import limits
from recommender.domain.errors import MOST_PROBLEMS, CaseError, Problem, shown

Key = str | int | float | bool | None
Place = tuple[int, int]
Path = tuple[Key, ...]

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_INTEGER = re.compile(r"[-+]?[0-9]+")
_NUMBER = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_NOT_FINITE = re.compile(r"[-+]?(\.inf|\.Inf|\.INF)|\.nan|\.NaN|\.NAN")
_NOT_FINITE_JSON = re.compile(r"-?Infinity|NaN")
# A name of JSON stands in double quotes; {name: value} is YAML, where Infinity and NaN are words like others.
_JSON_START = re.compile(r'\s*\{\s*["}]')
_LEADING_ZERO = re.compile(r"[-+]?0[0-9]+")
_LONGEST_NAME = 120
_WORDS: dict[str, Key] = {
    "": None, "~": None, "null": None, "Null": None, "NULL": None,
    "true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False,
}  # fmt: skip
_FIRST_CONTENT = re.compile(r"^[ \t\r]*([^\s#][^\n]{0,60})", re.MULTILINE)
_SURROGATES = re.compile(r"\\u([dD][89abAB][0-9a-fA-F]{2})\\u([dD][c-fC-F][0-9a-fA-F]{2})")


@dataclass(slots=True)
class Document:
    """Plain values (``dict``, ``list``, scalars), and the place of each in the text (line, column from 1)."""

    name: str
    value: Any
    places: dict[tuple[int, Any], Place] = field(default_factory=dict)
    key_places: dict[tuple[int, Any], Place] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def at(self, path: Path, key: bool = False) -> str:
        """``file:line:column`` of the value at a path (or of its key), or of what encloses it."""
        place: Place | None = None
        node = self.value
        for index, step in enumerate(path):
            last = index == len(path) - 1
            table = self.key_places if key and last else self.places
            found = table.get((id(node), step))
            if found is None:
                break
            place = found
            node = child(node, step)
        if place is None:
            return f"{self.name}:1:1" if self.places else self.name
        return f"{self.name}:{place[0]}:{place[1]}"


def child(node: Any, step: Any, default: Any = None) -> Any:
    """What stands under a key of a mapping or at an index of a list, else the default."""
    if isinstance(node, dict):
        return node.get(step, default)
    if isinstance(node, list) and isinstance(step, int) and 0 <= step < len(node):
        return node[step]
    return default


def parse(text: str, name: str) -> Document:
    """The document that the text holds; ``CaseError`` where it is not one that may be read."""
    text = limits.check_text(text, name)
    first = _FIRST_CONTENT.search(text)
    if first and first.group(1).startswith("%"):
        raise limits.refuse(
            name, f"the directive {shown(first.group(1))}", "a plain document without directives"
        )
    json = _JSON_START.match(text) is not None
    if json:
        text = _SURROGATES.sub(_join_surrogates, text)
    builder = _Builder(name, json)
    try:
        for event in yaml.parse(text, Loader=_LOADER):
            builder.take(event)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        at = f"{name}:{mark.line + 1}:{mark.column + 1}" if mark else name
        raise limits.refuse(at, *_readable(error, text)) from None
    except yaml.YAMLError as error:
        raise limits.refuse(
            name, f"text that is not YAML or JSON ({shown(str(error))})", "YAML or JSON"
        ) from None
    return builder.document


def _readable(error: yaml.MarkedYAMLError, text: str) -> tuple[str, str, str]:
    problem = str(error.problem or error.context or "unreadable")
    if "depth" in problem:
        return "nesting that is too deep", f"at most {limits.MOST_DEPTH} levels", ""
    hint = ""
    mark = error.problem_mark
    lines = text.splitlines()
    if mark is not None and mark.line < len(lines):
        line = lines[mark.line]
        if "\t" in line[: mark.column + 1]:
            hint = "indent with spaces, not with tabs"
        elif "mapping values" in problem:
            hint = "a text with a colon in it is put in quotes, and every entry stands on a line of its own"
        elif "expected ',' or" in problem:
            hint = "a bracket or a comma is missing before this place"
    return f"text that is not YAML or JSON ({problem})", "YAML or JSON", hint


def _join_surrogates(match: re.Match[str]) -> str:
    high, low = int(match.group(1), 16), int(match.group(2), 16)
    return chr(0x10000 + ((high - 0xD800) << 10) + (low - 0xDC00))


class _Level:
    """A mapping or list being filled."""

    __slots__ = ("container", "has_key", "is_map", "key", "key_place", "repeated")

    def __init__(self, container: Any) -> None:
        self.container = container
        self.is_map = isinstance(container, dict)
        self.has_key = False
        self.key: Key = None
        self.key_place: Place = (1, 1)
        self.repeated = False


class _Builder:
    def __init__(self, name: str, json: bool) -> None:
        self._json = json
        self.document = Document(name, None)
        self._levels: list[_Level] = []
        self._documents = 0
        self._events = 0

    def take(self, event: Any) -> None:
        self._events += 1
        if self._events > limits.MOST_EVENTS:
            raise self._fatal(
                event, f"more than {limits.MOST_EVENTS:,} entries", "a case of a reasonable size"
            )
        kind = type(event)
        if kind is ScalarEvent:
            self._scalar(event)
        elif kind is MappingStartEvent:
            self._start(event, {})
        elif kind is SequenceStartEvent:
            self._start(event, [])
        elif kind is MappingEndEvent or kind is SequenceEndEvent:
            self._levels.pop()
        elif kind is AliasEvent:
            raise self._fatal(
                event, f"the alias *{shown(event.anchor)}", "every value written out (no aliases)"
            )
        elif kind is DocumentStartEvent:
            self._documents += 1
            if self._documents > 1:
                raise self._fatal(event, "a second document", "one case for each file")

    def _place(self, event: Any) -> Place:
        mark = event.start_mark
        return (mark.line + 1, mark.column + 1)

    def _fatal(self, event: Any, found: str, allowed: str, hint: str = "") -> CaseError:
        self._problem(self._place(event), found, allowed, hint)
        return CaseError(self.document.problems, self.document.name)

    def _problem(self, place: Place, found: str, allowed: str, hint: str = "") -> None:
        at = f"{self.document.name}:{place[0]}:{place[1]}"
        inner = len(self._levels) - 1
        keys = [
            level.key if level.is_map else len(level.container) - (index < inner)
            for index, level in enumerate(self._levels)
        ]
        self.document.problems.append(
            Problem(at, field_name(tuple(keys), self.document.value), found, allowed, hint)
        )
        if len(self.document.problems) > MOST_PROBLEMS:
            raise CaseError(self.document.problems, self.document.name)

    def _start(self, event: Any, container: Any) -> None:
        if event.tag is not None:
            raise self._fatal(event, f"the tag {shown(event.tag)}", "plain values (no tags)")
        if len(self._levels) >= limits.MOST_DEPTH:
            raise self._fatal(event, "nesting that is too deep", f"at most {limits.MOST_DEPTH} levels")
        level = self._levels[-1] if self._levels else None
        if level is not None and level.is_map and not level.has_key:
            raise self._fatal(event, "a list or mapping as a key", "a word or a tooth number as a key")
        self._put(container, self._place(event))
        self._levels.append(_Level(container))

    def _scalar(self, event: Any) -> None:
        place = self._place(event)
        if event.tag is not None:
            raise self._fatal(event, f"the tag {shown(event.tag)}", "plain values (no tags)")
        text = event.value
        if len(text) > limits.MOST_TEXT:
            raise self._fatal(event, f"a text of {len(text):,} characters", f"at most {limits.MOST_TEXT:,}")
        control = limits.control_character(text)
        if control is not None:
            # An escape such as \u0000 brings in what the raw text may not hold.
            raise self._fatal(
                event, f"the control character {control}", "printable text, tabs and line breaks"
            )
        value = self._resolve(text, place) if event.implicit[0] else text
        level = self._levels[-1] if self._levels else None
        if level is not None and level.is_map and not level.has_key:
            self._take_key(level, value, text, place)
        else:
            self._put(value, place)

    def _take_key(self, level: _Level, value: Key, text: str, place: Place) -> None:
        if isinstance(value, (bool, float)) or value is None:
            value = text
        if value == "<<":
            raise CaseError(
                [
                    Problem(
                        f"{self.document.name}:{place[0]}:{place[1]}",
                        "",
                        "the merge key <<",
                        "every value written out",
                    )
                ],
                self.document.name,
            )
        level.key, level.key_place, level.has_key = value, place, True
        level.repeated = value in level.container
        if level.repeated:
            first = self.document.key_places.get((id(level.container), value), (1, 1))
            self._problem(
                place, f"the key {shown(value)} a second time", "each key once", f"first on line {first[0]}"
            )

    def _put(self, value: Any, place: Place) -> None:
        if not self._levels:
            self.document.value = value
            return
        level = self._levels[-1]
        if not level.is_map:
            self.document.places[(id(level.container), len(level.container))] = place
            level.container.append(value)
            return
        level.has_key = False
        if level.repeated:
            return
        level.container[level.key] = value
        self.document.places[(id(level.container), level.key)] = place
        self.document.key_places[(id(level.container), level.key)] = level.key_place

    def _resolve(self, text: str, place: Place) -> Any:
        if text in _WORDS:
            return _WORDS[text]
        if _INTEGER.fullmatch(text):
            if len(text) > limits.MOST_DIGITS:
                self._problem(
                    place, f"a number of {len(text):,} digits", f"at most {limits.MOST_DIGITS} digits"
                )
                return None
            if _LEADING_ZERO.fullmatch(text):
                self._problem(
                    place,
                    f"{text}, a number with a leading zero",
                    "a number without leading zeros, or a text in quotes",
                    f'put the id in quotes: "{text}"' if self._is_id() else f'as a text: "{text}"',
                )
                return None
            return int(text)
        if _NUMBER.fullmatch(text):
            number = float(text) if len(text) <= 40 else float("inf")
            if number in (float("inf"), float("-inf")):
                self._problem(
                    place, f"the number {shown(text)}", f"a number of at most {limits.MOST_DIGITS} digits"
                )
                return None
            return number
        if _NOT_FINITE.fullmatch(text) or (self._json and _NOT_FINITE_JSON.fullmatch(text)):
            self._problem(place, text, "a finite number, or nothing where it was not recorded")
            return None
        return text

    def _is_id(self) -> bool:
        return len(self._levels) == 1 and self._levels[0].is_map and self._levels[0].key == "id"


def field_name(path: Path, document: Any = None) -> str:
    """``abutments[14].undercuts_mm.mesial``: a list's entries by their tooth, or ``[#2]`` by count."""
    name = ""
    node = document
    for step in path:
        # under a repeated key the path may lead through the first of the two, which need not be a list too
        if isinstance(node, list) and isinstance(step, int):
            item = child(node, step)
            name += f"[{_entry_name(item, step)}]"
        elif isinstance(step, int):
            name += f"[{step}]"
        else:
            name += f".{shown(step)}" if name else shown(step)
        node = child(node, step)
    return name if len(name) <= _LONGEST_NAME else name[: _LONGEST_NAME - 1] + "…"


def _entry_name(item: Any, step: Key) -> str:
    if isinstance(item, dict):
        tooth = item.get("tooth")
        if isinstance(item.get("id"), str):
            return str(shown(item["id"]))
        if tooth is None and isinstance(item.get("teeth"), list) and item["teeth"]:
            tooth = item["teeth"][0]
        if isinstance(tooth, int):
            return str(tooth)
    return f"#{int(step or 0) + 1}"
