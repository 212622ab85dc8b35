"""Room, stiffness, cover and weight of a major connector, from what a case records of palate and floor."""

from recommender.domain.case import Case
from recommender.domain.dentition import is_anterior
from recommender.facts.case_fields import floor_depth
from recommender.facts.logic import least
from recommender.facts.values import Fact, between, known, measured, not_recorded
from recommender.mechanics.connectors import connector_geometry, room_left_mm

DENTITION = "missing"


def connector_facts(option_id: str, case: Case, standing: tuple[int, ...]) -> dict[str, Fact]:
    """``connector.*`` of a major connector; a connector that crosses no arch has no stiffness across it."""
    facts = {"connector.room_left_mm": _connector_room(option_id, case, standing)}
    shape = connector_geometry(case.arch, option_id)
    if shape is None:
        facts["connector.stiffness"] = known(0.0, DENTITION, unit="ratio")
        return facts
    for name, band, unit in (
        ("stiffness", shape.stiffness, "ratio"),
        ("covered_cm2", shape.covered_cm2, "cm2"),
        ("weight_g", shape.weight_g, "g"),
    ):
        facts[f"connector.{name}"] = between(band.low, band.high, unit=unit, fields=[DENTITION])
    return facts


def _connector_room(option_id: str, case: Case, standing: tuple[int, ...]) -> Fact:
    if case.arch == "mandible":
        return _lower_room(option_id, case, standing)
    return upper_room(option_id, case)


def _lower_room(option_id: str, case: Case, standing: tuple[int, ...]) -> Fact:
    if room_left_mm(option_id, "floor", 0.0) is not None:
        return less_room(floor_depth(case.floor), option_id, "floor")
    if room_left_mm(option_id, "sulcus", 0.0) is not None:
        depth = case.floor.labial_sulcus_mm if case.floor else None
        return less_room(measured(depth, "floor.labial_sulcus_mm", unit="mm"), option_id, "sulcus")
    if room_left_mm(option_id, "crown", 0.0) is not None:
        return less_room(_least_front_crown(case, standing), option_id, "crown")
    return not_recorded(unit="mm")


def less_room(room: Fact, option_id: str, where: str) -> Fact:
    """What a room within bounds leaves over."""
    low = None if room.low is None else room_left_mm(option_id, where, room.low)
    high = None if room.high is None else room_left_mm(option_id, where, room.high)
    if low is None and high is None:
        return not_recorded(*room.gaps, unit="mm")
    return between(
        None if low is None else low.low, None if high is None else high.high,
        unit="mm", fields=room.fields, gaps=room.gaps,
    )  # fmt: skip


def _least_front_crown(case: Case, standing: tuple[int, ...]) -> Fact:
    """The shortest clinical crown of the standing front teeth; teeth not measured may be shorter still."""
    crowns = []
    for tooth in standing:
        if is_anterior(tooth):
            entry = next((a for a in case.abutments or () if a.tooth == tooth), None)
            height = entry.crown_height_mm if entry else None
            crowns.append(measured(height, f"abutments[{tooth}].crown_height_mm", unit="mm"))
    return least(crowns, "mm")


def upper_room(option_id: str, case: Case) -> Fact:
    """Length of the palate, and the room behind a torus where there is a large one."""
    palate = case.palate
    if room_left_mm(option_id, "palate", 0.0) is None:
        return not_recorded(unit="mm")
    torus = palate.torus if palate else None
    length = measured(palate.length_mm if palate else None, "palate.length_mm", unit="mm")
    along = less_room(length, option_id, "palate")
    if torus is None:
        gaps = (*length.gaps, "palate.torus")
        return between(None, along.high, unit="mm", fields=length.fields, gaps=gaps)
    fields = [*length.fields, "palate.torus"]
    low, high, gaps = along.low, along.high, length.gaps
    if torus in ("large", "large_posterior"):
        behind = _behind_torus(case, torus)
        left = less_room(behind, option_id, "behind_torus")
        fields += behind.fields
        gaps = (*gaps, *behind.gaps)
        low = None if low is None or left.low is None else min(low, left.low)
        highs = [value for value in (high, left.high) if value is not None]
        high = min(highs) if highs else None
    return between(low, high, unit="mm", fields=list(dict.fromkeys(fields)), gaps=gaps)


def _behind_torus(case: Case, torus: str) -> Fact:
    """Room behind the torus: none where it reaches the vibrating line."""
    if torus == "large_posterior":
        return known(0.0, "palate.torus", unit="mm")
    recorded = case.palate.torus_to_vibrating_line_mm if case.palate else None
    return measured(recorded, "palate.torus_to_vibrating_line_mm", unit="mm")
