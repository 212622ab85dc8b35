"""The facts of a case in every world: case, teeth, teeth toward a space, spaces.

Each follows its counterpart in ``recommender.facts`` (``arch``, ``tooth``, ``space``) and calls it; the tests hold
every column to the facts of completed cases. A fact without a counterpart here stays not recorded in the worlds.
"""

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any, TypeVar

import numpy as np
from pydantic import BaseModel

from recommender.advice.confidence.columns import (
    NONE,
    Column,
    Kept,
    WorldLayer,
    WorldScope,
    combine,
    constant,
    fold,
    interned,
    joint,
    kept_column,
    merged,
)
from recommender.advice.confidence.worlds import Drawn, Worlds
from recommender.domain.case import Case, Patient
from recommender.domain.dentition import is_anterior, position, side_of
from recommender.facts.arch import doubtful, plate_rest_fit, rear_borders
from recommender.facts.arm_visible import shows_words
from recommender.facts.case_fields import Layer
from recommender.facts.figures import display_figures
from recommender.facts.logic import any_of, largest, least, test
from recommender.facts.space import shows_in_smile, weakest_bone
from recommender.facts.tooth import may_carry, seat_refused, tilt_only, tilt_toward
from recommender.facts.values import UNKNOWN, Fact, between, known, not_recorded, one_of

