"""What the columns of a table mean: mapped by hand, named as in the case format, or guessed from the trade's words."""

import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

from recommender.domain.errors import shown
from recommender.domain.lexicon import document, guess_heading, kind_of, lookup, spoken, words_of
from recommender.precedents.store import cells
from recommender.precedents.store.importing.register_words import beside
from recommender.precedents.store.importing.rows import BadSource
from recommender.precedents.store.importing.tables import MOST_COLUMNS, Cells

LEAVE_OUT = "-"
REASON = "why it was not brought in"  # the column that a file of rejected rows has besides its own
NEEDED = ("id", "arch", "missing")

Group = Literal["plain", "map", "abutment", "span", "assembly"]
_ABUTMENT = re.compile(r"(abutments|spans)\.(?:(\d{1,2})\.)?([a-z][a-z_.0-9]*)")
_PATH = re.compile(r"[a-z_]+(?:[.\[][a-z_0-9\].\[]*)+")
_NUMBERED = re.compile(r"(?:\.\d{1,2}|\[\d{1,3}\])(?=\.|$)")
_MAPS = tuple(
    f"{part}.{name}" for part in ("prescription", "design") for name in ("retainers", "rests", "replacements")
)


@dataclass(frozen=True, slots=True)
class Target:
    """A field that a column serves. ``base``: its path without teeth; ``tooth``: the tooth that the column is about,
    as the table numbers it. ``group``: how its cells are read (of a tooth, a space, or several)."""

    path: str
    base: str
    group: Group
    place: cells.Place
    tooth: int | None = None

    @property
    def kind(self) -> str:
        """The kind of its words in the lexicon; empty for texts and numbers."""
        return kind_of(self.base)


@dataclass(frozen=True, slots=True)
class Column:
    """A column and the fields that it serves; ``left_out`` says why it serves none, ``guessed`` that nobody has
    confirmed it."""

    name: str
    targets: tuple[Target, ...] = ()
    left_out: str = ""
    guessed: bool = False

    @property
    def meaning(self) -> str:
        """As it is mapped."""
        return ", ".join(target.path for target in self.targets) or LEAVE_OUT


