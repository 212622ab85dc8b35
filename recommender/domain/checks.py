"""Checks across the fields of a case whose single values are already valid.

That a tooth number is a tooth of this arch is checked where numbers are read (``intake``), for every field.
Here: which teeth may stand in which list, what spans may hold, and values that can only be a slip of the pen
(``shared/ranges.yaml``).
"""

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache, cached_property
from math import inf
from typing import Any

from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER, in_arch_order
from recommender.domain.designs import Design, Prescription
from recommender.domain.errors import shown
from recommender.domain.fields import NOT_EVIDENCE, get_field, split
from recommender.domain.measures import Interval, Record
from recommender.domain.shape import declared
from recommender.domain.validation import Issue
from recommender.domain.vocabulary import connectors

BOUNDS = tuple(Interval.model_fields)


def check(case: Case) -> Iterator[Issue]:
    """Every contradiction in the case, placed at the field that should change."""
    yield from _dentition(case)
    yield from _repeats(case)
    yield from _abutments(case)
    yield from _spans(case)
    yield from _one_arch(case)
    yield from _asked(case)
    if case.prescription is not None:
        yield from _parts(case, ("prescription",), case.prescription)
        yield from _ruled_out(case, case.prescription)
    if case.design is not None:
        yield from _parts(case, ("design",), case.design)
        yield from _design(case, case.design)
    yield from _ranges(case)


def _gone(case: Case) -> set[int]:
    return {*case.missing, *(case.absent or ()), *(case.planned_extractions or ())}


def _kept(case: Case) -> set[int]:
    """Missing teeth whose root or implant stays under the base."""
    missing = set(case.missing)
    return {a.tooth for a in case.abutments or () if a.kind in ("root", "implant") and a.tooth in missing}


def _dentition(case: Case) -> Iterator[Issue]:
    missing, absent = set(case.missing), set(case.absent or ())
    for index, tooth in enumerate(case.absent or ()):
        if tooth in missing:
            yield Issue(
                ("absent", index), "a tooth that is not in missing", "a tooth is in one of the two lists"
            )
    for index, tooth in enumerate(case.planned_extractions or ()):
        if tooth not in missing and tooth not in absent:
            hint = "add it to missing (to be replaced) or to absent (not to be replaced)"
            yield Issue(("planned_extractions", index), "a tooth that is also in missing or absent", hint)
    standing = set(ARCH_ORDER[case.arch]) - _gone(case)
    if not standing:
        found = "an arch without a standing tooth"
        yield Issue(
            ("missing",), "at least one standing tooth", "an edentulous arch is not for this program", found
        )
    for index, tooth in enumerate(case.future_loss_likely or ()):
        if tooth not in standing and tooth not in _kept(case):
            yield Issue(("future_loss_likely", index), "a tooth that stands")


def _repeats(case: Case) -> Iterator[Issue]:
    lists: list[tuple[tuple[Any, ...], Collection[Any] | None]] = [
        ((name,), getattr(case, name))
        for name in ("missing", "absent", "planned_extractions", "future_loss_likely", "asked")
    ]
    if case.patient is not None:
        lists.append((("patient", "allergy"), case.patient.allergy))
    if case.occlusion is not None:
        lists += [
            (("occlusion", "contacts", t), kinds) for t, kinds in (case.occlusion.contacts or {}).items()
        ]
    for index, span in enumerate(case.spans or ()):
        lists.append((("spans", index, "teeth"), span.teeth))
    for index, abutment in enumerate(case.abutments or ()):
        for name in ("rest_seats", "guiding_planes", "permitted"):
            lists.append((("abutments", index, name), getattr(abutment, name)))
    if case.design is not None:
        for name in ("plating", "bases"):
            for index, part in enumerate(getattr(case.design, name) or ()):
                lists.append((("design", name, index, "teeth"), part.teeth))
    lists += _repeats_ruled_out(case)
    for path, values in lists:
        if not values or len(set(values)) == len(values):
            continue
        seen = set()
        for index, value in enumerate(values):
            if value in seen:
                yield Issue((*path, index), "each entry once", found=f"{value} a second time")
            seen.add(value)


