"""The left-right mirror image of a case: every tooth number, and what leans to one side."""

import re
from functools import cache
from typing import Any

from recommender.domain.case import Case
from recommender.domain.dentition import mirror
from recommender.domain.measures import Interval, Measured, Record
from recommender.domain.numbering import renumbered
from recommender.domain.scans import SurveyPath
from recommender.domain.shape import Shape, record_shape

_SITE = re.compile(r"\[(\d+)\]")


def mirror_case(case: Case) -> Case:
    """The same case with left and right exchanged; id and texts stay. Not validated again.

    ``records.tilt_lateral_deg`` changes its sign (the patient's right down is positive), as do the sideways
    places of the points that a survey was tripoded with.
    """
    changed: Case = _mirrored(case, record_shape(Case))
    if changed.records is not None and changed.records.tilt_lateral_deg:
        tilt = opposite_sign(changed.records.tilt_lateral_deg)
        records = changed.records.model_copy(update={"tilt_lateral_deg": tilt})
        changed = changed.model_copy(update={"records": records})
    if changed.asked is not None:
        changed = changed.model_copy(update={"asked": [_mirrored_path(path) for path in changed.asked]})
    if changed.survey is not None and changed.survey.path is not None:
        path = _mirrored_way(changed.survey.path)
        changed = changed.model_copy(update={"survey": changed.survey.model_copy(update={"path": path})})
    if changed.dentist_answer is not None:
        answers = [
            answer.model_copy(update={"item": renumbered(answer.item, mirror)})
            for answer in changed.dentist_answer
        ]
        changed = changed.model_copy(update={"dentist_answer": answers})
    return changed


def opposite_sign(measured: Measured) -> Measured:
    """The number, or interval, below zero where it was above."""
    if not isinstance(measured, Interval):
        return -measured
    ends = {"low": -measured.high, "value": -measured.value, "high": -measured.low}
    return measured.model_copy(update=ends)


def _mirrored_path(path: str) -> str:
    return _SITE.sub(lambda match: f"[{mirror(int(match.group(1)))}]", path)


def _mirrored_way(path: SurveyPath) -> SurveyPath:
    update: dict[str, Any] = {}
    if path.tilt_lateral_deg:
        update["tilt_lateral_deg"] = -path.tilt_lateral_deg
    if path.tripod is not None and path.tripod.points_mm is not None:
        points = [[-point[0] or 0.0, *point[1:]] for point in path.tripod.points_mm]
        update["tripod"] = path.tripod.model_copy(update={"points_mm": points})
    return path.model_copy(update=update) if update else path


def _mirrored(node: Any, shape: Shape) -> Any:
    if node is None:
        return None
    if shape.kind == "tooth":
        return mirror(node)
    if isinstance(node, Record):
        if shape.kind == "choice":
            shape = record_shape(type(node))
        update = {}
        for name, inner in _bearing(type(node)):
            value = getattr(node, name)
            if value is not None:
                update[name] = _mirrored(value, inner)
        return node.model_copy(update=update) if update else node
    if isinstance(node, dict):
        if shape.kind == "choice":
            shape = shape.for_value(node)
        return {
            mirror(key): _mirrored(value, shape.item) if shape.item else value for key, value in node.items()
        }
    if isinstance(node, list) and shape.item is not None:
        return [_mirrored(item, shape.item) for item in node]
    return node


@cache
def _bearing(model: type[Record]) -> tuple[tuple[str, Shape], ...]:
    """The fields of a record under which a tooth number can stand."""
    return tuple((name, shape) for name, shape in record_shape(model).fields.items() if _bears_tooth(shape))


def _bears_tooth(shape: Shape) -> bool:
    if shape.kind in ("tooth", "map"):
        return True
    inner = (*shape.fields.values(), *shape.choices, *((shape.item,) if shape.item else ()))
    return any(_bears_tooth(part) for part in inner)
