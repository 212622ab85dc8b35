"""Which options a case's design uses, and how the case fared, in the words that a library is counted by."""

from typing import get_args

from recommender.domain import vocabulary as v
from recommender.domain.case import Case

ADVERSE = frozenset(get_args(v.EventKind)) - {"adjusted", "relined", "sore_spot"}
"""Events beyond ordinary upkeep and settling in."""

PER_DECISION: dict[str, tuple[str, ...]] = {
    "retainer": v.RETAINERS,
    "connector.maxilla": v.connectors("maxilla"),
    "connector.mandible": v.connectors("mandible"),
    "replacement": v.REPLACEMENTS,
    "rest": v.RESTS,
    "alloy": v.ALLOYS,
    "fabrication": get_args(v.Fabrication),
    "attached": get_args(v.Attached),
    "base_retention": get_args(v.BaseRetention),
    "preparation": get_args(v.PreparationAction),
}
"""Every option of the vocabulary, by decision; a connector carries its arch."""


def used_options(case: Case) -> dict[str, set[str]]:
    """The options that a case's design uses, by decision (``connector`` carries the arch)."""
    used: dict[str, set[str]] = {decision: set() for decision in PER_DECISION}
    design = case.design
    if design is None:
        return used

    def note(decision: str, *options: str | None) -> None:
        used[decision].update(option for option in options if option is not None)

    note(f"connector.{case.arch}", design.connector)
    note("alloy", design.alloy)
    note("fabrication", design.fabrication)
    for retainer in design.retainers or ():
        note("retainer", retainer.assembly)
        note("rest", retainer.rest)
        note("alloy", retainer.alloy)
        note("attached", retainer.attached)
    note("rest", *(design.rests or {}).values())
    note("rest", *(seat.rest for seat in design.indirect_retainers or ()))
    note("base_retention", *(base.retention for base in design.bases or ()))
    note("replacement", *(design.replacements or {}).values())
    note("preparation", *(step.action for step in design.preparation or ()))
    return used


def followed(case: Case) -> bool:
    """Whether it is recorded how the case fared after delivery."""
    return case.outcome is not None and case.outcome.followed_months is not None


def refused(case: Case) -> bool:
    """Whether the dentist declined or changed the design or a part of it."""
    answers = any(answer.answer != "accepted" for answer in case.dentist_answer or ())
    return answers or (case.outcome is not None and case.outcome.accepted is False)


def adverse(case: Case) -> bool:
    """Whether something beyond upkeep befell the case: an event of ``ADVERSE``, or it is no longer worn."""
    outcome = case.outcome
    if outcome is None:
        return False
    return outcome.still_worn is False or any(event.event in ADVERSE for event in outcome.events or ())