def _repeats_ruled_out(case: Case) -> Iterator[tuple[tuple[Any, ...], Collection[Any] | None]]:
    unwanted = case.prescription.ruled_out if case.prescription else None
    if unwanted is not None:
        path = ("prescription", "not")
        yield (*path, "connector"), unwanted.connector
        for name in ("retainers", "replacements"):
            for tooth, words in (getattr(unwanted, name) or {}).items():
                yield (*path, name, tooth), words


def _abutments(case: Case) -> Iterator[Issue]:
    missing, gone = set(case.missing), _gone(case)
    seen: set[int] = set()
    for index, abutment in enumerate(case.abutments or ()):
        path = ("abutments", index, "tooth")
        if abutment.tooth in seen:
            yield Issue(path, "each abutment once", found=f"{abutment.tooth} a second time")
        elif abutment.tooth in missing and abutment.kind not in ("root", "implant"):
            hint = "for a root or an implant that stays under the base say kind: root or kind: implant"
            yield Issue(path, "a tooth that is not in missing", hint)
        elif abutment.tooth in gone and abutment.tooth not in missing:
            yield Issue(path, "a tooth that is not in absent")
        seen.add(abutment.tooth)


def _spans(case: Case) -> Iterator[Issue]:
    missing, absent = set(case.missing), set(case.absent or ())
    order = ARCH_ORDER[case.arch]
    taken: set[int] = set()
    for index, span in enumerate(case.spans or ()):
        path = ("spans", index, "teeth")
        strangers = [place for place, tooth in enumerate(span.teeth) if tooth not in missing]
        for place in strangers:
            yield Issue((*path, place), "a tooth that is in missing")
        # a number that is no tooth of this arch is reported where numbers are read
        teeth = in_arch_order(case.arch, set(span.teeth) & set(order))
        run = order[order.index(teeth[0]) : order.index(teeth[-1]) + 1] if teeth else ()
        if not strangers and any(tooth not in teeth and tooth not in absent for tooth in run):
            hint = "one entry for each space; absent teeth whose space closed are skipped"
            yield Issue(path, "teeth that follow each other along the arch", hint)
        for place, tooth in enumerate(span.teeth):
            if tooth in taken:
                yield Issue((*path, place), "a tooth of one span only")
        taken |= set(span.teeth)
        if isinstance(span.clearance_mm, dict):
            for tooth in span.clearance_mm:
                if tooth not in span.teeth:
                    yield Issue(("spans", index, "clearance_mm", tooth), "a tooth of this span", key=True)


def _one_arch(case: Case) -> Iterator[Issue]:
    if case.palate is not None and case.arch == "mandible":
        yield Issue(("palate",), "palate in a case of the maxilla", key=True, found="palate in the mandible")
    if case.floor is not None and case.arch == "maxilla":
        yield Issue(("floor",), "floor in a case of the mandible", key=True, found="floor in the maxilla")


def _parts(case: Case, path: tuple[Any, ...], parts: Prescription | Design) -> Iterator[Issue]:
    """What prescription and design share: connector of this arch, teeth that can carry or be replaced."""
    known = connectors(case.arch)
    if parts.connector is not None and parts.connector not in known:
        yield Issue((*path, "connector"), " | ".join(known), f"that is no connector of the {case.arch}")
    for tooth in parts.replacements or ():
        if tooth not in case.missing:
            yield Issue((*path, "replacements", tooth), "a tooth that is in missing", key=True)
    carrying = _carrying(case)
    for tooth in parts.rests or ():
        if tooth not in carrying:
            yield Issue((*path, "rests", tooth), _CARRIER, key=True)
    if isinstance(parts.retainers, dict):
        for tooth in parts.retainers:
            if tooth not in carrying:
                yield Issue((*path, "retainers", tooth), _CARRIER, key=True)


