"""Facts about one option at its decision: what its tip engages, what room it has, what it would show.

Each function returns the option layer that goes on top of the decision's scope. The catalogue says where an
assembly engages; which numbers stand there comes from the approach scope, so near and far are already settled.
"""

from collections.abc import Collection, Iterable
from dataclasses import replace
from functools import cache, lru_cache

from recommender.domain.case import Case
from recommender.domain.dentition import opposite, side_facing
from recommender.domain.designs import RuledOut
from recommender.domain.measures import Measured
from recommender.domain.options import Option
from recommender.facts.axis import seat_facts
from recommender.facts.case_fields import Layer, rest_room
from recommender.facts.derive import CaseFacts
from recommender.facts.figures import under_own_figures
from recommender.facts.logic import either, gather_fields, gather_gaps, largest, least
from recommender.facts.mechanical import arm_facts, connector_facts, space_facts
from recommender.facts.space import span_of
from recommender.facts.values import Fact, Scope, known, measured, not_recorded

# Rest identifiers by where they sit on the tooth.
_BOTH_ENDS = ("mesial_distal", "embrasure")
_TILTS = ("tilt_ap_deg", "tilt_lateral_deg")
_MIDDLE = ("cingulum", "incisal", "onlay", "long")


def _common(
    option: Option, asked_for: str | None, anything_asked: bool, unwanted: Collection[str] = ()
) -> Layer:
    layer = {"option.id": _said(option.id, "missing")}
    if anything_asked:
        layer["option.prescribed"] = _said(asked_for == option.id, "prescription")
    said = "prescription" if unwanted else "missing"
    layer["option.ruled_out"] = _said(option.id in unwanted, said)
    layer["option.clasp_ruled_out"] = _said("any" in unwanted, said)
    return layer


@cache
def _said(value: str | bool, field: str) -> Fact:
    # facts never change, and of these there are few
    return known(value, field)


@cache
def _length(value: float) -> Fact:
    return known(value, "missing", unit="mm")


_NOTHING_RULED_OUT = RuledOut()


def _unwanted(case: Case) -> RuledOut:
    """What the dentist ruled out; nothing where nothing was ruled out."""
    return (case.prescription.ruled_out if case.prescription else None) or _NOTHING_RULED_OUT


def tip_zone_facts(option: Option, scope: Scope) -> dict[str, Fact]:
    """The measured undercut of every zone that the tip may engage, by zone word (``far_facial`` …)."""
    return {zone: scope.fact(f"derived.{zone}_mm") for zone in option.tip.zones} if option.tip else {}


def tip_scope(facts: CaseFacts, tooth: int, side: str, option: Option) -> Scope | None:
    """The scope in which the tip's zones are read: the tooth's own, or that of the tooth beyond it.

    ``None`` where the assembly reaches for a neighbour that does not stand.
    """
    if option.extra.get("tip_on") != "far_neighbour":
        return facts.toward(tooth, side)
    beyond = facts.touching(tooth, opposite(side))
    return None if beyond is None else facts.toward(beyond, side_facing(beyond, tooth))


@under_own_figures
def retainer_layer(facts: CaseFacts, tooth: int, side: str, option: Option) -> Layer:
    """Option facts of a retainer assembly on ``tooth`` approached from ``side``."""
    prescription = facts.case.prescription
    asked = (prescription.retainers or {}) if prescription else {}
    unwanted = (_unwanted(facts.case).retainers or {}).get(tooth, ())
    layer = _common(option, asked.get(tooth), tooth in asked, unwanted)
    scope = facts.toward(tooth, side)
    if option.tip is not None:
        layer["arm.engaged_mm"], layer["arm.level_mm"] = _at_tip(facts, tooth, side, option)
        layer["arm.least_mm"] = _length(option.tip.least_mm)
        layer["arm.most_mm"] = _length(option.tip.most_mm)
    if option.arm is not None:
        crosses = crossing(option)
        layer["arm.contour"] = scope.fact(crosses) if crosses else not_recorded()
        support = str(scope.fact("derived.support").value)
        engaged = layer.get("arm.engaged_mm", not_recorded(unit="mm"))
        layer |= arm_facts(option, tooth, facts.case, side, support, engaged)
    return layer


def _at_tip(facts: CaseFacts, tooth: int, side: str, option: Option) -> tuple[Fact, Fact]:
    """The undercut that the tip engages, and what a straight pull meets there: the same for all tips alike."""
    assert option.tip is not None
    key = (tooth, side, option.tip.zones, option.extra.get("tip_on"))
    found = facts.at_tips.get(key)
    if found is None:
        where = tip_scope(facts, tooth, side, option)
        zones = tip_zone_facts(option, where).values() if where else [_length(0.0)]
        engaged = largest(zones, "mm")
        found = facts.at_tips[key] = engaged, _level(option, where, engaged, facts.case) if where else engaged
    return found