_LEVELS = ("gingival", "middle", "occlusal")
_CASE_ALWAYS = frozenset({"derived.front_sulcus_mm"})
# Facts that what is not recorded can move although they look settled.
_TOOTH_ALWAYS = frozenset({"derived.listed"})
OPTION_ALWAYS = frozenset({"arm.level_mm"})
ALWAYS = _CASE_ALWAYS | _TOOTH_ALWAYS | OPTION_ALWAYS
Truth = bool | None
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

    def __init__(self, worlds: Worlds) -> None:
        self.worlds = worlds
        self.facts = worlds.facts
        self.case = worlds.case
        self.undefined: set[str] = set()
        self._teeth: dict[int, WorldLayer] = {}
        self._toward: dict[tuple[int, str], WorldScope] = {}
        self._spaces: dict[int, WorldScope] = {}
        self._groups: dict[str, list[WorldScope]] = {}
        self._bases: dict[str, Column] = {}
        self._reaches: dict[int, Column] = {}
        self.case_layer = WorldLayer(self.facts.case_layer, self._of_case, _CASE_ALWAYS)
        self.case_scope = WorldScope((self.case_layer,), self.members)

    # ---- scopes

    def tooth_layer(self, tooth: int) -> WorldLayer:
        """Tooth-scope facts."""
        if tooth not in self._teeth:
            layer: Layer = self.facts.tooth(tooth).layers[-1]  # type: ignore[assignment]
            self._teeth[tooth] = WorldLayer(layer, partial(self._of_tooth, tooth), _TOOTH_ALWAYS)
        return self._teeth[tooth]

    def toward(self, tooth: int, side: str) -> WorldScope:
        """The scope of a tooth looked at toward its ``mesial`` or ``distal`` side."""
        key = (tooth, side)
        if key not in self._toward:
            near = self.facts.toward(tooth, side).layers[-1]
            layer = WorldLayer(near, partial(self._of_approach, tooth, side))
            self._toward[key] = WorldScope((self.case_layer, self.tooth_layer(tooth), layer), self.members)
        return self._toward[key]

    def space(self, tooth: int) -> WorldScope:
        """The scope of one missing tooth in its space."""
        if tooth not in self._spaces:
            layer = WorldLayer(self.facts.space(tooth).layers[-1], partial(self._of_space, tooth))
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

    # ---- facts of the case

    def _of_case(self, name: str, fact: Fact) -> Column:
        if name == "floor.depth_mm" and any(gap.startswith("floor.depth_mm.") for gap in fact.gaps):
            sites = [self.field(gap, "mm") for gap in fact.gaps if gap.startswith("floor.depth_mm.")]
            settled = between(fact.high, fact.high, unit="mm")
            return fold(lambda a, b: least((a, b), "mm"), [constant(settled), *sites], "least mm")
        if not name.startswith("derived."):
            return self.gap(fact, name)
        make = getattr(self, "_" + name.removeprefix("derived."), None)
        if make is None:
            self.undefined.add(name)
            return constant(fact)
        found: Column = make(fact)
        return found

    def _any(self, columns: Sequence[Column]) -> Column:
        """Kleene's "or" of yes-or-no columns."""
        return (
            fold(lambda a, b: any_of((truth_of(a), a), (truth_of(b), b)), columns, "any")
            if columns
            else constant(known(False))
        )

    def _rear_abutment_doubtful(self, fact: Fact) -> Column:
        def one(tooth: int) -> Column:
            layer = self.tooth_layer(tooth)
            names = ("abutment.mobility", "abutment.bone_support", "derived.loss_likely")
            return combine(
                lambda *found: doubtful(tooth, {tooth: dict(zip(names, found, strict=True))})[1],
                *(layer.column(name) for name in names),
                how=("doubtful", tooth),
            )

        return self._any([one(tooth) for tooth in rear_borders(self.facts.spaces)])

    def _count(self, columns: Sequence[Column]) -> Column:
        """How many yes-or-no columns are true, as bounds where some stay undecided."""
        return kept_column("how many", columns, lambda: self._counted(columns))

    def _counted(self, columns: Sequence[Column]) -> Column:
        count = self.worlds.count
        least_, most = np.zeros(count, dtype=np.intp), np.zeros(count, dtype=np.intp)
        fields: frozenset[str] = NONE
        for column in columns:
            sure = np.array([truth_of(form) is True for form in column.forms])
            may = np.array([truth_of(form) is not False for form in column.forms])
            codes = 0 if column.codes is None else column.codes
            least_ += sure[codes]
            most += may[codes]
            fields |= column.fields
        size = len(columns) + 1
        inverse, pairs = joint([least_, most], [size, size])
        return merged([between(float(a), float(b), unit="teeth") for a, b in pairs], inverse, fields)

    def _is(self, tooth: int, name: str, words: tuple[object, ...]) -> Column:
        column = self.tooth_layer(tooth).column(name)
        return combine(
            lambda f: UNKNOWN if f.value is None else known(f.value in words), column, how=("is", words)
        )

    def _reduced_abutment_count(self, fact: Fact) -> Column:
        bone = tuple(display_figures()["doubtful_tooth"]["reduced_bone"])
        return self._count([self._is(t, "abutment.bone_support", bone) for t in self.facts.considered])

    def _weak(self, teeth: Sequence[int], bone: str, mobility: str) -> Column:
        limits = display_figures()["doubtful_tooth"]
        kinds, grades = tuple(limits[bone]), tuple(range(int(limits[mobility]), 4))
        return self._count(
            [
                self._any(
                    [self._is(t, "abutment.bone_support", kinds), self._is(t, "abutment.mobility", grades)]
                )
                for t in teeth
            ]
        )

    def _weak_abutment_count(self, fact: Fact) -> Column:
        return self._weak(self.facts.considered, "bone", "weak_mobility")

    def _weak_front_count(self, fact: Fact) -> Column:
        front = [tooth for tooth in self.facts.standing if is_anterior(tooth)]
        return self._weak(front, "reduced_bone", "weak_front_mobility")

    def _plate_rest_sides(self, fact: Fact) -> Column:
        names = ("abutment.rest_seats", "derived.seat_refused", "derived.may_carry")

        def fit(tooth: int) -> Column:
            layer = self.tooth_layer(tooth)
            return combine(
                lambda *found: _answer(
                    plate_rest_fit(tooth, {tooth: dict(zip(names, found, strict=True))})[0]
                ),
                *(layer.column(name) for name in names),
                how=("plate rest", tooth),
            )

        sides = [
            self._any([fit(t) for t in self.facts.standing if side_of(t) == side and position(t) in (3, 4)])
            for side in ("right", "left")
        ]
        return self._count(sides)

    def _front_loss_likely(self, fact: Fact) -> Column:
        part = "palate" if self.case.arch == "maxilla" else "floor"
        said = self.case_layer.column(f"{part}.future_loss_likely")
        listed = self.case.future_loss_likely
        if listed is not None:
            return self._any(
                [said, constant(known(any(is_anterior(t) for t in listed), "future_loss_likely"))]
            )
        return self._any([said, *(self.lost(t) for t in self.facts.considered if is_anterior(t))])

    def _flat_ridge(self, fact: Fact) -> Column:
        ridges = [self.space(space.teeth[0]).column("span.ridge") for space in self.facts.spaces]
        flat = ("flat", "displaceable")
        return self._any(
            [
                combine(lambda f: UNKNOWN if f.value is None else known(f.value in flat), r, how="flat")
                for r in ridges
            ]
        )

    def _front_sulcus_mm(self, fact: Fact) -> Column:
        front = [tooth for tooth in self.facts.considered if is_anterior(tooth)]
        sulci = [self.tooth_layer(tooth).column("abutment.vestibule_depth_mm") for tooth in front]
        if self.case.arch == "mandible":
            sulci.append(self.case_layer.column("floor.labial_sulcus_mm"))
        sulci = [column for column in sulci if column.codes is not None or column.first.bounded]
        return fold(lambda a, b: least((a, b), "mm"), sulci, "least mm") if sulci else constant(fact)

    def _front_recession_mm(self, fact: Fact) -> Column:
        front = [tooth for tooth in self.facts.standing if is_anterior(tooth)]
        depths = [self.tooth_layer(tooth).column("abutment.recession_mm") for tooth in front]
        return fold(lambda a, b: largest((a, b), "mm"), depths, "largest mm")

    def _rest_seats_prepared(self, fact: Fact) -> Column:
        seats = [self.tooth_layer(tooth).column("abutment.rest_seats") for tooth in self.facts.considered]

        def number(found: Fact) -> Fact:
            return (
                known(float(len(found.value))) if isinstance(found.value, frozenset) else between(0.0, None)
            )

        def both(a: Fact, b: Fact) -> Fact:
            high = None if a.high is None or b.high is None else a.high + b.high
            return between((a.low or 0.0) + (b.low or 0.0), high, unit="seats")

        return fold(
            both, [combine(number, column, how="number of seats") for column in seats], "sum of seats"
        )

    def _lower_front_opposing(self, fact: Fact) -> Column:
        return combine(
            lambda f: UNKNOWN if f.value is None else known(f.value == "complete_denture"),
            self.case_layer.column("occlusion.opposing"),
            how="complete denture",
        )

    # ---- facts of a tooth

    def _of_tooth(self, tooth: int, name: str, fact: Fact) -> Column:
        if tooth not in self.facts.considered and name != "derived.shows" and name != "derived.loss_likely":
            return constant(fact)  # nobody surveyed it: no world does
        layer = self.tooth_layer(tooth)
        if name == "abutment.preparable" and self.facts.tooth(tooth).fact("abutment.permitted").recorded:
            return constant(fact)  # the finer answer was given: the shorthand adds nothing
        if name == "derived.listed":
            return constant(known(True, "missing"))  # in a complete case it was surveyed
        if name in ("derived.facial_max_mm", "derived.lingual_max_mm"):
            surface = "facial" if "facial" in name else "lingual"
            zones = [layer.column(f"abutment.undercuts_mm.{at}{surface}") for at in ("mesio", "mid", "disto")]
            return fold(lambda a, b: largest((a, b), "mm"), zones, "largest mm")
        if name == "derived.loss_likely":
            return self.lost(tooth)
        if name == "derived.may_carry":
            parts = ("abutment.mobility", "abutment.disease")
            return combine(
                lambda m, d: may_carry({parts[0]: m, parts[1]: d}),
                *(layer.column(part) for part in parts),
                how="may carry",
            )
        if name == "derived.seat_refused":
            parts = ("abutment.preparable", "abutment.permitted")
            return combine(
                lambda a, b: seat_refused({parts[0]: a, parts[1]: b}),
                *(layer.column(part) for part in parts),
                how="seat refused",
            )
        if name == "derived.shows":
            return combine(partial(_shows_fact, tooth), *self.lips(tooth), how=("shows", tooth))
        if (
            name in ("abutment.contour_height", "abutment.contour_height_lingual")
            and fact.possible is not None
        ):
            order = sorted(fact.possible, key=_LEVELS.index)
            zones = [self.field(gap) for gap in fact.gaps]
            return fold(_higher, [constant(known(order[0])), *zones], "higher")
        if name == "abutment.rest_clearance_mm" and fact.high is not None:
            return constant(fact)
        return self.gap(fact, name)

    def _of_approach(self, tooth: int, side: str, name: str, fact: Fact) -> Column:
        if tooth not in self.facts.considered:
            return constant(fact)
        layer = self.tooth_layer(tooth)
        short = name.removeprefix("derived.")
        if short.endswith(("_rest_seat", "_guiding_plane")):
            listed = "abutment.rest_seats" if short.endswith("_rest_seat") else "abutment.guiding_planes"
            where = short.split("_")[0]
            word = where if where == "lingual" else side if where == "near" else _other(side)
            return combine(
                lambda f: known(word in f.value) if isinstance(f.value, frozenset) else UNKNOWN,
                layer.column(listed),
                how=("listed", word),
            )
        if short == "tilt":
            return combine(lambda f: tilt_toward(f, side), layer.column("abutment.tilt"), how=("tilt", side))
        if short == "tilt_only_far_facial":
            zone = f"{_other(side)[:-2]}ofacial"
            return combine(
                tilt_only,
                layer.column(f"abutment.undercuts_mm.{zone}"),
                layer.column(f"abutment.undercuts_level_mm.{zone}"),
                how="tilt only",
            )
        if short == "lingual_contour":
            return layer.column("abutment.contour_height_lingual")
        return self.gap(fact, name)

    # ---- facts of a space

    def _of_space(self, tooth: int, name: str, fact: Fact) -> Column:
        scope = self.space(tooth)
        if name == "derived.span_shows":
            lower = self.lips(tooth)[1]
            last = self.case_layer.column("patient.last_tooth_in_smile")
            return combine(
                lambda a, b: _span_shows(tooth, self.case.arch, a, b),
                lower,
                last,
                how=("span shows", tooth, self.case.arch),
            )
        if name == "derived.weakest_border_bone":
            space = self.facts.space_of(tooth)
            bones = [
                self.tooth_layer(t).column("abutment.bone_support") for t in (space.borders if space else ())
            ]
            return combine(lambda *found: weakest_bone(list(found)), *bones, how="weakest bone")
        if name == "derived.width_per_tooth_mm":
            number = scope.column("span.set_teeth")
            return combine(_width_each, scope.column("span.width_mm"), number, how="width each")
        if name in ("derived.closing_contact", "derived.gliding_contact"):
            words = {"closing"} if "closing" in name else {"protrusive", "lateral"}
            return combine(
                lambda f: known(bool(words & f.value)) if isinstance(f.value, frozenset) else UNKNOWN,
                self.field(f"occlusion.contacts[{tooth}]"),
                how=name,
            )
        if name == "derived.recent_extraction":
            limit = float(display_figures()["recent_extraction_months"])
            months = scope.column("span.months_since_extraction")

            def recent(found: Fact) -> Fact:
                answer = test(found, lambda value: float(str(value)) < limit)
                return found if answer is None else known(answer)

            return combine(recent, months, how="recent")
        return self.gap(fact, name)


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


