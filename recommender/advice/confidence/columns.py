"""A fact in every world: its distinct forms, and which world has which.

A fact that nothing unrecorded can touch has one form and no codes. Whatever is worked out from several columns is
worked out once for each combination that occurs, by the very functions that work facts out for a case.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from recommender.facts.values import UNKNOWN, Fact

Codes = npt.NDArray[np.intp]
Levels = npt.NDArray[np.int8]
NONE: frozenset[str] = frozenset()


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


def _told(fact: Fact) -> tuple[object, ...]:
    return fact.value, fact.low, fact.high, fact.possible


def merged(forms: Sequence[Fact], codes: Codes, fields: frozenset[str]) -> Column:
    """A column whose equal forms are one."""
    places: dict[tuple[object, ...], int] = {}
    kept: list[Fact] = []
    to: list[int] = []
    for form in forms:
        key = _told(form)
        place = places.get(key)
        if place is None:
            place = places[key] = len(kept)
            kept.append(form)
        to.append(place)
    if len(kept) == 1:
        return Column((kept[0],))
    if len(kept) == len(forms):
        return Column(tuple(forms), codes, fields)
    return Column(tuple(kept), np.array(to, dtype=np.intp)[codes], fields)


def joint(columns: Sequence[Codes], sizes: Sequence[int]) -> tuple[Codes, list[tuple[int, ...]]]:
    """One code for each combination that occurs, and the combinations."""
    whole = columns[0]
    for codes, size in zip(columns[1:], sizes[1:], strict=True):
        whole = whole * size + codes
    most = int(np.prod(np.array(sizes, dtype=np.float64)))
    if most <= 8192:
        present = np.zeros(most, dtype=bool)
        present[whole] = True
        found = np.flatnonzero(present)
        place = np.zeros(most, dtype=np.intp)
        place[found] = np.arange(len(found))
        inverse = place[whole]
    else:
        found, inverse = np.unique(whole, return_inverse=True)
    combinations = []
    for code in found.tolist():
        parts = []
        for size in reversed(sizes[1:]):
            code, part = divmod(code, size)
            parts.append(part)
        combinations.append((code, *reversed(parts)))
    return inverse, combinations


def combine(make: Callable[..., Fact], *columns: Column) -> Column:
    """``make`` of the facts of these columns, in every world."""
    varying = [i for i, column in enumerate(columns) if column.codes is not None]
    given = [column.forms[0] for column in columns]
    if not varying:
        return Column((make(*given),))
    fields = NONE.union(*(columns[i].fields for i in varying))
    forms: list[Fact] = []
    if len(varying) == 1:
        at = varying[0]
        for form in columns[at].forms:
            given[at] = form
            forms.append(make(*given))
        codes = columns[at].codes
        assert codes is not None
        return merged(forms, codes, fields)
    many = [columns[i].codes for i in varying]
    inverse, combinations = joint(
        [c for c in many if c is not None], [len(columns[i].forms) for i in varying]
    )
    for combination in combinations:
        for at, place in zip(varying, combination, strict=True):
            given[at] = columns[at].forms[place]
        forms.append(make(*given))
    return merged(forms, inverse, fields)


def fold(make: Callable[[Fact, Fact], Fact], columns: Sequence[Column]) -> Column:
    """``make`` of pairs, one column after another: for what may be gathered in steps, such as a largest."""
    found = columns[0]
    for column in columns[1:]:
        found = combine(make, found, column)
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
    """A scope of facts in every world. ``members`` gives those of its groups (``facts.values.Scope``)."""

    layers: tuple[WorldLayer, ...]
    members: Callable[[str], Sequence["WorldScope"] | None]
    truths: "dict[str, Truths]" = field(default_factory=dict)

    def column(self, name: str) -> Column:
        """The column of the fact of that name; of a fact of which nothing is known where there is none."""
        for layer in reversed(self.layers):
            if name in layer.facts:
                return layer.column(name)
        return _UNKNOWN

    def extended(self, layer: WorldLayer) -> "WorldScope":
        """This scope with one more layer on top."""
        return WorldScope((*self.layers, layer), self.members)


_UNKNOWN = Column((UNKNOWN,))
