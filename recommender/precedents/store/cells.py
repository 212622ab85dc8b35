"""A case as one row of a spreadsheet, and back, without loss.

A column is named by its path: ``patient.age``, ``abutments[1].undercuts_mm.mesial``,
``prescription.retainers.14``; entries of a list count from 1. A list of words or numbers stands in one cell
(``15, 16``). An empty cell is not recorded; ``[]`` and ``{}`` are a recorded "none". A text that a
spreadsheet would take for a formula (it begins with ``= + - @``, a tab or a line break) gets an apostrophe in
front, which reading takes off again; so does one that begins with an apostrophe, or is empty. A measured number
that is an interval takes three columns: ``…_low``, the number itself, ``…_high``.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from recommender.domain.shape import BOUNDS, Shape, case_shape, single

_RISKY = tuple("=+-@\t\r\n'＝＋－＠")
_TOKEN = re.compile(r"\.?([A-Za-z_][A-Za-z0-9_]{0,60}|\d{1,3})|\[(\d{1,3})\]")
_WHOLE = re.compile(r"[+-]?\d{1,15}")
_NUMBER = re.compile(r"[+-]?(\d{1,15}(\.\d{0,20})?|\.\d{1,20})([eE][+-]?\d{1,3})?")
_FLAGS = {"true": True, "yes": True, "false": False, "no": False}
_SPLIT = re.compile(r"\s*[,;]\s*|\s+")
MOST_DEPTH = 8
_MOST_ENTRIES = 999  # of a list, each with columns of its own

Step = str | int


class CellError(ValueError):
    """A cell or a column name that cannot be read: what was found, what is allowed, a hint."""

    def __init__(self, found: str, allowed: str, hint: str = "") -> None:
        super().__init__(f"found {found}; allowed {allowed}")
        self.found, self.allowed, self.hint = found, allowed, hint


@dataclass(frozen=True, slots=True)
class Place:
    """A column that is understood: its steps (an ``int`` is an entry of a list, from 1) and what its cells
    may hold. ``bound`` tells a bound of an interval (``low`` or ``high``) from the value itself.
    """

    path: str
    steps: tuple[Step, ...]
    shape: Shape
    bound: str = "value"


# out


def guarded(text: str) -> str:
    """A text that no spreadsheet takes for a formula."""
    return f"'{text}" if not text or text.startswith(_RISKY) else text


def to_cells(data: Mapping[str, Any]) -> dict[str, str]:
    """The cells of a case given as plain values, by column name, in the order of the format."""
    return {path: _cell(value) for path, value in _leaves(data, "")}


def _leaves(value: Any, path: str) -> Iterator[tuple[str, Any]]:
    if isinstance(value, Mapping) and value.keys() == BOUNDS:
        yield f"{path}_low", value["low"]
        yield path, value["value"]
        yield f"{path}_high", value["high"]
    elif isinstance(value, Mapping) and value:
        for key, inner in value.items():
            yield from _leaves(inner, f"{path}.{key}" if path else str(key))
    elif isinstance(value, list) and any(isinstance(item, (dict, list)) for item in value):
        for count, inner in enumerate(value, start=1):
            yield from _leaves(inner, f"{path}[{count}]")
    else:
        yield path, value


def _cell(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, str):
        return guarded(value)
    if isinstance(value, list):
        return ", ".join(str(item) for item in value) if value else "[]"
    return "{}"


# in


@lru_cache(maxsize=20_000)
def place(path: str) -> Place:
    """What a column name means. Raises ``CellError`` for a name that the case format does not know."""
    stem, _, bound = path.rpartition("_")
    if stem and bound in ("low", "high"):
        try:
            whole = place(stem)
        except CellError:
            raise _unknown(path) from None
        within = next((choice for choice in whole.shape.choices if choice.is_interval), None)
        if within is None:
            raise _unknown(path)
        return Place(path, whole.steps, within.fields[bound], bound)
    steps: list[Step] = []
    position = 0
    while position < len(path) and len(steps) <= MOST_DEPTH:
        token = _TOKEN.match(path, position)
        if token is None:
            break
        steps.append(int(token.group(2)) if token.group(2) else token.group(1))
        position = token.end()
    if position < len(path) or not steps:
        raise _unknown(path)
    shape = case_shape()
    if path == "numbering":
        return Place(path, ("numbering",), Shape("word", words=("iso", "universal")))
    for step in steps:
        inner = _inside(shape, step)
        if inner is None:
            raise _unknown(path)
        shape = inner
    if _holds_records(shape) and shape.kind == "list":
        return Place(path, tuple(steps), Shape("list"))
    return Place(path, tuple(steps), shape)


def _holds_records(shape: Shape) -> bool:
    return shape.item is not None and shape.item.kind in ("record", "map", "list")


def _inside(shape: Shape, step: Step) -> Shape | None:
    options = shape.choices if shape.kind == "choice" else (shape,)
    for option in options:
        if isinstance(step, int):
            if option.kind == "list" and 1 <= step <= _MOST_ENTRIES:
                return option.item
        elif option.kind == "record" and step in option.fields:
            return option.fields[step]
        elif option.kind == "map" and step.isdigit():
            return option.item
    return None


def _unknown(path: str) -> CellError:
    from recommender.domain.errors import did_you_mean, shown

    return CellError(
        f"the column {shown(path)}",
        "a field of the case format (patient.age, abutments[1].tooth, …), or mapped, or left out",
        did_you_mean(path, known_paths()),
    )


@lru_cache(maxsize=1)
def known_paths() -> tuple[str, ...]:
    """Column names of the format, first entry of each list, for suggestions."""

    def walk(shape: Shape, path: str) -> Iterator[str]:
        if shape.kind == "record":
            for name, inner in shape.fields.items():
                yield from walk(inner, f"{path}.{name}" if path else name)
        elif shape.kind == "list" and shape.item is not None and _holds_records(shape):
            yield from walk(shape.item, f"{path}[1]")
        elif shape.kind == "choice":
            yield path
            for choice in shape.choices:
                if choice.is_interval:
                    yield from (f"{path}_low", f"{path}_high")
                elif choice.kind == "record":
                    yield from walk(choice, path)
        else:
            yield path

    return tuple(walk(case_shape(), ""))


def value(cell: str, shape: Shape) -> Any:
    """What a cell says. Raises ``CellError`` where it says nothing that the field can hold."""
    if shape.kind == "text":
        return cell[1:] if cell.startswith("'") and (len(cell) == 1 or cell[1:].startswith(_RISKY)) else cell
    text = cell.strip()
    match shape.kind:
        case "flag":
            if text.lower() not in _FLAGS:
                raise CellError(f'"{text}"', "true | false | yes | no")
            return _FLAGS[text.lower()]
        case "whole" | "tooth" | "number":
            return _number(text, shape)
        case "list":
            return _list(text, shape)
        case "record" | "map":
            if text != "{}":
                raise CellError(f'"{text}"', "{} here, or one column for each entry")
            return {}
        case "choice":
            if text == "{}":
                return {}
            plain = single(shape)
            if plain is not None and any(choice.is_interval for choice in shape.choices):
                return _number(text, plain)
            return _number(text, shape) if _NUMBER.fullmatch(text) else text
    return text


def _number(text: str, shape: Shape) -> int | float:
    if _WHOLE.fullmatch(text):
        return int(text)
    if not _NUMBER.fullmatch(text):
        hint = (
            "write the number alone, its unit is part of the column's name"
            if re.match(r"[\d.,]+\s*\D+$", text)
            else ""
        )
        hint = "write decimals with a point" if re.fullmatch(r"\d+,\d+", text) else hint
        raise CellError(f'"{text}"', shape.describe(), hint)
    number = float(text)
    return int(number) if shape.kind in ("whole", "tooth") and number.is_integer() else number


def _list(text: str, shape: Shape) -> list[Any]:
    if text == "[]":
        return []
    if shape.item is None:
        raise CellError(f'"{text}"', "[] here, or one column for each part of each entry")
    inner = text[1:-1] if text.startswith("[") and text.endswith("]") else text
    return [value(part, shape.item) for part in _SPLIT.split(inner.strip()) if part]


def from_cells(cells: Mapping[str, Any]) -> dict[str, Any]:
    """Plain values of a case from values by column name.

    Raises ``CellError`` where two columns contradict.
    """
    root: dict[Step, Any] = {}
    for path, cell in _intervals(cells).items():
        node = root
        steps = place(path).steps
        for step in steps[:-1]:
            inner = node.setdefault(step, {})
            if not isinstance(inner, dict):
                raise CellError(
                    f"the column {path} and a column for a whole of which it is a part", "one or the other"
                )
            node = inner
        if steps[-1] in node:
            raise CellError(f"the column {path} and columns for its parts", "one or the other")
        node[steps[-1]] = cell
    data: dict[str, Any] = _lists(root)
    return data


def _intervals(cells: Mapping[str, Any]) -> dict[str, Any]:
    """The cells with each interval gathered from its three columns into the one of its value.

    Raises ``CellError`` where one of the three is lacking.
    """
    bounds: dict[str, dict[str, Any]] = {}
    whole: dict[str, Any] = {}
    for path, cell in cells.items():
        bound = place(path).bound
        if bound == "value":
            whole[path] = cell
        else:
            bounds.setdefault(path.removesuffix(f"_{bound}"), {})[bound] = cell
    for path, ends in bounds.items():
        lacking = [name for name in ("low", "high") if name not in ends]
        columns = ([] if path in whole else [path]) + [f"{path}_{name}" for name in lacking]
        if columns:
            raise CellError(
                f"an interval without its {' and '.join(columns)}",
                f"all of {path}_low, {path} and {path}_high",
            )
        whole[path] = {"low": ends["low"], "value": whole[path], "high": ends["high"]}
    return whole


def _lists(node: Any) -> Any:
    if not isinstance(node, dict):
        return node
    if node and all(isinstance(step, int) for step in node):
        return [_lists(node[step]) for step in sorted(node)]
    # a tooth number is a key of its own kind, as in a file
    return {int(step) if str(step).isdigit() else step: _lists(inner) for step, inner in node.items()}