@dataclass(frozen=True, slots=True)
class Columns:
    """The heading row of a table, understood."""

    columns: tuple[Column, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """The headings as they stand."""
        return tuple(column.name for column in self.columns)

    @property
    def guessed(self) -> dict[str, str]:
        """What was guessed: field by heading."""
        return {one.name: one.meaning for one in self.columns if one.guessed}

    @property
    def not_read(self) -> list[str]:
        """Every column that is not read, and why."""
        return [
            f"{one.name!r}: {one.left_out}" for one in self.columns if one.left_out and one.name != REASON
        ]


def digest_of(names: Sequence[str]) -> str:
    """Tells one kind of table from another, so that a mapping is found again; the column of reasons does not count."""
    return hashlib.sha256("\x1f".join(name for name in names if name != REASON).encode()).hexdigest()


def heading_row(name: str, first: Cells) -> tuple[str, ...]:
    """The headings of a table. Raises ``BadSource``."""
    names = tuple(str(cell).strip() if cell is not None else "" for cell in first)
    while names and not names[-1]:
        names = names[:-1]
    if len(names) > MOST_COLUMNS:
        raise BadSource(f"{name}:1: {len(names):,} columns; allowed at most {MOST_COLUMNS:,}")
    named = [one for one in names if one]
    doubled = sorted({one for one in named if named.count(one) > 1})
    if doubled:
        raise BadSource(
            f"{name}:1: the heading {shown(doubled[0])} stands there twice; give each column its own"
        )
    if not named:
        raise BadSource(f"{name}:1: no headings; the first row names the columns")
    return names


def target(path: str) -> Target:
    """The field of that path. ``abutments.14.mobility`` is of a tooth, ``abutments.mobility`` of those that the row
    names. Raises ``CellError``."""
    path = path.strip()
    match = _ABUTMENT.fullmatch(path)
    if match is not None:
        part, tooth, rest = match.groups()
        place = cells.place(f"{part}[1].{rest}")
        group: Group = "abutment" if part == "abutments" else "span"
        return Target(path, f"{part}.{rest}", group, place, int(tooth) if tooth else None)
    if path == "design.retainers":
        return Target(path, path, "assembly", cells.place("design.retainers[1].assembly"))
    place = cells.place(path)
    if path in _MAPS and place.shape.kind == "map" and place.shape.item is not None:
        return Target(path, path, "map", cells.place(f"{path}.14"))
    return Target(path, _NUMBERED.sub("", path), "plain", place)


def guess(name: str) -> Target | str | None:
    """The field that a heading seems to name; a text says why such a column is left out; ``None`` for neither."""
    if _PATH.fullmatch(name):
        return None  # meant as a field and misspelt: the hint says which
    words = words_of(name)
    reason = _left_out().get(words)
    if reason is not None:
        return reason
    zones = {word: zone for word in words if (zone := lookup("zone", word)) is not None and len(word) > 1}
    found = guess_heading(name) if not zones else None
    if found is None or not found.exact:
        plain = [word for word in words if word not in beside() and word not in zones] or list(words)
        found = guess_heading(" ".join(plain)) or found
    if found is None:
        return None
    if found.path == "identity":
        return "may identify a patient"
    path = found.path
    if path.startswith(("abutments.", "spans.")) and found.number is not None:
        part, rest = path.split(".", 1)
        path = f"{part}.{found.number}.{rest}"
    elif path in _MAPS and found.number is not None:
        path = f"{path}.{found.number}"
    if path.endswith(".undercuts_mm"):
        if len(set(zones.values())) != 1:
            return None
        path = f"{path}.{next(iter(zones.values()))}"
    try:
        return target(path)
    except cells.CellError:
        return None


@cache
def _left_out() -> dict[tuple[str, ...], str]:
    return {
        words_of(phrase): str(reason)
        for reason, entry in document("register")["left_out"].items()
        for _, phrase in spoken(entry)
    }


def understand(
    name: str, names: Sequence[str], mapping: Mapping[str, str], *, guessing: bool = False, rest: bool = False
) -> Columns:
    """What every column means: as it is mapped (``-`` leaves it out; several fields apart by commas), else its own name
    as a field, else, with ``guessing``, what its words say. ``rest``: leave out what is not understood.

    Raises ``BadSource`` with every column that is not understood.
    """
    found: list[Column] = []
    wrong: list[str] = []
    for number, heading in enumerate(names, start=1):
        try:
            found.append(_column(heading, mapping, guessing))
        except cells.CellError as error:
            seems = guess(heading)
            hint = error.hint
            if isinstance(seems, Target):
                hint = f"it seems to be {seems.path}: --map '{heading}={seems.path}', or --guess for all such"
            elif isinstance(seems, str):
                hint = f"{seems}: --ignore '{heading}', or --guess for all such"
            if rest and heading not in mapping:
                found.append(Column(heading, left_out="not understood"))
            else:
                wrong.append(f"{name}:1:{number}: {error}{f' ({hint})' if hint else ''}")
    if wrong:
        raise BadSource("\n".join(wrong[:50]))
    columns = Columns(tuple(_once(found)))
    taken = [one.path for column in columns.columns for one in column.targets]
    twice = sorted({path for path in taken if taken.count(path) > 1})
    if twice:
        raise BadSource(f"{name}:1: two columns both mean {twice[0]}; leave one out")
    for needed in NEEDED:
        if needed not in taken:
            raise BadSource(
                f"{name}:1: no column means {needed}; map one, for example --map 'Case number={needed}'"
            )
    return columns


def _column(heading: str, mapping: Mapping[str, str], guessing: bool) -> Column:
    if not heading:
        return Column(heading, left_out="no heading")
    if heading == REASON:
        return Column(heading, left_out="says why a row was rejected")
    meant = mapping.get(heading)
    if meant == LEAVE_OUT:
        return Column(heading, left_out="left out by the mapping")
    if meant is not None:
        return Column(heading, tuple(target(path) for path in meant.split(",")))
    try:
        return Column(heading, (target(heading),))
    except cells.CellError:
        if not guessing:
            raise
    found = guess(heading)
    if found is None:
        return Column(heading, left_out="not understood", guessed=True)
    if isinstance(found, str):
        return Column(heading, left_out=found, guessed=True)
    return Column(heading, (found,), guessed=True)


def _once(columns: Sequence[Column]) -> list[Column]:
    """Of several columns that are guessed to mean the same only the first stays, and none beside one that is sure."""
    taken = {one.path for column in columns if not column.guessed for one in column.targets}
    found = []
    for column in columns:
        if column.guessed and any(one.path in taken for one in column.targets):
            column = Column(column.name, left_out=f"another column means {column.meaning}", guessed=True)
        taken |= {one.path for one in column.targets}
        found.append(column)
    return found
