"""From a survey into a case: figures of confirmed teeth as intervals, and where they come from; nothing else."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from recommender.domain.case import Case
from recommender.domain.measures import expected
from recommender.domain.statement import say
from recommender.domain.statement import tooth as one_tooth
from recommender.survey.errors import ScanError
from recommender.survey.provenance import provenance
from recommender.survey.result import Figure, LineHeight, Survey, ToothSurvey
from recommender.survey.settings import settings
from recommender.survey.zones import FACIAL, LINGUAL

NEW, SAME, DIFFERS = "new", "same", "differs"
TILTS = ("tilt_ap_deg", "tilt_lateral_deg")


@dataclass(frozen=True)
class TakenOver:
    """One figure beside what the case said before: ``path`` in the case, ``before`` (or ``None``), ``after``, and how
    they stand: new, same (the old value lies within the new band), differs."""

    path: str
    before: Any
    after: Any
    how: str


def to_take_over(survey: Survey, case: Case, teeth: Iterable[int] | None = None) -> tuple[TakenOver, ...]:
    """What would be taken over, in the order of the case.

    ``teeth`` names the teeth; left out, the confirmed ones that the case lists as abutments or that border a space.
    Raises ``ScanError`` where one that is named was not confirmed.
    """
    rows: list[TakenOver] = []
    records = case.records.model_dump(mode="json", exclude_none=True) if case.records is not None else {}
    rows += _compared("records", {name: getattr(survey.path, name) for name in TILTS}, records)
    for tooth in _teeth(survey, case, teeth):
        listed = next((entry for entry in case.abutments or () if entry.tooth == tooth), None)
        before = listed.model_dump(mode="json", exclude_none=True) if listed is not None else {}
        rows += _compared(f"abutments[{tooth}]", _abutment(survey.teeth[tooth]), before)
    for space in survey.spaces:
        listed_span = next((span for span in case.spans or () if set(span.teeth) == set(space.teeth)), None)
        before = listed_span.model_dump(mode="json", exclude_none=True) if listed_span is not None else {}
        found: dict[str, Any] = {}
        if _beside(space.teeth, survey):
            found["width_mm"] = _interval(space.width_mm)
        rooms = {tooth: _interval(room) for tooth, room in space.clearance_by_tooth_mm.items()}
        found["clearance_mm"] = {tooth: room for tooth, room in rooms.items() if room} or _interval(
            space.clearance_mm
        )
        rows += _compared(f"spans[{space.teeth[0]}]", found, before)
    if survey.palate is not None and survey.confirmed:
        before = case.palate.model_dump(mode="json", exclude_none=True) if case.palate is not None else {}
        rows += _compared("palate", _palate(survey), before)
    return tuple(rows)


def taken_over(
    survey: Survey, case: Case, overwrite: Collection[str] = (), teeth: Iterable[int] | None = None
) -> tuple[Case, tuple[TakenOver, ...]]:
    """The case with the survey's figures and the table of what was taken over beside what stood there.

    A figure that differs from what was recorded replaces it only where its path is in ``overwrite``. Raises
    ``ScanError`` where nothing is confirmed, and where the case records another path of placement that is to stay:
    the figures hold at their own.
    """
    if not survey.confirmed:
        raise ScanError(
            "nothing is confirmed yet: unit, side, level, and outline and margin of at least one tooth"
        )
    chosen = _teeth(survey, case, teeth)
    rows = to_take_over(survey, case, teeth)
    if any(row.path not in overwrite for row in other_path(rows)):
        raise ScanError(
            "the case records another path of placement, and these figures hold at their own: replace the recorded "
            "tilt, or survey at the recorded path"
        )
    data: dict[str, Any] = case.model_dump(mode="json", exclude_none=True)
    spaces = {space.teeth[0]: list(space.teeth) for space in survey.spaces}
    for row in rows:
        if row.how != DIFFERS or row.path in overwrite:
            _put(data, row.path, row.after, spaces)
    block = provenance(survey)
    block["confirmed"] = sorted(chosen)
    data["survey"] = block
    return Case.model_validate(data), rows


def other_path(rows: Iterable[TakenOver]) -> list[TakenOver]:
    """The rows of a recorded path of placement that is not the one the figures hold at."""
    return [row for row in rows if row.how == DIFFERS and row.path.startswith("records.")]


def recorded_path(case: Case) -> tuple[float, float] | None:
    """The path of placement that a case records, as its two tilts (degrees; one that is not recorded level), or
    ``None``."""
    records = case.records
    if records is None or (records.tilt_ap_deg is None and records.tilt_lateral_deg is None):
        return None
    front, right = (
        float(expected(value)) if value is not None else 0.0
        for value in (records.tilt_ap_deg, records.tilt_lateral_deg)
    )
    return front, right


def _teeth(survey: Survey, case: Case, teeth: Iterable[int] | None) -> tuple[int, ...]:
    confirmed = survey.confirmed
    if teeth is not None:
        wanted = tuple(teeth)
        if unsure := [tooth for tooth in wanted if tooth not in confirmed]:
            raise ScanError(
                "outline and margin of a tooth that was named are not confirmed",
                say("survey.refused.not_confirmed", tooth=one_tooth(unsure[0])),
            )
        return wanted
    listed = {entry.tooth for entry in case.abutments or ()}
    gone = set(case.missing)
    order = survey.standing
    return tuple(
        tooth for tooth in order if tooth in confirmed and (tooth in listed or _borders(tooth, gone))
    )


def _borders(tooth: int, gone: set[int]) -> bool:
    from recommender.domain.dentition import neighbour

    return any(neighbour(tooth, side) in gone for side in ("mesial", "distal"))


def _beside(teeth: tuple[int, ...], survey: Survey) -> bool:
    """Whether every tooth that borders the space is confirmed."""
    gone = set(teeth)
    return all(tooth in survey.confirmed for tooth in survey.standing if _borders(tooth, gone))


def _interval(figure: Figure) -> dict[str, float] | None:
    if figure.value is None or figure.low is None or figure.high is None:
        return None
    return {"low": figure.low, "value": figure.value, "high": figure.high}


def _filled(values: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in values.items() if value}


def _abutment(entry: ToothSurvey) -> dict[str, Any]:
    found: dict[str, Any] = {
        "undercuts_mm": _filled({zone: _interval(value) for zone, value in entry.undercuts_mm.items()}),
        "undercuts_level_mm": _filled(
            {zone: _interval(value) for zone, value in entry.undercuts_level_mm.items()}
        ),
        "crown_height_mm": _interval(entry.crown_height_mm),
        "contour_height": _thirds(entry.contour, FACIAL),
        "contour_height_lingual": _thirds(entry.contour, LINGUAL),
        "embrasure_clearance_mm": _filled({k: _interval(v) for k, v in entry.embrasure_clearance_mm.items()}),
        "rest_clearance_mm": _filled({k: _interval(v) for k, v in entry.rest_clearance_mm.items()}),
    }
    overhang, limits = entry.tissue_undercut_mm, settings()["tissue"]
    if overhang.low is not None and overhang.high is not None:
        if overhang.low >= limits["overhang_mm"]:
            found["tissue_undercut"] = True
        elif overhang.high <= limits["smooth_mm"]:
            found["tissue_undercut"] = False
    return found


def _thirds(lines: Any, zones: Collection[str]) -> dict[str, str]:
    own: dict[str, LineHeight] = {zone: lines[zone] for zone in zones if zone in lines}
    return {zone: line.third for zone, line in own.items() if line.sure}


def _palate(survey: Survey) -> dict[str, Any]:
    figures, palate = settings()["palate"], survey.palate
    if palate is None:
        return {}
    found: dict[str, Any] = {"length_mm": _interval(palate.length_mm)}
    for name, figure, words in (
        ("vault", palate.vault_mm, ("shallow", "average", "deep")),
        ("rugae", palate.rugae_mm, ("flat", "average", "prominent")),
    ):
        if figure.low is not None and figure.high is not None:
            low, high = figures[f"{name}_mm"]
            places = {sum(edge >= limit for limit in (low, high)) for edge in (figure.low, figure.high)}
            if len(places) == 1:
                found[name] = words[places.pop()]
    return found


def _compared(path: str, after: dict[Any, Any], before: Any) -> list[TakenOver]:
    """Leaf by leaf, so that each figure can be kept or replaced alone."""
    rows: list[TakenOver] = []
    for name, value in after.items():
        if value is None or value == {}:
            continue
        place = f"{path}.{name}"
        old = before.get(str(name), before.get(name)) if isinstance(before, dict) else None
        if isinstance(value, dict) and set(value) != {"low", "value", "high"}:
            if old is not None and not isinstance(old, dict):
                rows.append(TakenOver(place, old, value, DIFFERS))  # one word for all zones stood there
            else:
                rows += _compared(place, value, old or {})
        else:
            rows.append(TakenOver(place, old, value, _how(old, value)))
    return rows


def _how(old: Any, new: Any) -> str:
    if old is None:
        return NEW
    if isinstance(new, dict) and isinstance(old, (int, float)) and not isinstance(old, bool):
        return SAME if new["low"] <= old <= new["high"] else DIFFERS
    if isinstance(old, dict) and "low" in old and isinstance(new, float):
        return SAME if old["low"] <= new <= old["high"] else DIFFERS
    return SAME if old == new else DIFFERS


def _put(data: dict[str, Any], path: str, value: Any, spaces: Mapping[int, list[int]]) -> None:
    """Set a leaf: ``abutments[14].undercuts_mm.midfacial``, ``spans[15].width_mm`` (the space that begins with that
    tooth), ``palate.length_mm``."""
    head, _, rest = path.partition(".")
    name, _, index = head.rstrip("]").partition("[")
    if name == "abutments":
        target = _entry(data.setdefault("abutments", []), "tooth", int(index))
    elif name == "spans":
        target = _entry(data.setdefault("spans", []), "teeth", spaces[int(index)])
    else:
        target = data.setdefault(name, {})
    *way, last = rest.split(".")
    for step in way:
        held = target.get(step)
        if not isinstance(held, dict) or set(held) == {"low", "value", "high"}:
            target[step] = {}
        target = target[step]
    target[last] = value


def _entry(entries: list[dict[str, Any]], key: str, wanted: Any) -> dict[str, Any]:
    for entry in entries:
        held = entry.get(key)
        if held == wanted or (
            isinstance(wanted, list) and isinstance(held, list) and set(held) == set(wanted)
        ):
            return entry
    entry = {key: wanted}
    entries.append(entry)
    return entry