def _answer(truth: Truth) -> Fact:
    return UNKNOWN if truth is None else known(truth)


def _other(side: str) -> str:
    return "distal" if side == "mesial" else "mesial"


def _higher(first: Fact, second: Fact) -> Fact:
    if first.value is None or second.value is None:
        return UNKNOWN
    return max(first, second, key=lambda f: _LEVELS.index(str(f.value)))


def _last(fact: Fact) -> int | None:
    return None if fact.value is None else int(str(fact.value))


def _word(fact: Fact) -> str | None:
    return None if fact.value is None else str(fact.value)


def _shows_fact(tooth: int, line: Fact, lower: Fact, last: Fact) -> Fact:
    words = shows_words(tooth, _word(line), _word(lower), _last(last))
    return one_of([word for word in ("hidden", "partly", "clear") if word in words])


def _span_shows(tooth: int, arch: str, lower: Fact, last: Fact) -> Fact:
    patient = bare(
        Patient,
        last_tooth_in_smile=None if last.value is None else int(str(last.value)),
        lower_display=_word(lower),
    )
    return shows_in_smile(tooth, bare(Case, arch=arch, patient=patient))


def _width_each(width: Fact, number: Fact) -> Fact:
    if width.low is None or width.high is None:
        return UNKNOWN
    if not isinstance(number.value, (int, float)) or not number.value:
        return between(None, width.high, unit="mm")
    return between(width.low / number.value, width.high / number.value, unit="mm")
