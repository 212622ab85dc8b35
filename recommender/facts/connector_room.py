"""Room, stiffness, cover and weight of a major connector, from what a case records of palate and floor."""

from recommender.domain.case import Case
from recommender.domain.dentition import is_anterior
from recommender.facts.case_fields import floor_depth
from recommender.facts.values import Fact, between, known, not_recorded
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
    return _upper_room(option_id, case)


def _lower_room(option_id: str, case: Case, standing: tuple[int, ...]) -> Fact:
    if room_left_mm(option_id, "floor", 0.0) is not None:
        return _less(floor_depth(case.floor), option_id, "floor")
    if room_left_mm(option_id, "sulcus", 0.0) is not None:
        depth = case.floor.labial_sulcus_mm if case.floor else None
        where = "floor.labial_sulcus_mm"
        fact = not_recorded(where, unit="mm") if depth is None else known(depth, where, unit="mm")
        return _less(fact, option_id, "sulcus")
    if room_left_mm(option_id, "crown", 0.0) is not None:
        return _less(_least_front_crown(case, standing), option_id, "crown")
    return not_recorded(unit="mm")


def _less(room: Fact, option_id: str, where: str) -> Fact:
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
    front = [tooth for tooth in standing if is_anterior(tooth)]
    measured, fields, gaps = [], [], []
    for tooth in front:
        entry = next((a for a in case.abutments or () if a.tooth == tooth), None)
        path = f"abutments[{tooth}].crown_height_mm"
        if entry is None or entry.crown_height_mm is None:
            gaps.append(path)
        else:
            measured.append(entry.crown_height_mm)
            fields.append(path)
    if not measured:
        return not_recorded(*gaps, unit="mm")
    least = min(measured)
    return between(None if gaps else least, least, unit="mm", fields=fields, gaps=gaps)


def _upper_room(option_id: str, case: Case) -> Fact:
    """Length of the palate, and the room behind a torus where there is a large one."""
    palate = case.palate
    if room_left_mm(option_id, "palate", 0.0) is None:
        return not_recorded(unit="mm")
    torus = palate.torus if palate else None
    length = palate.length_mm if palate else None
    along = None if length is None else room_left_mm(option_id, "palate", length)
    fields = ["palate.length_mm"] if length is not None else []
    gaps = [] if length is not None else ["palate.length_mm"]
    (fields if torus is not None else gaps).append("palate.torus")
    low = None if along is None else along.low
    high = None if along is None else along.high
    if torus is None:
        return between(None, high, unit="mm", fields=fields, gaps=gaps)
    if torus in ("large", "large_posterior"):
        behind, path = _behind_torus(case, torus)
        (fields if behind is not None or path == "palate.torus" else gaps).append(path)
        left = None if behind is None else room_left_mm(option_id, "behind_torus", behind)
        low = None if low is None or left is None else min(low, left.low)
        highs = [value for value in (high, None if left is None else left.high) if value is not None]
        high = min(highs) if highs else None
    return between(low, high, unit="mm", fields=list(dict.fromkeys(fields)), gaps=gaps)


def _behind_torus(case: Case, torus: str) -> tuple[float | None, str]:
    """Room behind the torus: none where it reaches the vibrating line."""
    if torus == "large_posterior":
        return 0.0, "palate.torus"
    recorded = case.palate.torus_to_vibrating_line_mm if case.palate else None
    return recorded, "palate.torus_to_vibrating_line_mm"