def _ruled_out(case: Case, prescription: Prescription) -> Iterator[Issue]:
    """What is not wanted: of this arch, of teeth that can carry or are missing, and not asked for as well."""
    unwanted = prescription.ruled_out
    if unwanted is None:
        return
    path, known = ("prescription", "not"), connectors(case.arch)
    for index, connector in enumerate(unwanted.connector or ()):
        if connector not in known:
            yield Issue(
                (*path, "connector", index), " | ".join(known), f"that is no connector of the {case.arch}"
            )
        elif connector == prescription.connector:
            yield Issue((*path, "connector", index), "a connector that the prescription does not ask for")
    carrying = _carrying(case)
    for tooth in unwanted.retainers or ():
        if tooth not in carrying:
            yield Issue((*path, "retainers", tooth), _CARRIER, key=True)
    for tooth in unwanted.replacements or ():
        if tooth not in case.missing:
            yield Issue((*path, "replacements", tooth), "a tooth that is in missing", key=True)
    for name in ("retainers", "replacements"):
        wanted = getattr(prescription, name) or {}
        for tooth, words in (getattr(unwanted, name) or {}).items():
            for index, word in enumerate(words):
                if wanted.get(tooth) == word:
                    allowed = f"an option that the prescription does not ask for at tooth {tooth}"
                    yield Issue((*path, name, tooth, index), allowed)


def may_be_asked(case: Case, path: str) -> bool:
    """Whether a field can stand in ``asked``: a finding of the format that is not recorded."""
    return _no_question(case, path) is None and _recorded_under(case, path) is None


def _asked(case: Case) -> Iterator[Issue]:
    """Fields that were asked in vain: of the format, and not recorded."""
    for index, path in enumerate(case.asked or ()):
        hint = _no_question(case, path)
        if hint is not None:
            yield Issue(("asked", index), "a field of the case that may be asked for", hint)
        elif (found := _recorded_under(case, path)) is not None:
            yield Issue(
                ("asked", index), "a field that is not recorded", "a field is recorded or asked in vain, not both",
                f"{path}, recorded as {shown(found)}",
            )  # fmt: skip


def _no_question(case: Case, path: str) -> str | None:
    """Why nobody could be asked for this, or ``None`` where it is a field."""
    try:
        steps = split(path)
        get_field(case, path)
    except ValueError:
        return "written like patient.allergy or abutments[14].disease"
    if steps[0] in NOT_EVIDENCE - {"absent", "planned_extractions"}:
        return "of the findings, not of names, orders, designs or outcomes"
    shape = declared(steps)
    if shape is None:
        return "written like patient.allergy or abutments[14].disease"
    if shape.kind == "record" and (len(steps) == 1 or isinstance(steps[-1], int)):
        return "name a field of it"
    if shape.kind == "list" and shape.item is not None and shape.item.kind == "record":
        return "name one entry and a field of it, like abutments[14].disease"
    if steps[0] == "abutments" and steps[1] not in _carrying(case):
        return "the tooth does not stand"
    if steps[0] == "spans" and steps[1] not in case.missing:
        return "a space is named by one of its missing teeth"
    return None


def _recorded_under(case: Case, path: str) -> Any:
    """The value, or one of the values, recorded at a path or below it."""
    found = get_field(case, path)
    if not isinstance(found, Record) or isinstance(found, Interval):
        return found
    return next((value for name in _names(found) if (value := getattr(found, name)) is not None), None)


_CARRIER = "a tooth that stands (or an abutment of kind root or implant)"


def _carrying(case: Case) -> Collection[int]:
    return (set(ARCH_ORDER[case.arch]) - _gone(case)) | _kept(case)


def _design(case: Case, design: Design) -> Iterator[Issue]:
    carrying, gone = _carrying(case), _gone(case)
    for name in ("retainers", "indirect_retainers", "minor_connectors", "proximal_plates", "preparation"):
        for index, part in enumerate(getattr(design, name) or ()):
            if part.tooth not in carrying:
                yield Issue(("design", name, index, "tooth"), _CARRIER)
    for index, retainer in enumerate(design.retainers or ()):
        if retainer.partner is not None and (
            retainer.partner not in carrying or retainer.partner == retainer.tooth
        ):
            yield Issue(("design", "retainers", index, "partner"), "another tooth that stands")
    for index, plating in enumerate(design.plating or ()):
        for place, tooth in enumerate(plating.teeth):
            if tooth not in carrying:
                yield Issue(("design", "plating", index, "teeth", place), _CARRIER)
    for index, base in enumerate(design.bases or ()):
        for place, tooth in enumerate(base.teeth):
            if tooth not in gone:
                yield Issue(
                    ("design", "bases", index, "teeth", place), "a tooth that is in missing or absent"
                )


