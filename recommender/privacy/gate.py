"""The gate: everything that a person typed, of a case or beside it, is looked at before a library keeps it.

A hit is a warning that somebody has to look at; it is never proof. ``mark`` names a very text at its place, so that
somebody who looked at it need not do so again until it changes.
"""

import hashlib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from recommender.domain.case import Case
from recommender.domain.shape import Shape, case_shape
from recommender.privacy.found import LABELS, Found
from recommender.privacy.recogniser import look


@dataclass(frozen=True, slots=True)
class Hit:
    """A text that may identify a patient: its field, where in it (characters from 0), its kind, and the words."""

    field: str
    start: int
    end: int
    kind: str
    found: str
    mark: str

    @property
    def label(self) -> str:
        """The kind in words."""
        return LABELS[self.kind]

    def __str__(self) -> str:
        return f"{self.field}, character {self.start + 1}: {self.label} ({self.found!r})"


def hits(case: Case, data: Mapping[str, Any] | None = None) -> list[Hit]:
    """Every hit in the texts and in the id of a case; ``data`` is its plain form, where it is at hand."""
    if data is None:
        data = case.model_dump(mode="json", exclude_none=True)
    return hits_in(data)


def hits_in(data: Mapping[str, Any]) -> list[Hit]:
    """Every hit in the plain form of a case."""
    found = []
    for field, text in texts(data):
        for one in look_at_name(text) if field == "id" else look(text):
            found.append(Hit(field, one.start, one.end, one.kind, one.words, mark(field, text)))
    return found


def mark(field: str, text: str) -> str:
    """Identifies this very text at this place."""
    return hashlib.sha256(f"{field}\x1f{text}".encode()).hexdigest()


def texts(data: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Every text that a person typed freely, as (field, text), the id first."""
    if isinstance(data.get("id"), str):
        yield "id", data["id"]
    yield from _texts(case_shape(), data, "")


def _texts(shape: Shape, value: Any, path: str) -> Iterator[tuple[str, str]]:
    if shape.kind == "choice":
        shape = shape.for_value(value)
    if isinstance(value, dict):
        for key, inner in value.items():
            below = shape.fields.get(key) if shape.kind == "record" else shape.item
            if below is not None and _may_hold_text(below) and (path or key != "id"):
                yield from _texts(below, inner, f"{path}.{key}" if path else key)
    elif isinstance(value, list) and shape.item is not None:
        for count, inner in enumerate(value, start=1):
            yield from _texts(shape.item, inner, f"{path}[#{count}]")
    elif isinstance(value, str) and shape.kind == "text":
        yield path, value


_HOLDS: dict[int, tuple[Shape, bool]] = {}


def _may_hold_text(shape: Shape) -> bool:
    """Whether a text may stand at or below this place; most of the format is numbers and closed words."""
    known = _HOLDS.get(id(shape))
    if known is None:
        inner = (*shape.fields.values(), *shape.choices, *((shape.item,) if shape.item is not None else ()))
        known = _HOLDS[id(shape)] = shape, shape.kind == "text" or any(_may_hold_text(each) for each in inner)
    return known[1]


def look_at_name(text: str) -> tuple[Found, ...]:
    """Hits in an id or an alias: as it stands, and its parts read as words with capitals."""
    found = look(text.replace("_", "-")) if len(text) > 4 else ()
    found = found or look(_words_in(text))
    return tuple(Found(0, len(text), one.kind, one.words) for one in found[:1])


def _words_in(text: str) -> str:
    """The words of an id, without its digits: ``annaSchmidt-2`` as ``Anna Schmidt``."""
    apart = re.sub(r"(?<=[a-zß-ÿ])(?=[A-Z])", " ", text)
    return re.sub(r"[^\w]+|[\d_]+", " ", apart).strip().title()


def first_in(text: str) -> Found | None:
    """The first hit in a reason, note or the like; ``None`` where nobody could be identified."""
    return next(iter(look(text)), None)