def _level(option: Option, scope: Scope, engaged: Fact, case: Case) -> Fact:
    """What a straight pull meets: the undercut at the tip's zones with the cast level.

    A path without any tilt is the level cast itself. Where neither the tilt nor the level depths were recorded,
    nothing is known.
    """
    tilts = _tilts(*(getattr(case.records, name, None) for name in _TILTS))
    if all(tilt.value == 0 for tilt in tilts):
        return _also_from(engaged, tilts)
    near = scope.fact("derived.near_side").value
    if not isinstance(near, str) or option.tip is None:
        return not_recorded(unit="mm")
    zones = [anatomical(zone, near) for zone in option.tip.zones]
    found = largest((scope.fact(f"abutment.undercuts_level_mm.{zone}") for zone in zones), "mm")
    if all(tilt.low is not None and tilt.high is not None and tilt.low <= 0 <= tilt.high for tilt in tilts):
        # level or not, within what was measured
        return either(found, _also_from(engaged, tilts), gather_gaps(tilts))
    return replace(found, gaps=(*found.gaps, "records.tilt_ap_deg")) if found.value is None else found


@lru_cache(maxsize=1024)
def _tilts(*raw: Measured | None) -> tuple[Fact, ...]:
    return tuple(measured(tilt, f"records.{name}") for tilt, name in zip(raw, _TILTS, strict=True))


def _also_from(engaged: Fact, tilts: Iterable[Fact]) -> Fact:
    return replace(engaged, fields=(*engaged.fields, *gather_fields(tilts)))


@cache
def anatomical(zone: str, near: str) -> str:
    """The zone of the crown that a near/far word names, e.g. ``far_facial`` seen from distal is ``mesiofacial``."""
    word, surface = zone.split("_")
    if word == "mid":
        return f"mid{surface}"
    side = near if word == "near" else opposite(near)
    return side if surface == "proximal" else f"{side[:-2]}o{surface}"


def crossing(option: Option) -> str | None:
    """The fact that holds the survey line where the rigid part of the arm crosses: at its origin."""
    if option.arm is None or option.arm.surface == "proximal":
        return None
    if option.arm.surface == "lingual":
        return "derived.lingual_contour"
    return f"derived.{'far' if option.arm.origin == 'far' else 'near'}_contour"


@under_own_figures
def replacement_layer(facts: CaseFacts, tooth: int, option: Option) -> Layer:
    """Option facts of a replacement type for one missing tooth."""
    prescription = facts.case.prescription
    asked = (prescription.replacements or {}) if prescription else {}
    unwanted = (_unwanted(facts.case).replacements or {}).get(tooth, ())
    layer = _common(option, asked.get(tooth), tooth in asked, unwanted)
    space = facts.space_of(tooth)
    span = span_of(facts.case, space) if space else None
    return layer | space_facts(option, facts.case, tooth, span)


@under_own_figures
def connector_layer(facts: CaseFacts, option: Option) -> Layer:
    """Option facts of a major connector."""
    asked = facts.case.prescription.connector if facts.case.prescription else None
    layer = _common(option, asked, asked is not None, _unwanted(facts.case).connector or ())
    return layer | connector_facts(option.id, facts.case, facts.standing)


def rest_site(tooth: int, side: str, option_id: str) -> str:
    """Where a rest sits as seen from the space: ``near far both middle none``."""
    if option_id in _BOTH_ENDS:
        return "both"
    if option_id in _MIDDLE:
        return "middle"
    if option_id == "none":
        return "none"
    return "near" if option_id == side else "far"


def rest_sites(option_id: str, side: str) -> tuple[str, ...]:
    """Where on a tooth a rest takes room, for a near side ``side``."""
    both = ("mesial", "distal")
    return {"mesial_distal": both, "embrasure": both, "long": (side,)}.get(option_id, (option_id,))


@under_own_figures
def rest_layer(facts: CaseFacts, tooth: int, side: str, option: Option, assembly: str) -> Layer:
    """Option facts of a rest on ``tooth``, given the assembly that leads there."""
    prescription = facts.case.prescription
    asked = (prescription.rests or {}) if prescription else {}
    layer = _common(option, asked.get(tooth), tooth in asked)
    layer["rest.at"] = _said(rest_site(tooth, side, option.id), "missing")
    layer["rest.assembly"] = _said(assembly, "missing")
    abutment = facts.surveyed.get(tooth)
    sites = rest_sites(option.id, side)
    if option.id not in ("none", "onlay"):
        rooms = [rest_room(tooth, abutment, site) for site in sites]
        layer["rest.room_mm"] = least(rooms, "mm")
        seats = facts.tooth(tooth).fact("abutment.rest_seats")
        layer["rest.seat_prepared"] = (
            known(all(site in seats.value for site in sites), *seats.fields)
            if isinstance(seats.value, frozenset)
            else not_recorded(*seats.gaps)
        )
    return layer


@under_own_figures
def seat_layer(facts: CaseFacts, tooth: int, rest: str, pair: tuple[int, int]) -> Layer:
    """Option facts of a possible seat for an indirect retainer, given the teeth through which the axis runs."""
    layer: Layer = {"option.id": known(rest, "missing")}
    layer["rest.room_mm"] = rest_room(tooth, facts.surveyed.get(tooth), rest)
    return layer | seat_facts(facts.classification, tooth, rest, pair)
