"""Fields of the case as facts under their own paths.

Every field becomes a fact, recorded or not; a field that was left out carries its own path as a gap, so that a
rule which needs it can ask for it by name.
"""

from collections.abc import Iterable
from dataclasses import replace
from functools import cache

from pydantic import BaseModel

from recommender.domain.case import Case
from recommender.domain.findings import (
    Abutment,
    ContourZones,
    Floor,
    FloorDepth,
    Occlusion,
    Palate,
    Patient,
    Records,
    RestRoom,
    Span,
    Undercuts,
)
from recommender.domain.measures import Interval, Measured
from recommender.domain.vocabulary import ZONES
from recommender.facts.logic import least
from recommender.facts.values import Fact, Value, between, known, measured, not_recorded, one_of

Layer = dict[str, Fact]

_UNITS = {"_mm": "mm", "_deg": "degrees", "months": "months"}
_SECTIONS: tuple[tuple[str, type[BaseModel]], ...] = (
    ("patient", Patient),
    ("occlusion", Occlusion),
    ("records", Records),
    ("palate", Palate),
    ("floor", Floor),
)
# Fields with a form of their own, turned into facts further down.
_SPECIAL = {"contacts", "depth_mm"}
_ABUTMENT_SPECIAL = {
    "tooth", "undercuts_mm", "undercuts_level_mm", "contour_height", "contour_height_lingual",
    "embrasure_clearance_mm", "rest_clearance_mm",
}  # fmt: skip


@cache
def unit_of(name: str) -> str:
    """The unit that a field's name announces."""
    return next((unit for ending, unit in _UNITS.items() if ending in name), "")


def _as_value(raw: object) -> Value:
    if isinstance(raw, (list, tuple, set)):
        return frozenset(str(item) for item in raw)
    if isinstance(raw, (bool, int, float, str)):
        return raw
    raise TypeError(f"no fact can hold {type(raw).__name__}")


def _plain(prefix: str, path: str, model: BaseModel | None, names: Iterable[str]) -> Layer:
    facts: Layer = {}
    for name in names:
        raw = getattr(model, name, None)
        where = f"{path}.{name}"
        unit = unit_of(name)
        if raw is None:
            facts[f"{prefix}.{name}"] = _absent(where, unit)
        elif isinstance(raw, Interval):
            facts[f"{prefix}.{name}"] = measured(raw, where, unit=unit)
        else:
            facts[f"{prefix}.{name}"] = known(_as_value(raw), where, unit=unit)
    return facts


@cache
def _absent(where: str, unit: str) -> Fact:
    # most fields of most teeth: their names are few, and facts never change
    return not_recorded(where, unit=unit)


def case_fields(case: Case) -> Layer:
    """Facts of the case as a whole: ``patient.*``, ``occlusion.*``, ``records.*``, ``palate.*``, ``floor.*``."""
    facts: Layer = {"arch": known(case.arch, "missing")}
    for prefix, model in _SECTIONS:
        names = [name for name in model.model_fields if name not in _SPECIAL]
        facts |= _plain(prefix, prefix, getattr(case, prefix), names)
    if case.patient is not None and case.patient.age == "90+":
        facts["patient.age"] = between(90.0, None, unit="years", fields=["patient.age"])
    facts["floor.depth_mm"] = floor_depth(case.floor)
    return facts


def floor_depth(floor: Floor | None) -> Fact:
    """The least depth from the gingival margin to the raised floor (mm).

    Where it was measured at some sites only, the least recorded depth bounds it from above.
    """
    where = "floor.depth_mm"
    depth = floor.depth_mm if floor else None
    if not isinstance(depth, FloorDepth):
        return measured(depth, where, unit="mm")
    found = _by_site(depth, where)
    if not found:
        return not_recorded(where, unit="mm")
    wanted = [site for site in ("incisor", "premolar") if site not in found]
    return least((*found.values(), *(not_recorded(f"{where}.{site}", unit="mm") for site in wanted)), "mm")


def _by_site(rooms: BaseModel, where: str) -> Layer:
    """The lengths measured at some sites of one field, by site."""
    return {
        site: measured(room, f"{where}.{site}", unit="mm")
        for site in type(rooms).model_fields
        if (room := getattr(rooms, site)) is not None
    }


def abutment_fields(tooth: int, abutment: Abutment | None) -> Layer:
    """Facts ``abutment.*`` of one tooth; ``abutment`` is ``None`` for a tooth that was not surveyed."""
    return dict(_unsurveyed(tooth)) if abutment is None else _abutment_fields(tooth, abutment)


