"""The facts of the case as a whole in every world, as ``recommender.facts.arch`` works them out."""

from collections.abc import Callable, Sequence

import numpy as np

from recommender.advice.confidence.columns import (
    NONE,
    Column,
    combine,
    constant,
    fold,
    joint,
    kept_column,
    merged,
)
from recommender.advice.confidence.world_fields import CaseColumns, Truth, truth_of
from recommender.domain.dentition import is_anterior, position, side_of
from recommender.facts.arch import doubtful, plate_rest_fit, rear_borders
from recommender.facts.figures import display_figures
from recommender.facts.logic import any_of, largest, least
from recommender.facts.values import UNKNOWN, Fact, between, known


def of_case(base: CaseColumns, name: str, fact: Fact) -> Column:
    """The column of a fact of the case as a whole."""
    if name == "floor.depth_mm" and any(gap.startswith("floor.depth_mm.") for gap in fact.gaps):
        sites = [base.field(gap, "mm") for gap in fact.gaps if gap.startswith("floor.depth_mm.")]
        settled = between(fact.high, fact.high, unit="mm")
        return fold(lambda a, b: least((a, b), "mm"), [constant(settled), *sites], "least mm")
    if not name.startswith("derived."):
        return base.gap(fact, name)
    make = _DERIVED.get(name.removeprefix("derived."))
    if make is None:
        base.undefined.add(name)
        return constant(fact)
    return make(base, fact)


def _any(columns: Sequence[Column]) -> Column:
    """Kleene's "or" of yes-or-no columns."""
    return (
        fold(lambda a, b: any_of((truth_of(a), a), (truth_of(b), b)), columns, "any")
        if columns
        else constant(known(False))
    )


def _rear_abutment_doubtful(base: CaseColumns, fact: Fact) -> Column:
    def one(tooth: int) -> Column:
        layer = base.tooth_layer(tooth)
        names = ("abutment.mobility", "abutment.bone_support", "derived.loss_likely")
        return combine(
            lambda *found: doubtful(tooth, {tooth: dict(zip(names, found, strict=True))})[1],
            *(layer.column(name) for name in names),
            how=("doubtful", tooth),
        )

    return _any([one(tooth) for tooth in rear_borders(base.facts.spaces)])


def _count(base: CaseColumns, columns: Sequence[Column]) -> Column:
    """How many yes-or-no columns are true, as bounds where some stay undecided."""
    return kept_column("how many", columns, lambda: _counted(base, columns))


def _counted(base: CaseColumns, columns: Sequence[Column]) -> Column:
    count = base.worlds.count
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


def _is(base: CaseColumns, tooth: int, name: str, words: tuple[object, ...]) -> Column:
    column = base.tooth_layer(tooth).column(name)
    return combine(
        lambda f: UNKNOWN if f.value is None else known(f.value in words), column, how=("is", words)
    )


def _reduced_abutment_count(base: CaseColumns, fact: Fact) -> Column:
    bone = tuple(display_figures()["doubtful_tooth"]["reduced_bone"])
    return _count(base, [_is(base, t, "abutment.bone_support", bone) for t in base.facts.considered])


def _weak(base: CaseColumns, teeth: Sequence[int], bone: str, mobility: str) -> Column:
    limits = display_figures()["doubtful_tooth"]
    kinds, grades = tuple(limits[bone]), tuple(range(int(limits[mobility]), 4))
    return _count(
        base,
        [
            _any([_is(base, t, "abutment.bone_support", kinds), _is(base, t, "abutment.mobility", grades)])
            for t in teeth
        ],
    )


def _weak_abutment_count(base: CaseColumns, fact: Fact) -> Column:
    return _weak(base, base.facts.considered, "bone", "weak_mobility")


def _weak_front_count(base: CaseColumns, fact: Fact) -> Column:
    front = [tooth for tooth in base.facts.standing if is_anterior(tooth)]
    return _weak(base, front, "reduced_bone", "weak_front_mobility")


