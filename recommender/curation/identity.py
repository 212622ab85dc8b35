"""Looks through the free text of a case for what may identify a patient.

A hit is a warning with its place. It blocks approval until somebody has looked at that very text: a text that
is changed afterwards has to be looked at again. Patterns stand in ``shared/curation/identity.yaml``.
"""

import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from sqlalchemy import insert, select

from recommender.domain.case import Case
from recommender.domain.shape import Shape, case_shape
from recommender.precedents.store.documents import as_data
from recommender.precedents.store.errors import UnfitText
from recommender.precedents.store.library import Library, checked_who
from recommender.precedents.store.records import now
from recommender.precedents.store.schema import looked
from recommender.resources import shared


@dataclass(frozen=True, slots=True)
class Pattern:
    """One kind of text that may identify somebody."""

    id: str
    label: str
    pattern: re.Pattern[str]


@dataclass(frozen=True, slots=True)
class Hit:
    """A text that may identify a patient: its field, where in the field (characters from 0), and what kind it
    is.

    ``mark`` identifies this very text at this place.
    """

    field: str
    start: int
    end: int
    kind: str
    label: str
    found: str
    mark: str

    def __str__(self) -> str:
        return f"{self.field}, character {self.start + 1}: {self.label} ({self.found!r})"


@cache
def patterns() -> tuple[Pattern, ...]:
    """The patterns of ``shared/curation/identity.yaml``."""
    import yaml

    data = yaml.safe_load(shared("curation", "identity.yaml").read_text(encoding="utf-8"))
    return tuple(
        Pattern(
            entry["id"],
            entry["label"],
            re.compile(entry["pattern"], 0 if entry.get("exact") else re.IGNORECASE),
        )
        for entry in data["patterns"]
    )


def scan_text(text: str) -> list[tuple[int, int, Pattern]]:
    """Places in a text that may identify somebody, each place once, the earliest first."""
    found: list[tuple[int, int, Pattern]] = []
    for pattern in patterns():
        for match in pattern.pattern.finditer(text):
            if all(match.start() >= end or match.end() <= start for start, end, _ in found):
                found.append((match.start(), match.end(), pattern))
    return sorted(found, key=lambda hit: hit[:2])


def scan(case: Case) -> list[Hit]:
    """Every hit in the free text of a case, and in its id."""
    hits = []
    for field, text in free_texts(case):
        mark = hashlib.sha256(f"{field}\x1f{text}".encode()).hexdigest()
        hits += [
            Hit(field, start, end, pattern.id, pattern.label, text[start:end], mark)
            for start, end, pattern in scan_text(text)
        ]
    return hits


def scan_lines(case: Case) -> list[str]:
    """The hits as lines, as import wants them."""
    return [str(hit) for hit in scan(case)]


def free_texts(case: Case) -> Iterator[tuple[str, str]]:
    """Every text that a person typed freely, as (field, text); the id among them, with - and _ read as
    spaces.
    """
    yield "id", re.sub(r"[-_]", " ", case.id)
    yield from _texts(case_shape(), as_data(case), "")


def _texts(shape: Shape, value: Any, path: str) -> Iterator[tuple[str, str]]:
    if shape.kind == "choice":
        shape = shape.for_value(value)
    if isinstance(value, dict):
        for key, inner in value.items():
            below = shape.fields.get(key) if shape.kind == "record" else shape.item
            if below is not None and (path or key != "id"):
                yield from _texts(below, inner, f"{path}.{key}" if path else key)
    elif isinstance(value, list) and shape.item is not None:
        for count, inner in enumerate(value, start=1):
            yield from _texts(shape.item, inner, f"{path}[#{count}]")
    elif isinstance(value, str) and shape.kind == "text":
        yield path, value


def unseen(library: Library, case: Case) -> list[Hit]:
    """Hits that nobody has looked at yet."""
    with library.reading() as connection:
        seen = set(connection.scalars(select(looked.c.mark).where(looked.c.case_id == case.id)))
    return [hit for hit in scan(case) if hit.mark not in seen]


def look_at(library: Library, case_id: str, *, who: str, note: str) -> list[Hit]:
    """Records that somebody looked at every hit of the latest version and found no patient in it.

    Returns the hits concerned. Raises ``UnfitText`` without a note, ``NoSuchCase`` for an unknown id.
    """
    if not note.strip():
        raise UnfitText("say in a few words why these texts identify nobody")
    hits = unseen(library, library.get(case_id).case)
    rows = {
        hit.mark: {"case_id": case_id, "mark": hit.mark, "who": checked_who(who), "at": now(), "note": note}
        for hit in hits
    }
    if rows:
        with library.writing() as connection:
            connection.execute(insert(looked), list(rows.values()))
    return hits


def checked_reason(text: str) -> str:
    """A reason or note, as it goes into the history. Raises ``UnfitText`` where it may identify somebody."""
    hits = scan_text(text)
    if hits:
        start, end, pattern = hits[0]
        raise UnfitText(f"the reason holds {pattern.label} ({text[start:end]!r}); write it without")
    return text