@cache
def _unsurveyed(tooth: int) -> Layer:
    return _abutment_fields(tooth, None)


def _abutment_fields(tooth: int, abutment: Abutment | None) -> Layer:
    path = f"abutments[{tooth}]"
    names = [name for name in Abutment.model_fields if name not in _ABUTMENT_SPECIAL]
    facts = _plain("abutment", path, abutment, names)
    for field_name in ("undercuts_mm", "undercuts_level_mm"):
        depths: Undercuts | None = getattr(abutment, field_name, None)
        facts |= _plain(f"abutment.{field_name}", f"{path}.{field_name}", depths, ZONES)
    for field_name in ("contour_height", "contour_height_lingual"):
        facts[f"abutment.{field_name}"] = _contour(path, field_name, getattr(abutment, field_name, None))
    room = getattr(abutment, "embrasure_clearance_mm", None)
    facts |= _plain(
        "abutment.embrasure_clearance_mm", f"{path}.embrasure_clearance_mm", room, ("mesial", "distal")
    )
    facts["abutment.rest_clearance_mm"] = _least_rest_room(path, getattr(abutment, "rest_clearance_mm", None))
    return facts


def _contour(path: str, name: str, raw: object) -> Fact:
    where = f"{path}.{name}"
    if raw is None:
        return not_recorded(where)
    if isinstance(raw, ContourZones):
        levels = {zone: level for zone, level in raw.model_dump().items() if level is not None}
        if not levels:
            return not_recorded(where)
        # The surface is as high as its highest zone; zones not measured may only raise it.
        order = ("gingival", "middle", "occlusal")
        highest = max(order.index(level) for level in levels.values())
        surface = (
            ("mesiolingual", "midlingual", "distolingual")
            if name.endswith("lingual")
            else ("mesiofacial", "midfacial", "distofacial")
        )
        gaps = [f"{where}.{zone}" for zone in surface if zone not in levels]
        possible = order[highest:] if gaps else order[highest : highest + 1]
        return one_of(
            possible, fields=[f"{where}.{zone}" for zone in levels], gaps=gaps if len(possible) > 1 else ()
        )
    return known(str(raw), where)


def _least_rest_room(path: str, raw: Measured | RestRoom | None) -> Fact:
    where = f"{path}.rest_clearance_mm"
    if not isinstance(raw, RestRoom):
        return measured(raw, where, unit="mm")
    rooms = _by_site(raw, where)
    if not rooms:
        return not_recorded(where, unit="mm")
    # Sites that were not measured may be tighter still.
    return replace(least(rooms.values(), "mm"), value=None, low=None)


def rest_room(tooth: int, abutment: Abutment | None, site: str) -> Fact:
    """Room over one seat (mm); a single figure for the tooth holds for each of its seats."""
    where = f"abutments[{tooth}].rest_clearance_mm"
    raw = abutment.rest_clearance_mm if abutment else None
    if isinstance(raw, RestRoom):
        return measured(getattr(raw, site, None), f"{where}.{site}", unit="mm")
    return measured(raw, where, unit="mm")


def contour_at(tooth: int, abutment: Abutment | None, zone: str) -> Fact:
    """Level of the survey line at one zone; a single word for the surface holds for each of its zones."""
    name = "contour_height_lingual" if zone.endswith("lingual") else "contour_height"
    where = f"abutments[{tooth}].{name}"
    raw = getattr(abutment, name, None)
    if raw is None:
        return not_recorded(where)
    if isinstance(raw, ContourZones):
        level = getattr(raw, zone, None)
        return not_recorded(f"{where}.{zone}") if level is None else known(level, f"{where}.{zone}")
    return known(str(raw), where)


def span_fields(first: int, span: Span | None, tooth: int) -> Layer:
    """Facts ``span.*`` of the space that begins (in arch order) at ``first``, seen from one of its teeth."""
    path = f"spans[{first}]"
    names = [name for name in Span.model_fields if name not in {"teeth", "clearance_mm"}]
    facts = _plain("span", path, span, names)
    raw = span.clearance_mm if span else None
    where = f"{path}.clearance_mm"
    if isinstance(raw, dict):
        facts["span.clearance_mm"] = measured(raw.get(tooth), f"{where}[{tooth}]", unit="mm")
    else:
        facts["span.clearance_mm"] = measured(raw, where, unit="mm")
    return facts