def _plate_rest_sides(base: CaseColumns, fact: Fact) -> Column:
    names = ("abutment.rest_seats", "derived.seat_refused", "derived.may_carry")

    def fit(tooth: int) -> Column:
        layer = base.tooth_layer(tooth)
        return combine(
            lambda *found: _answer(plate_rest_fit(tooth, {tooth: dict(zip(names, found, strict=True))})[0]),
            *(layer.column(name) for name in names),
            how=("plate rest", tooth),
        )

    places = display_figures()["plate_rest_positions"]
    sides = [
        _any([fit(t) for t in base.facts.standing if side_of(t) == side and position(t) in places])
        for side in ("right", "left")
    ]
    return _count(base, sides)


def _front_loss_likely(base: CaseColumns, fact: Fact) -> Column:
    part = "palate" if base.case.arch == "maxilla" else "floor"
    said = base.case_layer.column(f"{part}.future_loss_likely")
    listed = base.case.future_loss_likely
    if listed is not None:
        return _any([said, constant(known(any(is_anterior(t) for t in listed), "future_loss_likely"))])
    return _any([said, *(base.lost(t) for t in base.facts.considered if is_anterior(t))])


def _flat_ridge(base: CaseColumns, fact: Fact) -> Column:
    ridges = [base.space(space.teeth[0]).column("span.ridge") for space in base.facts.spaces]
    flat = ("flat", "displaceable")
    return _any(
        [
            combine(lambda f: UNKNOWN if f.value is None else known(f.value in flat), r, how="flat")
            for r in ridges
        ]
    )


def _front_sulcus_mm(base: CaseColumns, fact: Fact) -> Column:
    front = [tooth for tooth in base.facts.considered if is_anterior(tooth)]
    sulci = [base.tooth_layer(tooth).column("abutment.vestibule_depth_mm") for tooth in front]
    if base.case.arch == "mandible":
        sulci.append(base.case_layer.column("floor.labial_sulcus_mm"))
    sulci = [column for column in sulci if column.codes is not None or column.first.bounded]
    return fold(lambda a, b: least((a, b), "mm"), sulci, "least mm") if sulci else constant(fact)


def _front_recession_mm(base: CaseColumns, fact: Fact) -> Column:
    front = [tooth for tooth in base.facts.standing if is_anterior(tooth)]
    depths = [base.tooth_layer(tooth).column("abutment.recession_mm") for tooth in front]
    return fold(lambda a, b: largest((a, b), "mm"), depths, "largest mm")


def _rest_seats_prepared(base: CaseColumns, fact: Fact) -> Column:
    seats = [base.tooth_layer(tooth).column("abutment.rest_seats") for tooth in base.facts.considered]

    def number(found: Fact) -> Fact:
        return known(float(len(found.value))) if isinstance(found.value, frozenset) else between(0.0, None)

    def both(a: Fact, b: Fact) -> Fact:
        high = None if a.high is None or b.high is None else a.high + b.high
        return between((a.low or 0.0) + (b.low or 0.0), high, unit="seats")

    return fold(both, [combine(number, column, how="number of seats") for column in seats], "sum of seats")


def _lower_front_opposing(base: CaseColumns, fact: Fact) -> Column:
    return combine(
        lambda f: UNKNOWN if f.value is None else known(f.value == "complete_denture"),
        base.case_layer.column("occlusion.opposing"),
        how="complete denture",
    )


def _answer(truth: Truth) -> Fact:
    return UNKNOWN if truth is None else known(truth)


_DERIVED: dict[str, Callable[[CaseColumns, Fact], Column]] = {
    "rear_abutment_doubtful": _rear_abutment_doubtful,
    "reduced_abutment_count": _reduced_abutment_count,
    "weak_abutment_count": _weak_abutment_count,
    "weak_front_count": _weak_front_count,
    "plate_rest_sides": _plate_rest_sides,
    "front_loss_likely": _front_loss_likely,
    "flat_ridge": _flat_ridge,
    "front_sulcus_mm": _front_sulcus_mm,
    "front_recession_mm": _front_recession_mm,
    "rest_seats_prepared": _rest_seats_prepared,
    "lower_front_opposing": _lower_front_opposing,
}
