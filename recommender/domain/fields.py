"""Fields of a case by path, and copies of a case without or with one of them.

Paths read as everywhere in the project: ``patient.age``, ``abutments[14].undercuts_mm.distofacial``,
``spans[16].clearance_mm``, ``spans[16].clearance_mm[15]``, ``occlusion.contacts[15]``. A span is named by its
first tooth in arch order, and found by any of its teeth. Copies share everything that does not change and are
not validated again.
"""

import re
from collections.abc import Iterator
from functools import lru_cache
from typing import Any

from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER
from recommender.domain.findings import Abutment, Span
from recommender.domain.kennedy import spaces
from recommender.domain.measures import Interval, Record

# Fields that are not evidence about the case: what it is called, the dentition itself, what was decided, and
# what came of it.
NOT_EVIDENCE = frozenset(
    {
        "format", "id", "title", "arch", "missing", "absent", "planned_extractions", "asked", "survey",
        "prescription", "design", "dentist_answer", "outcome", "review", "source",
    }
)  # fmt: skip
# What names an entry of a list, or is needed for the entry to exist at all.
_NAMES = frozenset({"tooth", "teeth"})
_STEP = re.compile(r"\.?([a-z_]+)|\[(\d+)\]")

Step = str | int


@lru_cache(maxsize=16384)
def split(path: str) -> tuple[Step, ...]:
    """``abutments[14].tilt`` as ``("abutments", 14, "tilt")``; ``ValueError`` for what is no path."""
    steps: list[Step] = []
    position = 0
    while position < len(path):
        match = _STEP.match(path, position)
        if match is None:
            raise ValueError(f"{path!r} is not a field path")
        steps.append(match.group(1) or int(match.group(2)))
        position = match.end()
    if not steps:
        raise ValueError("an empty field path")
    return tuple(steps)


def get_field(case: Case, path: str) -> Any:
    """The value at a path, ``None`` where it was not recorded; ``ValueError`` for a name the format lacks."""
    node: Any = case
    for step in split(path):
        node = _child(case, node, step)
        if node is None:
            return None
    return node


def without_field(case: Case, path: str) -> Case:
    """A copy in which the field is not recorded (the same case where it was not).

    An abutment or a span is never taken out of its list by this: ``abutments[14]`` alone is a ``ValueError``,
    as is a field that the case cannot be without.
    """
    return _replaced(case, split(path), None)


def with_field(case: Case, path: str, value: Any) -> Case:
    """A copy in which the field has this value (of the type that the case model holds; it is not checked).

    Records and entries of mappings on the way are added where they are lacking, and so is an entry of
    ``abutments`` or ``spans`` that names its own tooth. A field that was asked in vain is no longer so.
    """
    if value is None:
        return without_field(case, path)
    return answered(_replaced(case, split(path), value), path)


def recorded_fields(case: Case) -> list[str]:
    """Paths of all recorded leaves that are evidence about the case, in the order of the format.

    A list of words is one leaf (an empty one too: it records "none of them"). What names an entry (``tooth``,
    ``teeth``) is not a leaf.
    """
    return list(_leaves(case, case, ""))


def canonical(case: Case, path: str) -> str:
    """The path with a space named by its first tooth in arch order, as everywhere but in what people write."""
    steps = split(path)
    if steps[0] != "spans" or len(steps) < 2:
        return path
    space = next((space for space in spaces(case) if steps[1] in space.teeth), None)
    return path if space is None else path.replace(f"[{steps[1]}]", f"[{space.teeth[0]}]", 1)


def asked_in_vain(case: Case, path: str) -> bool:
    """Whether the case says that this field (or all of which it is part) was asked and cannot be had."""
    if not case.asked:
        return False
    here = canonical(case, path)
    return any(_covers(canonical(case, entry), here) for entry in case.asked)


def _covers(entry: str, path: str) -> bool:
    return path == entry or (path.startswith(entry) and path[len(entry)] in ".[")


def answered(case: Case, path: str) -> Case:
    """The case without this field among those asked in vain; of a group that was, the other fields remain."""
    if not asked_in_vain(case, path):
        return case
    here, kept = canonical(case, path), list[str]()
    for entry in case.asked or ():
        whole = canonical(case, entry)
        if not _covers(whole, here):
            kept.append(entry)
        elif whole != here:
            kept += [f"{entry}.{name}" for name in _parts_of(whole) if not _covers(f"{whole}.{name}", here)]
    return case.model_copy(update={"asked": kept or None})


def _parts_of(path: str) -> tuple[str, ...]:
    from recommender.domain.shape import declared

    shape = declared(split(path))
    if shape is not None and shape.kind == "choice":
        shape = shape.for_value({})
    return (
        tuple(shape.fields) if shape is not None and shape.kind == "record" and not shape.is_interval else ()
    )


def entry_name(case: Case, entry: Any) -> int | None:
    """The tooth that names an entry of a list: its tooth, or the first of its teeth in arch order."""
    tooth = getattr(entry, "tooth", None)
    if tooth is not None:
        return int(tooth)
    teeth = getattr(entry, "teeth", None)
    return min(teeth, key=ARCH_ORDER[case.arch].index) if teeth else None


