"""What of a case its facts in every world are made from: single fields, layers and scopes.

How the facts of a layer are made is handed in (``Makers``), so that they can be read a subject at a time.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, TypeVar

from pydantic import BaseModel

from recommender.advice.confidence.columns import (
    Column,
    Kept,
    WorldLayer,
    WorldScope,
    combine,
    constant,
    interned,
    kept_column,
    merged,
)
from recommender.advice.confidence.worlds import Drawn, Worlds
from recommender.domain.dentition import position
from recommender.facts.case_fields import Layer
from recommender.facts.values import UNKNOWN, Fact, known, not_recorded

Truth = bool | None
# Facts that what is not recorded can move although they look settled.
CASE_ALWAYS = frozenset({"derived.front_sulcus_mm"})
TOOTH_ALWAYS = frozenset({"derived.listed"})
OPTION_ALWAYS = frozenset({"arm.level_mm"})
ALWAYS = CASE_ALWAYS | TOOTH_ALWAYS | OPTION_ALWAYS
Part = TypeVar("Part", bound=BaseModel)


def as_fact(value: object, unit: str) -> Fact:
    """A drawn value as the fact of its field."""
    if isinstance(value, (list, tuple)):
        return known(frozenset(str(item) for item in value), unit=unit)
    assert isinstance(value, (bool, int, float, str))
    return known(value, unit=unit)


def bare(model: type[Part], **fields: Any) -> Part:
    """A part of a case with these fields and no others, not validated: for functions that read no more of it."""
    construct: Callable[..., Part] = model.model_construct
    return construct(**fields)


def truth_of(fact: Fact) -> Truth:
    """A yes-or-no fact as a truth value."""
    return None if fact.value is None else bool(fact.value)


class CaseColumns:
    """The layers and scopes of one case in every world. ``undefined`` gathers names of facts that hang on drawn fields
    and have no counterpart here."""

    def __init__(self, worlds: Worlds, makers: "Makers") -> None:
        self.worlds = worlds
        self._makers = makers
        self.facts = worlds.facts
        self.case = worlds.case
        self.undefined: set[str] = set()
        self._teeth: dict[int, WorldLayer] = {}
        self._toward: dict[tuple[int, str], WorldScope] = {}
        self._spaces: dict[int, WorldScope] = {}
        self._groups: dict[str, list[WorldScope]] = {}
        self._bases: dict[str, Column] = {}
        self._reaches: dict[int, Column] = {}
        self.case_layer = WorldLayer(self.facts.case_layer, partial(makers.of_case, self), CASE_ALWAYS)
        self.case_scope = WorldScope((self.case_layer,), self.members)

    # ---- scopes

    def tooth_layer(self, tooth: int) -> WorldLayer:
        """Tooth-scope facts."""
        if tooth not in self._teeth:
            layer: Layer = self.facts.tooth(tooth).layers[-1]  # type: ignore[assignment]
            self._teeth[tooth] = WorldLayer(layer, partial(self._makers.of_tooth, self, tooth), TOOTH_ALWAYS)
        return self._teeth[tooth]

    def toward(self, tooth: int, side: str) -> WorldScope:
        """The scope of a tooth looked at toward its ``mesial`` or ``distal`` side."""
        key = (tooth, side)
        if key not in self._toward:
            near = self.facts.toward(tooth, side).layers[-1]
            layer = WorldLayer(near, partial(self._makers.of_approach, self, tooth, side))
            self._toward[key] = WorldScope((self.case_layer, self.tooth_layer(tooth), layer), self.members)
        return self._toward[key]

    def space(self, tooth: int) -> WorldScope:
        """The scope of one missing tooth in its space."""
        if tooth not in self._spaces:
            layer = WorldLayer(
                self.facts.space(tooth).layers[-1], partial(self._makers.of_space, self, tooth)
            )
            self._spaces[tooth] = WorldScope((self.case_layer, layer), self.members)
        return self._spaces[tooth]

    def members(self, group: str) -> Sequence[WorldScope] | None:
        """The members of a group of the case's scope; ``None`` for a group that it does not have."""
        if group not in self._groups:
            facts = self.facts
            if group == "span":
                self._groups[group] = [self.space(tooth) for space in facts.spaces for tooth in space.teeth]
            elif group in ("abutment", "standing"):
                teeth = facts.considered if group == "abutment" else facts.standing
                self._groups[group] = [
                    WorldScope((self.case_layer, self.tooth_layer(tooth)), self.members) for tooth in teeth
                ]
            else:
                return None
        return self._groups[group]

    # ---- single fields

    def field(self, path: str, unit: str = "") -> Column:
        """An unrecorded field as a column; not recorded in every world where nothing plausible is known of it."""
        found = self._bases.get(path)
        if found is None:
            drawn = self.worlds.draw(path)
            found = constant(not_recorded(path, unit=unit)) if drawn is None else _drawn_column(drawn, unit)
            self._bases[path] = found
        return found

    def gap(self, fact: Fact, name: str) -> Column:
        """A fact that is nothing but one field of the case."""
        if len(fact.gaps) != 1:
            self.undefined.add(name)
            return constant(fact)
        return self.field(fact.gaps[0], fact.unit)

    def lost(self, tooth: int) -> Column:
        """Whether a tooth is named as likely to be lost."""
        drawn = self.worlds.draw(f"future_loss_likely[{tooth}]") if tooth in self.facts.considered else None
        if drawn is None:
            return constant(known(False, "future_loss_likely"))
        return kept_column(
            "lost",
            [_drawn_column(drawn, "")],
            lambda: Column(
                interned(tuple(known(bool(value)) for value in drawn.values)),
                drawn.codes,
                frozenset(("future_loss_likely",)),
            ),
        )

    def lips(self, tooth: int) -> tuple[Column, Column, Column]:
        """Smile line, lower display and last tooth in the smile, as far as they bear on a tooth of this arch."""
        upper = self.case.arch == "maxilla"
        first = self.case_layer.column("patient.smile_line") if upper else constant(UNKNOWN)
        second = constant(UNKNOWN) if upper else self.case_layer.column("patient.lower_display")
        return first, second, self._reach(position(tooth))

    def _reach(self, place: int) -> Column:
        """The position of the last tooth in the smile, as far as it matters at a place: that far, or not."""
        if place not in self._reaches:
            last = self.case_layer.column("patient.last_tooth_in_smile")
            self._reaches[place] = combine(
                lambda f: (
                    f if f.value is None else known(8 if position(int(str(f.value))) >= place else place - 1)
                ),
                last,
                how=("reach", place),
            )
        return self._reaches[place]


@dataclass(frozen=True, slots=True)
class Makers:
    """What makes a column of a fact, by the layer it is in: of the case, a tooth, a tooth toward a side, a space."""

    of_case: Callable[[CaseColumns, str, Fact], Column]
    of_tooth: Callable[[CaseColumns, int, str, Fact], Column]
    of_approach: Callable[[CaseColumns, int, str, str, Fact], Column]
    of_space: Callable[[CaseColumns, int, str, Fact], Column]


def _drawn_column(drawn: Drawn, unit: str) -> Column:
    """A drawn field as a column: the same column wherever it has the same worlds."""
    entry = drawn.entry
    key = None
    if entry is not None:
        own = None if entry.relative_to is None else drawn.values
        key = (drawn.path, unit, id(drawn.codes), id(entry), own)
        kept = _FIELDS.get(key)
        if kept is not None:
            return kept
    forms = tuple(as_fact(value, unit) for value in drawn.values)
    found = merged(forms, drawn.codes, frozenset((drawn.path,)))
    return found if key is None else _FIELDS.put(key, found, (drawn.codes, entry))


_FIELDS: Kept[Column] = Kept(6000)
