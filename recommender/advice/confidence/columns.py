"""A fact in every world: its distinct forms, and which world has which.

A fact that nothing unrecorded can touch has one form and no codes. Whatever is worked out from several columns is
worked out once for each combination that occurs, by the very functions that work facts out for a case, and kept for
the next place with the same forms.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from math import prod
from typing import Generic, TypeVar

import numpy as np
import numpy.typing as npt

from recommender.facts.values import UNKNOWN, Fact
from recommender.mechanics.figures import remembered

Codes = npt.NDArray[np.intp]
Levels = npt.NDArray[np.int8]
NONE: frozenset[str] = frozenset()
T = TypeVar("T")
_MOST_KEPT = 20_000


@dataclass(frozen=True, slots=True, eq=False)
class Column:
    """``forms[codes[w]]`` in world ``w``; ``codes`` is ``None`` where there is one form only. ``fields`` are the
    drawn fields behind it."""

    forms: tuple[Fact, ...]
    codes: Codes | None = None
    fields: frozenset[str] = NONE

    @property
    def first(self) -> Fact:
        """The form of a fact that is the same in every world."""
        return self.forms[0]


def constant(fact: Fact) -> Column:
    """A fact that is the same in every world."""
    return Column((fact,))


def _identity(fact: Fact) -> tuple[object, ...]:
    return fact.value, fact.low, fact.high, fact.possible


def _identity_with_type(fact: Fact) -> tuple[object, ...]:
    """Tells ``True`` from 1 as well."""
    return type(fact.value), fact.value, fact.low, fact.high, fact.possible, fact.within_bounds


def interned(forms: tuple[Fact, ...]) -> tuple[Fact, ...]:
    """The same tuple for the same forms, so that what was worked out of them is found again."""
    kept: dict[tuple[object, ...], tuple[Fact, ...]] = _interned()
    if len(kept) > _MOST_KEPT:
        kept.clear()
    return kept.setdefault(tuple(map(_identity_with_type, forms)), forms)


@remembered(1)
def _interned() -> dict[tuple[object, ...], tuple[Fact, ...]]:
    return {}


class Kept(Generic[T]):
    """Results by what they were made of, kept from case to case, apart for each set of figures in force.

    A key names the function and the forms of its columns; forms are told by identity, so each entry keeps its own
    alive. When it is full everything is forgotten.
    """

    def __init__(self, most: int = _MOST_KEPT) -> None:
        self.most = most
        self.of_figures: Callable[[], dict[tuple[object, ...], tuple[T, object]]] = remembered(1)(dict)

    def get(self, key: tuple[object, ...]) -> T | None:
        """What was made of it before."""
        found = self.of_figures().get(key)
        return None if found is None else found[0]

    def put(self, key: tuple[object, ...], made: T, alive: object) -> T:
        """Keep a result; ``alive`` are the things that the key tells by identity."""
        kept = self.of_figures()
        if len(kept) > self.most:
            kept.clear()
        kept[key] = made, alive
        return made


def key_of(columns: Sequence[Column]) -> tuple[object, ...]:
    """What tells the forms of some columns from others: by identity where they vary."""
    return tuple(
        _identity_with_type(column.forms[0]) if column.codes is None else id(column.forms)
        for column in columns
    )


def merged(forms: Sequence[Fact], codes: Codes, fields: frozenset[str]) -> Column:
    """A column whose equal forms are one."""
    return _column(_merged(forms), codes, fields)


Merged = tuple[tuple[Fact, ...], Codes | None]


def _merged(forms: Sequence[Fact]) -> Merged:
    """The forms that differ, and the place of each form among them (``None`` where all differ)."""
    places: dict[tuple[object, ...], int] = {}
    kept: list[Fact] = []
    to: list[int] = []
    for form in forms:
        key = _identity(form)
        place = places.get(key)
        if place is None:
            place = places[key] = len(kept)
            kept.append(form)
        to.append(place)
    if len(kept) == len(forms) > 1:
        return interned(tuple(forms)), None
    return (interned(tuple(kept)) if len(kept) > 1 else tuple(kept)), np.array(to, dtype=np.intp)


def _column(made: Merged, codes: Codes, fields: frozenset[str]) -> Column:
    forms, to = made
    if len(forms) == 1:
        return Column(forms)
    return Column(forms, codes if to is None else to[codes], fields)


def joint(columns: Sequence[Codes], sizes: Sequence[int]) -> tuple[Codes, list[tuple[int, ...]]]:
    """One code for each combination that occurs, and the combinations."""
    inverse, found = occurring(columns, sizes)
    return inverse, combinations(found, sizes)


def occurring(columns: Sequence[Codes], sizes: Sequence[int]) -> tuple[Codes, Codes]:
    """One code for each combination that occurs, and the combinations as numbers."""
    whole = columns[0]
    for codes, size in zip(columns[1:], sizes[1:], strict=True):
        whole = whole * size + codes
    most = prod(sizes)
    if most <= 8192:
        present = np.zeros(most, dtype=bool)
        present[whole] = True
        found = np.flatnonzero(present)
        place = np.zeros(most, dtype=np.intp)
        place[found] = np.arange(len(found))
        return place[whole], found
    found, inverse = np.unique(whole, return_inverse=True)
    return inverse, found


def combinations(found: Codes, sizes: Sequence[int]) -> list[tuple[int, ...]]:
    """Numbers of combinations as places in each part."""
    apart = []
    for code in found.tolist():
        parts = []
        for size in reversed(sizes[1:]):
            code, part = divmod(code, size)
            parts.append(part)
        apart.append((code, *reversed(parts)))
    return apart


_MADE: Kept[Merged] = Kept()
_COLUMNS: "Kept[Column]" = Kept(6000)


def same(columns: Sequence[Column]) -> tuple[object, ...]:
    """What tells some columns from others: by identity where they vary."""
    return tuple(
        _identity_with_type(column.forms[0]) if column.codes is None else id(column) for column in columns
    )


def kept_column(how: object, columns: Sequence[Column], make: Callable[[], Column]) -> Column:
    """What ``make`` gives, or what it gave of the same columns: fields that nothing recorded bears on have the same
    columns in every case. ``how`` names what it does, with all besides the columns that it depends on."""
    if all(column.codes is None for column in columns):
        return make()
    key = (how, *same(columns))
    found = _COLUMNS.get(key)
    return _COLUMNS.put(key, make(), columns) if found is None else found


def combine(make: Callable[..., Fact], *columns: Column, how: object = None) -> Column:
    """``make`` of the facts of these columns, in every world.

    ``how`` names what ``make`` does, with everything besides its arguments that it depends on; what was made of the
    same forms in the same way is then taken over.
    """
    if how is None:
        return _combined(make, columns, None)
    return kept_column(how, columns, lambda: _combined(make, columns, how))


def _combined(make: Callable[..., Fact], columns: Sequence[Column], how: object) -> Column:
    varying = [column for column in columns if column.codes is not None]
    if not varying:
        return Column((make(*(column.forms[0] for column in columns)),))
    fields = NONE.union(*(column.fields for column in varying))
    many = [column.codes for column in varying if column.codes is not None]
    sizes = [len(column.forms) for column in varying]
    codes, found = (many[0], None) if len(varying) == 1 else occurring(many, sizes)
    key = (how, *key_of(columns), None if found is None else found.tobytes())
    made = None if how is None else _MADE.get(key)
    if made is None:
        at = [i for i, column in enumerate(columns) if column.codes is not None]
        given = [column.forms[0] for column in columns]
        forms: list[Fact] = []
        for combination in [(i,) for i in range(sizes[0])] if found is None else combinations(found, sizes):
            for i, place in zip(at, combination, strict=True):
                given[i] = columns[i].forms[place]
            forms.append(make(*given))
        made = _merged(forms)
        if how is not None:
            _MADE.put(key, made, [column.forms for column in varying])
    return _column(made, codes, fields)


def fold(make: Callable[[Fact, Fact], Fact], columns: Sequence[Column], how: object = None) -> Column:
    """``make`` of pairs, one column after another: for what may be gathered in steps, such as a largest."""
    found = columns[0]
    for column in columns[1:]:
        found = combine(make, found, column, how=how)
    return found


class Truths:
    """The truth of one condition in every world, with the drawn fields behind it. ``levels`` is one number where it
    is the same everywhere."""

    __slots__ = ("fields", "levels")

    def __init__(self, levels: Levels | int, fields: frozenset[str] = NONE) -> None:
        self.levels = levels
        self.fields = fields

    @property
    def held(self) -> npt.NDArray[np.bool_] | bool:
        """Where it is true."""
        return self.levels == 2


Define = Callable[[str, Fact], Column]


@dataclass(slots=True)
class WorldLayer:
    """One layer of facts in every world; columns are made when they are first asked for."""

    facts: Mapping[str, Fact]
    define: Define
    always: frozenset[str] = NONE
    made: dict[str, Column] = field(default_factory=dict)
    # comparisons made with columns, kept by the first layer of a scope for all that stand on it
    compared: dict[tuple[object, ...], "tuple[Truths, object]"] = field(default_factory=dict)

    def column(self, name: str) -> Column:
        """The column of a fact of this layer."""
        known = self.made.get(name)
        if known is None:
            fact = self.facts[name]
            settled = (fact.value is not None or not fact.gaps) and name not in self.always
            known = self.made[name] = Column((fact,)) if settled else self.define(name, fact)
        return known


@dataclass(slots=True)
class WorldScope:
    """A scope of facts in every world. ``members`` gives those of its groups (``facts.values.Scope``).

    ``base`` is the scope that an option's own layer stands on. ``known`` keeps the truth of conditions, and of their
    parts, for all options that stand on this scope.
    """

    layers: tuple[WorldLayer, ...]
    members: Callable[[str], Sequence["WorldScope"] | None]
    base: "WorldScope | None" = None
    known: "dict[object, Truths]" = field(default_factory=dict)
    columns: dict[str, Column] = field(default_factory=dict)

    def column(self, name: str) -> Column:
        """The column of the fact of that name; of a fact of which nothing is known where there is none."""
        found = self.columns.get(name)
        if found is None:
            found = self.columns[name] = self._column(name)
        return found

    def _column(self, name: str) -> Column:
        if self.base is not None:
            own = self.layers[-1]
            return own.column(name) if name in own.facts else self.base.column(name)
        for layer in reversed(self.layers):
            if name in layer.facts:
                return layer.column(name)
        return _UNKNOWN

    def extended(self, layer: WorldLayer) -> "WorldScope":
        """This scope with one more layer on top."""
        return WorldScope((*self.layers, layer), self.members, self)


_UNKNOWN = Column((UNKNOWN,))