def _child(case: Case, node: Any, step: Step) -> Any:
    if isinstance(node, Record) and not isinstance(node, Interval) and isinstance(step, str):
        if step not in type(node).model_fields:
            raise ValueError(f"the case format has no field {step!r} there")
        return getattr(node, step)
    if isinstance(node, dict):
        return node.get(step)
    if isinstance(node, list) and isinstance(step, int):
        return next((entry for entry in node if _named(entry, step)), None)
    if isinstance(step, str):
        raise ValueError(f"nothing named {step!r} there")
    return None


def _replaced(case: Case, steps: tuple[Step, ...], value: Any) -> Case:
    changed: Case = _set(case, case, steps, value)
    return changed


def _set(case: Case, node: Any, steps: tuple[Step, ...], value: Any) -> Any:
    """The node with the value at the remaining steps; the same node where nothing changes."""
    step, rest = steps[0], steps[1:]
    if isinstance(node, Record) and not isinstance(node, Interval) and isinstance(step, str):
        return _set_in_record(case, node, step, rest, value)
    if isinstance(node, dict) and isinstance(step, int):
        return _set_in_mapping(node, step, rest, value)
    if value is None and isinstance(step, int):
        return node
    raise ValueError(f"nothing can stand at {step!r}")


def _set_in_record(case: Case, node: Record, step: str, rest: tuple[Step, ...], value: Any) -> Record:
    info = type(node).model_fields.get(step)
    if info is None:
        raise ValueError(f"the case format has no field {step!r} there")
    present = getattr(node, step)
    if not rest:
        if value is None and info.is_required():
            raise ValueError(f"a case cannot be without {step!r}")
        if present is value:
            return node
        return node.model_copy(update={step: value})
    if present is None:
        if value is None:
            return node
        present = _empty(type(node), step, rest[0])
    if isinstance(present, list):
        changed: Any = _set_in_list(case, step, present, rest, value)
    else:
        changed = _set(case, present, rest, value)
    return node if changed is present else node.model_copy(update={step: changed})


def _set_in_mapping(node: dict[int, Any], step: int, rest: tuple[Step, ...], value: Any) -> dict[int, Any]:
    if rest:
        raise ValueError("nothing lies below an entry of a mapping")
    if value is None:
        return {key: item for key, item in node.items() if key != step} if step in node else node
    return {**node, step: value}


def _set_in_list(case: Case, name: str, node: list[Any], steps: tuple[Step, ...], value: Any) -> list[Any]:
    step, rest = steps[0], steps[1:]
    if not isinstance(step, int) or not rest:
        raise ValueError(f"an entry of {name} is not a field: name a field of it")
    for index, entry in enumerate(node):
        if _named(entry, step):
            changed = _set(case, entry, rest, value)
            return node if changed is entry else [*node[:index], changed, *node[index + 1 :]]
    if value is None:
        return node
    return [*node, _set(case, _new_entry(case, name, step), rest, value)]


def _new_entry(case: Case, name: str, tooth: int) -> Record:
    if name == "abutments":
        return Abutment(tooth=tooth)
    space = next((space for space in spaces(case) if tooth in space.teeth), None)
    if name != "spans" or space is None:
        raise ValueError(f"there is no entry {name}[{tooth}]")
    return Span(teeth=list(space.teeth))


def _named(entry: Any, tooth: int) -> bool:
    return getattr(entry, "tooth", None) == tooth or tooth in (getattr(entry, "teeth", None) or ())


def _empty(model: type[Record], step: str, below: Step) -> Any:
    """What stands at a field before anything is recorded in it: a record, a mapping, or a list of entries."""
    from recommender.domain.shape import record_shape

    shape = record_shape(model).fields[step]
    if shape.kind == "choice":
        shape = shape.for_value({})
    if shape.kind == "list":
        return []
    if shape.kind == "map":
        return {}
    if (
        shape.kind == "record"
        and isinstance(below, str)
        and shape.model is not None
        and not shape.is_interval
    ):
        return shape.model()
    raise ValueError(f"nothing can stand below {step!r}")


def _leaves(case: Case, node: Any, path: str) -> Iterator[str]:
    if isinstance(node, Interval):
        yield path
    elif isinstance(node, Record):
        top = node is case
        for name in type(node).model_fields:
            if (top and name in NOT_EVIDENCE) or (not top and name in _NAMES):
                continue
            value = getattr(node, name)
            if name == "kind" and getattr(node, "tooth", None) in case.missing:
                continue  # a kept root or implant: part of the dentition
            if value is not None:
                yield from _leaves(case, value, f"{path}.{name}" if path else name)
    elif isinstance(node, dict):
        for key, value in node.items():
            if value is not None:
                yield from _leaves(case, value, f"{path}[{key}]")
    elif isinstance(node, list) and node and isinstance(node[0], (Abutment, Span)):
        for entry in node:
            yield from _leaves(case, entry, f"{path}[{entry_name(case, entry)}]")
    elif path not in ("abutments", "spans"):
        yield path
