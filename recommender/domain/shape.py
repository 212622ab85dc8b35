"""What may stand where in a document, read off the case model, so that messages never drift from it."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import cache
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

from pydantic.fields import FieldInfo

from recommender.domain.case import Case
from recommender.domain.measures import Interval, Record, ToothNumber

BOUNDS = frozenset(Interval.model_fields)
Kind = Literal["word", "whole", "number", "flag", "text", "tooth", "list", "map", "record", "choice"]


@dataclass(frozen=True, slots=True)
class Shape:
    """One place of the format: ``item`` of a list or map, ``fields`` of a record, ``choices`` if several."""

    kind: Kind
    words: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    pattern: str | None = None
    longest: int | None = None
    key: "Shape | None" = None
    item: "Shape | None" = None
    fields: dict[str, "Shape"] = field(default_factory=dict)
    required: tuple[str, ...] = ()
    model: "type[Record] | None" = None
    choices: tuple["Shape", ...] = ()
    said: str | None = None

    def for_value(self, value: object) -> "Shape":
        """The choice that a value of this type belongs to.

        A mapping with a bound among its keys is an interval; one without is whatever else a mapping may be
        there, and an interval where it may be nothing else.
        """
        if isinstance(value, dict):
            inner = [choice for choice in self.choices if choice.kind in ("map", "record")]
            bounded = not value.keys().isdisjoint(BOUNDS)
            inner.sort(key=lambda choice: choice.is_interval is not bounded)
            if inner:
                return inner[0]
        for choice in self.choices:
            if isinstance(value, list) and choice.kind == "list":
                return choice
        plain = [choice for choice in self.choices if choice.kind not in ("map", "record", "list")]
        return plain[0] if len(plain) == 1 else self

    @property
    def is_interval(self) -> bool:
        """Whether a measured number with its bounds stands here."""
        return self.model is not None and issubclass(self.model, Interval)

    def describe(self) -> str:
        """What is allowed, in words: the description of the field where it has one."""
        if self.said is not None:
            return self.said
        match self.kind:
            case "word":
                return " | ".join(self.words)
            case "flag":
                return "true | false"
            case "tooth":
                return "a tooth number"
            case "whole" | "number":
                return self._describe_number()
            case "text":
                if self.pattern:
                    return f"a text like {self.pattern}"
                return f"a text of at most {self.longest:,} characters" if self.longest else "a text"
            case "list":
                return f"a list of: {self.item.describe()}" if self.item else "a list"
            case "map":
                key = "tooth number" if self.key and self.key.kind == "tooth" else "name"
                return f"a mapping from {key} to: {self.item.describe()}" if self.item else "a mapping"
            case "record" if self.is_interval:
                return "{low, value, high} rising within the same limits"
            case "record":
                return "a mapping with the keys " + ", ".join(self.fields)
            case "choice":
                return ", or ".join(choice.describe() for choice in self.choices)

    def _describe_number(self) -> str:
        what = "a whole number" if self.kind == "whole" else "a number"
        if self.low is not None and self.low == self.high:
            return f"{self.low:g}"
        if self.low is not None and self.high is not None:
            return f"{what} from {self.low:g} to {self.high:g}"
        if self.low is not None:
            return f"{what} of {self.low:g} or more"
        return what if self.high is None else f"{what} of at most {self.high:g}"


def _from(annotation: Any) -> Shape:
    origin = get_origin(annotation)
    if origin is Annotated:
        base, *metadata = get_args(annotation)
        return _refine(_from(base), metadata)
    if origin in (Union, UnionType):
        return _choice([_from(part) for part in get_args(annotation) if part is not type(None)])
    if origin is Literal:
        values = get_args(annotation)
        if all(isinstance(value, int) for value in values):
            return Shape("whole", low=min(values), high=max(values))
        return Shape("word", words=tuple(str(value) for value in values))
    if origin is list:
        return Shape("list", item=_from(get_args(annotation)[0]))
    if origin is dict:
        key, item = get_args(annotation)
        return Shape("map", key=_from(key), item=_from(item))
    if isinstance(annotation, type) and issubclass(annotation, Record):
        return record_shape(annotation)
    plain: dict[Any, Kind] = {bool: "flag", int: "whole", float: "number", str: "text"}
    return Shape(plain[annotation])


def _refine(shape: Shape, metadata: Iterable[Any]) -> Shape:
    for mark in metadata:
        if isinstance(mark, ToothNumber):
            shape = replace(shape, kind="tooth")
        elif isinstance(mark, FieldInfo):
            shape = _refine(replace(shape, said=mark.description or shape.said), mark.metadata)
        else:
            low, high = getattr(mark, "ge", None), getattr(mark, "le", None)
            pattern, longest = getattr(mark, "pattern", None), getattr(mark, "max_length", None)
            shape = replace(
                shape,
                low=shape.low if low is None else low,
                high=shape.high if high is None else high,
                pattern=pattern or shape.pattern,
                longest=longest or shape.longest,
            )
    return shape


def _choice(shapes: list[Shape]) -> Shape:
    words = tuple(word for shape in shapes if shape.kind == "word" for word in shape.words)
    if len(shapes) > 1 and all(shape.kind == "word" for shape in shapes):
        return Shape("word", words=words)
    return shapes[0] if len(shapes) == 1 else Shape("choice", choices=tuple(shapes))


@cache
def record_shape(model: type[Record]) -> Shape:
    """The shape of one of the case's records, or of another model that is a ``Record``."""
    hints = get_type_hints(model, include_extras=True)
    return Shape(
        "record",
        fields={name: _from(hints[name]) for name in model.model_fields},
        required=tuple(name for name, info in model.model_fields.items() if info.is_required()),
        model=model,
    )


@cache
def case_shape() -> Shape:
    """The shape of a whole case."""
    return record_shape(Case)


def shape_at(path: Iterable[object], value: object, root: Shape | None = None) -> Shape | None:
    """The shape at a path of a document (of a case, unless ``root`` says of what), choosing among alternatives by
    what stands there."""
    shape: Shape | None = case_shape() if root is None else root
    node: Any = value
    for step in path:
        if shape is not None and shape.kind == "choice":
            shape = shape.for_value(node)
        if shape is None:
            return None
        shape = shape.fields.get(str(step)) if shape.kind == "record" else shape.item
        try:
            node = node[step]
        except (KeyError, IndexError, TypeError):
            node = None
    return shape


def declared(path: Iterable[object]) -> Shape | None:
    """The shape at a path of the format, whatever stands in a case; ``None`` for no path of it."""
    shape: Shape | None = case_shape()
    for step in path:
        if shape is not None and shape.kind == "choice":
            shape = shape.for_value({})
        if shape is None or shape.is_interval:
            return None
        shape = shape.fields.get(step) if isinstance(step, str) and shape.kind == "record" else shape.item
    return shape


def single(shape: Shape | None) -> Shape | None:
    """Of several forms that may stand in a place, the one that is a single value."""
    if shape is None or shape.kind != "choice":
        return shape
    plain = [choice for choice in shape.choices if choice.kind not in ("record", "map", "list")]
    return plain[0] if plain else None
