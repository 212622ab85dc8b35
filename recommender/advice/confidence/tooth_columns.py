"""The facts of a tooth, and of one toward a space, in every world, as ``recommender.facts.tooth`` works them out."""

from functools import partial

from recommender.advice.confidence.columns import Column, combine, constant, fold
from recommender.advice.confidence.world_fields import CaseColumns
from recommender.facts.arm_visible import shows_words
from recommender.facts.logic import largest
from recommender.facts.tooth import may_carry, seat_refused, tilt_only, tilt_toward
from recommender.facts.values import UNKNOWN, Fact, known, one_of

_LEVELS = ("gingival", "middle", "occlusal")


def of_tooth(base: CaseColumns, tooth: int, name: str, fact: Fact) -> Column:
    """The column of a fact of a tooth."""
    if tooth not in base.facts.considered and name != "derived.shows" and name != "derived.loss_likely":
        return constant(fact)  # nobody surveyed it: no world does
    layer = base.tooth_layer(tooth)
    if name == "abutment.preparable" and base.facts.tooth(tooth).fact("abutment.permitted").recorded:
        return constant(fact)  # the finer answer was given: the shorthand adds nothing
    if name == "derived.listed":
        return constant(known(True, "missing"))  # in a complete case it was surveyed
    if name in ("derived.facial_max_mm", "derived.lingual_max_mm"):
        surface = "facial" if "facial" in name else "lingual"
        zones = [layer.column(f"abutment.undercuts_mm.{at}{surface}") for at in ("mesio", "mid", "disto")]
        return fold(lambda a, b: largest((a, b), "mm"), zones, "largest mm")
    if name == "derived.loss_likely":
        return base.lost(tooth)
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
        return combine(partial(_shows_fact, tooth), *base.lips(tooth), how=("shows", tooth))
    if name in ("abutment.contour_height", "abutment.contour_height_lingual") and fact.possible is not None:
        order = sorted(fact.possible, key=_LEVELS.index)
        zones = [base.field(gap) for gap in fact.gaps]
        return fold(_higher, [constant(known(order[0])), *zones], "higher")
    if name == "abutment.rest_clearance_mm" and fact.high is not None:
        return constant(fact)
    return base.gap(fact, name)


def of_approach(base: CaseColumns, tooth: int, side: str, name: str, fact: Fact) -> Column:
    """The column of a fact of a tooth looked at toward a side."""
    if tooth not in base.facts.considered:
        return constant(fact)
    layer = base.tooth_layer(tooth)
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
    return base.gap(fact, name)


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
