"""What a person confirmed on a scan: the MARKS file, read and written. Points are in mm, in the frame of the scan's
file."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import yaml

from recommender.domain.dentition import is_tooth
from recommender.survey.arrays import Floats
from recommender.survey.errors import ScanError
from recommender.survey.frames import OUTLINE
from recommender.survey.settings import settings

_FARTHEST = 10_000.0
_MOST_POINTS = 2_000
_MOST_BYTES = 1_000_000
_KEYS = {"scan", "unit", "side", "level", "standing", "teeth", "crests", "path", "palate"}


@dataclass(frozen=True)
class ToothMarks:
    """``outline``: four points by name, or none; ``margin`` (n, 3), or none; ``inside`` a place within the tooth (a
    correction of the proposal); ``confirmed`` when a person stands by outline and margin, as marked or, where they
    are not marked, as they are found."""

    outline: Mapping[str, Floats] | None = None
    margin: Floats | None = None
    inside: Floats | None = None
    confirmed: bool = False


@dataclass(frozen=True)
class Marks:
    """Everything a person marked. ``level`` (3, 3); ``side`` a tooth and a place on it; ``crests`` lines by the teeth
    of the space; ``path`` the two tilts in degrees."""

    scan: str | None = None
    unit: str | None = None
    side: tuple[int, Floats] | None = None
    level: Floats | None = None
    standing: tuple[int, ...] | None = None
    teeth: Mapping[int, ToothMarks] = field(default_factory=dict)
    crests: Mapping[tuple[int, ...], Floats] = field(default_factory=dict)
    path: tuple[float, float] | None = None
    palate: Mapping[str, Floats] = field(default_factory=dict)


def read_marks(text: str) -> Marks:
    """Marks from YAML. Raises ``ScanError`` naming the field, what was found and what is allowed."""
    if len(text) > _MOST_BYTES:
        raise ScanError("the marks are larger than a megabyte")
    if any(isinstance(token, yaml.AliasToken) for token in _tokens(text)):
        raise ScanError("the marks hold a YAML alias, which is not read")
    try:
        loaded = yaml.load(text, Loader=yaml.CSafeLoader)
    except (yaml.YAMLError, ValueError, RecursionError) as error:
        raise ScanError(f"the marks are no YAML that can be read{_line(error)}") from None
    return marks_of({} if loaded is None else loaded)


def _tokens(text: str) -> Any:
    try:
        yield from yaml.scan(text, Loader=yaml.CSafeLoader)
    except (yaml.YAMLError, ValueError):
        return


def _line(error: Exception) -> str:
    mark = getattr(error, "problem_mark", None)
    return f" (line {mark.line + 1})" if mark is not None else ""


def marks_of(document: Any) -> Marks:
    """Marks from plain data. Raises ``ScanError``."""
    _mapping(document, "the marks", _KEYS)
    side = document.get("side")
    if side is not None:
        _mapping(side, "side", {"tooth", "point"})
    path = document.get("path")
    if path is not None:
        _mapping(path, "path", {"tilt_ap_deg", "tilt_lateral_deg"})
    palate = document.get("palate", {})
    _mapping(palate, "palate", {"incisive_papilla", "vibrating_line"})
    level = document.get("level")
    unit = document.get("unit")
    if unit is not None and unit not in settings()["units"]:
        raise ScanError(f"unit: found {unit!r}; allowed {', '.join(settings()['units'])}")
    crests = document.get("crests", [])
    if not isinstance(crests, list):
        raise ScanError("crests: allowed a list of {teeth, line}")
    return Marks(
        scan=str(document["scan"]) if document.get("scan") else None,
        unit=unit,
        side=(_tooth(side.get("tooth"), "side.tooth"), _point(side.get("point"), "side.point"))
        if side
        else None,
        level=_points(level, "level", 3, 3) if level is not None else None,
        standing=tuple(_teeth(document["standing"], "standing"))
        if document.get("standing") is not None
        else None,
        teeth={
            _tooth(tooth, "teeth"): _tooth_marks(entry, f"teeth.{tooth}")
            for tooth, entry in _mapping(document.get("teeth", {}), "teeth").items()
        },
        crests=dict(_crest(entry, index) for index, entry in enumerate(crests)),
        path=(_angle(path, "tilt_ap_deg"), _angle(path, "tilt_lateral_deg")) if path else None,
        palate={name: _point(place, f"palate.{name}") for name, place in palate.items()},
    )


def _crest(entry: Any, index: int) -> tuple[tuple[int, ...], Floats]:
    name = f"crests[{index}]"
    _mapping(entry, name, {"teeth", "line"})
    return tuple(sorted(_teeth(entry.get("teeth"), name + ".teeth"))), _points(
        entry.get("line"), name + ".line", 2
    )


def _tooth_marks(entry: Any, name: str) -> ToothMarks:
    _mapping(entry, name, {"outline", "margin", "inside", "confirmed"})
    outline = entry.get("outline")
    if outline is not None:
        _mapping(outline, name + ".outline", set(OUTLINE))
        if set(outline) != set(OUTLINE):
            raise ScanError(f"{name}.outline: allowed the four points {', '.join(OUTLINE)}")
        outline = {key: _point(place, f"{name}.outline.{key}") for key, place in outline.items()}
    confirmed = entry.get("confirmed", False)
    if not isinstance(confirmed, bool):
        raise ScanError(f"{name}.confirmed: allowed true or false")
    margin, inside = entry.get("margin"), entry.get("inside")
    return ToothMarks(
        outline,
        _points(margin, name + ".margin", 1) if margin is not None else None,
        _point(inside, name + ".inside") if inside is not None else None,
        confirmed,
    )


def _mapping(value: Any, name: str, allowed: set[str] | None = None) -> Mapping[Any, Any]:
    if not isinstance(value, Mapping):
        raise ScanError(f"{name}: allowed a mapping")
    if allowed is not None and (unknown := [key for key in value if key not in allowed]):
        raise ScanError(f"{name}: found {str(unknown[0])[:40]!r}; allowed {', '.join(sorted(allowed))}")
    return value


def _tooth(value: Any, name: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not is_tooth(value):
        raise ScanError(f"{name}: found {str(value)[:40]!r}; allowed an ISO 3950 tooth number")
    return value


def _teeth(value: Any, name: str) -> list[int]:
    if not isinstance(value, list) or not value:
        raise ScanError(f"{name}: allowed a list of tooth numbers")
    return [_tooth(tooth, name) for tooth in value]


def _point(value: Any, name: str) -> Floats:
    good = isinstance(value, list) and len(value) == 3
    good = good and all(
        isinstance(x, (int, float)) and not isinstance(x, bool) and abs(x) < _FARTHEST for x in value
    )
    if not good:
        raise ScanError(f"{name}: allowed a point [x, y, z] in mm")
    return np.array(value, dtype=np.float64)


def _points(value: Any, name: str, least: int, most: int = _MOST_POINTS) -> Floats:
    if not isinstance(value, list) or not least <= len(value) <= most:
        count = str(least) if least == most else f"at least {least}"
        raise ScanError(f"{name}: allowed {count} points [x, y, z] in mm")
    return np.array([_point(place, name) for place in value])


def _angle(path: Mapping[str, Any], name: str) -> float:
    value = path.get(name)
    if (
        isinstance(value, bool)
        or not isinstance(value, (int, float))
        or not math.isfinite(value)
        or abs(value) > 30
    ):
        raise ScanError(f"path.{name}: allowed degrees from -30 to 30")
    return float(value)


def marks_document(marks: Marks) -> dict[str, Any]:
    """Marks as plain data, as a MARKS file holds them."""
    document: dict[str, Any] = {}
    if marks.scan:
        document["scan"] = marks.scan
    if marks.unit:
        document["unit"] = marks.unit
    if marks.side:
        document["side"] = {"tooth": marks.side[0], "point": _plain(marks.side[1])}
    if marks.level is not None:
        document["level"] = _plain(marks.level)
    if marks.standing is not None:
        document["standing"] = list(marks.standing)
    document["teeth"] = {tooth: _tooth_document(entry) for tooth, entry in sorted(marks.teeth.items())}
    if marks.crests:
        document["crests"] = [
            {"teeth": list(teeth), "line": _plain(line)} for teeth, line in marks.crests.items()
        ]
    if marks.path:
        document["path"] = {"tilt_ap_deg": marks.path[0], "tilt_lateral_deg": marks.path[1]}
    if marks.palate:
        document["palate"] = {name: _plain(place) for name, place in marks.palate.items()}
    return document


def _tooth_document(entry: ToothMarks) -> dict[str, Any]:
    document: dict[str, Any] = {}
    if entry.outline:
        document["outline"] = {name: _plain(entry.outline[name]) for name in OUTLINE}
    if entry.margin is not None:
        document["margin"] = _plain(entry.margin)
    if entry.inside is not None:
        document["inside"] = _plain(entry.inside)
    document["confirmed"] = entry.confirmed
    return document


def _plain(points: Floats) -> Any:
    return np.round(points, 4).tolist()