@dataclass
class _Limit:
    """What may stand at one step of the patterns: its own limits, and those below it."""

    here: list[tuple[float | None, float | None, str]] = field(default_factory=list)
    below: dict[str, "_Limit"] = field(default_factory=dict)

    @cached_property
    def ends(self) -> tuple[float, float]:
        """The least and the most that a number here may be."""
        every = self.below.get("*")
        held = (*self.here, *(every.here if every is not None else ()))
        lows = (least for least, _, _ in held if least is not None)
        highs = (most for _, most, _ in held if most is not None)
        return max(lows, default=-inf), min(highs, default=inf)


@cache
def _limits() -> _Limit:
    """The patterns of ``shared/ranges.yaml`` as one tree, so that a case is gone through once."""
    from recommender.resources import read_yaml, shared

    document = read_yaml(shared("ranges.yaml").read_bytes())
    root = _Limit()
    for entry in document["ranges"]:
        node = root
        for step in str(entry["field"]).replace("[]", ".[]").split("."):
            node = node.below.setdefault(step, _Limit())
        node.here.append((entry.get("least"), entry.get("most"), str(entry["why"])))
    return root


def _ranges(case: Case) -> Iterator[Issue]:
    # nearly every case keeps to them all: one quick look before the careful one that says where
    return iter(()) if _within(case, _limits()) else _beyond(case, _limits(), ())


def _within(node: Any, limit: "_Limit") -> bool:
    """Whether no number lies beyond its limits: whatever ``_beyond`` finds is not within."""
    kind = node.__class__
    if kind is float or kind is int:
        low, high = limit.ends
        return bool(low <= node <= high)
    if kind is list:
        inner = limit.below.get("[]")
        return inner is None or all(_within(item, inner) for item in node)
    if kind is not dict and isinstance(node, (bool, Interval)):
        return next(_beyond(node, limit, ()), None) is None
    held = node if kind is dict else vars(node)
    every = limit.below.get("*")
    if every is not None:
        return all(item is None or _within(item, every) for item in held.values())
    for step, inner in limit.below.items():
        item = held.get(step)
        if item is not None and not _within(item, inner):
            return False
    return True


def _beyond(node: Any, limit: _Limit, path: tuple[Any, ...]) -> Iterator[Issue]:
    """The numbers beyond their limits; ``*`` also fits a plain number in place of a mapping."""
    if isinstance(node, (int, float)):
        yield from _outside(float(node), limit, path)
    elif isinstance(node, Interval):
        for end in BOUNDS:
            yield from _outside(float(getattr(node, end)), limit, (*path, end))
    elif isinstance(node, list):
        inner = limit.below.get("[]")
        if inner is not None:
            for index, item in enumerate(node):
                yield from _beyond(item, inner, (*path, index))
    else:
        held = node if isinstance(node, dict) else vars(node)
        every = limit.below.get("*")
        if every is not None:
            for name, item in held.items():
                if item is not None:
                    yield from _beyond(item, every, (*path, name))
        else:
            for step, inner in limit.below.items():
                item = held.get(step)
                if item is not None:
                    yield from _beyond(item, inner, (*path, step))


def _outside(value: float, limit: _Limit, path: tuple[Any, ...]) -> Iterator[Issue]:
    every = limit.below.get("*")
    for least, most, why in (*limit.here, *(every.here if every is not None else ())):
        if (least is not None and value < least) or (most is not None and value > most):
            yield Issue(path, _between(least, most), why)


def _between(least: float | None, most: float | None) -> str:
    if least is None:
        return f"at most {most:g}"
    return f"{least:g} or more" if most is None else f"a number from {least:g} to {most:g}"


def _names(record: Record) -> Iterable[str]:
    return type(record).model_fields
