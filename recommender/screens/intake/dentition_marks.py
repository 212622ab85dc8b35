"""Marking teeth on a case: every mark gives a case that is sound in itself.

A tooth stands, is missing (to be replaced), absent (not to be), or is an abutment. Marking a tooth as gone takes
its survey and what was prescribed or designed for it off the case; undo brings it back.
"""

from collections.abc import Iterable, Sequence
from typing import Any

from recommender.domain.case import Case
from recommender.domain.checks import check
from recommender.domain.dentition import ARCH_ORDER, in_arch_order
from recommender.domain.findings import Abutment, Span
from recommender.domain.scans import Survey

MARKS = ("standing", "missing", "absent", "abutment")
_NEXT = {"standing": "missing", "abutment": "missing", "missing": "absent", "absent": "standing"}


def mark_of(case: Case, tooth: int) -> str:
    """``missing``, ``absent``, ``abutment`` (surveyed or listed) or ``standing``."""
    if tooth in case.missing:
        return "missing"
    if tooth in (case.absent or ()):
        return "absent"
    listed = any(abutment.tooth == tooth for abutment in case.abutments or ())
    return "abutment" if listed else "standing"


def following(mark: str) -> str:
    """What a click makes of a tooth: standing → missing → absent → standing."""
    return _NEXT[mark]


def marked(case: Case, teeth: Iterable[int], mark: str) -> Case:
    """A copy in which these teeth carry the mark; ``ValueError`` for a tooth of the other arch or an unknown mark."""
    if mark not in MARKS:
        raise ValueError(f"{mark!r} is no mark: {', '.join(MARKS)}")
    wanted = set(teeth)
    strangers = wanted - set(ARCH_ORDER[case.arch])
    if strangers:
        raise ValueError(f"{', '.join(map(str, sorted(strangers)))}: not of the {case.arch}")
    missing = (set(case.missing) - wanted) | (wanted if mark == "missing" else set())
    absent = (set(case.absent or ()) - wanted) | (wanted if mark == "absent" else set())
    gone = mark in ("missing", "absent")
    changes: dict[str, Any] = {
        "missing": in_arch_order(case.arch, missing),
        "absent": in_arch_order(case.arch, absent) if absent or case.absent is not None else None,
        "planned_extractions": _without(case.planned_extractions, wanted),
        "future_loss_likely": _without(case.future_loss_likely, wanted) if gone else case.future_loss_likely,
        "abutments": _abutments(case, wanted, mark),
        "spans": _spans(case, missing),
    }
    # Listing a standing tooth as an abutment touches nothing else.
    if mark != "abutment" or wanted & (set(case.missing) | set(case.absent or ())):
        changes |= {
            "prescription": _parts(case.prescription, wanted, gone, missing),
        }
    changed = case.model_copy(update=changes)
    changed = changed.model_copy(update={"asked": _asked(changed), "survey": _surveyed(changed)})
    if changed.design is not None and any(issue.path[:1] == ("design",) for issue in check(changed)):
        changed = changed.model_copy(update={"design": None})  # it was made for other teeth
    return changed


def _abutments(case: Case, teeth: set[int], mark: str) -> list[Abutment] | None:
    listed = case.abutments
    if mark == "abutment":
        known = {abutment.tooth for abutment in listed or ()}
        new = [Abutment(tooth=tooth) for tooth in in_arch_order(case.arch, teeth - known)]
        return [*(listed or ()), *new]
    left = [abutment for abutment in listed or () if abutment.tooth not in teeth]
    return left or None if listed is not None else None


def _spans(case: Case, missing: set[int]) -> list[Span] | None:
    """Spans whose teeth are all still missing keep their figures; the others no longer describe one space."""
    if case.spans is None:
        return None
    changed = case.model_copy(update={"missing": in_arch_order(case.arch, missing)})
    from recommender.domain.kennedy import spaces

    whole = [set(space.teeth) for space in spaces(changed)]
    kept = [span for span in case.spans if any(set(span.teeth) & missing <= space for space in whole)]
    kept = [span for span in kept if set(span.teeth) <= missing]
    return kept or None


def _asked(case: Case) -> list[str] | None:
    """Fields asked in vain that the case still has."""
    wrong = {issue.path[1] for issue in check(case) if issue.path[:1] == ("asked",)}
    left = [path for index, path in enumerate(case.asked or ()) if index not in wrong]
    return left or None


def _surveyed(case: Case) -> Survey | None:
    if case.survey is None or case.survey.confirmed is None:
        return case.survey
    gone = {*case.missing, *(case.absent or ())}
    return case.survey.model_copy(update={"confirmed": _without(case.survey.confirmed, gone)})


def _without(teeth: Sequence[int] | None, gone: set[int]) -> list[int] | None:
    return None if teeth is None else [tooth for tooth in teeth if tooth not in gone]


def _parts(prescription: Any, teeth: set[int], gone: bool, missing: set[int]) -> Any:
    if prescription is None:
        return None
    update = {
        "replacements": _kept(prescription.replacements, lambda tooth: tooth in missing),
    }
    if gone:
        for name in ("retainers", "rests"):
            update[name] = _kept(getattr(prescription, name), lambda tooth: tooth not in teeth)
    unwanted = prescription.ruled_out
    if unwanted is not None:
        left = {"replacements": _kept(unwanted.replacements, lambda tooth: tooth in missing)}
        if gone:
            left["retainers"] = _kept(unwanted.retainers, lambda tooth: tooth not in teeth)
        update["not"] = unwanted.model_copy(update=left)
    return prescription.model_copy(update=update)


def _kept(entries: dict[int, Any] | None, wanted: Any) -> dict[int, Any] | None:
    return None if entries is None else {tooth: part for tooth, part in entries.items() if wanted(tooth)}
