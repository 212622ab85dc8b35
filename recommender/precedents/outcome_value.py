"""How a precedent fared, as a number from -1 to 1 and as a short code, for one decision of its case.

The figures stand in ``shared/scoring.yaml``. The worst event that speaks to the decision decides; else a
refusal by the dentist; else how long it was worn; else that it was accepted; else approval alone.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from recommender.domain.case import Case, Event
from recommender.domain.statement import Said, Statement, Word, quantity, say, tooth

# Kinds of event that condemn the whole piece, whichever tooth they name.
_WHOLE = frozenset({"remade", "reaction", "not_worn"})
_HEADS = {"retainer": "retainers", "rest": "rests", "replacement": "replacements", "connector": "connector"}


@dataclass(frozen=True, slots=True)
class OutcomeFigures:
    """``values``: worth of each kind of outcome; ``speaks_to``: kinds of event that speak to each decision;
    ``some_months`` and ``long_months``: from when what was worn counts as followed for some time, and for long."""

    values: Mapping[str, float]
    speaks_to: Mapping[str, frozenset[str]]
    some_months: float = 12.0
    long_months: float = 36.0

    @classmethod
    def of(cls, scoring: Mapping[str, Any]) -> "OutcomeFigures":
        """From the parsed ``scoring.yaml``. ``KeyError`` if a section is missing."""
        values = {str(key): float(value) for key, value in scoring["outcome_values"].items()}
        speaks = {str(key): frozenset(events) for key, events in scoring["event_speaks_to"].items()}
        months = scoring["worn_months"]
        return cls(values, speaks, float(months["some"]), float(months["long"]))


@dataclass(frozen=True, slots=True)
class OutcomeValue:
    """``value`` (-1 to 1), the same as a short ``verdict``, and whether anything was recorded of how the case fared.

    A verdict is ``event:clasp_fracture:14:9`` (kind, tooth or empty, month or empty), ``declined``, ``changed``,
    ``worn:14`` (months), ``accepted``, ``approved`` or ``unknown``; after ``|`` may follow why it was approved in
    spite of a rule. :func:`verdict` makes a statement of it.
    """

    value: float
    verdict: str
    outcome_known: bool


@cache
def outcome_figures() -> OutcomeFigures:
    """The project's figures."""
    from recommender.resources import read_yaml, shared

    return OutcomeFigures.of(read_yaml(shared("scoring.yaml").read_bytes()))


def outcome_known(case: Case) -> bool:
    """Whether anything was recorded of how the case fared."""
    return case.outcome is not None and any(
        getattr(case.outcome, name) is not None for name in type(case.outcome).model_fields
    )


def value_of_outcome(
    case: Case, figures: OutcomeFigures, kind: str = "connector", site: int = 0, choice: str | None = None
) -> OutcomeValue:
    """How this case speaks for the choice made at ``kind`` and ``site`` (ISO tooth, 0 for the connector)."""
    known = outcome_known(case)
    speaking = [
        (figures.values[event.event], _told(event))
        for event in _events(case)
        if event.event in figures.values and _speaks(event, figures, kind, site, choice)
    ]
    if speaking:
        value, told = min(speaking)
        return OutcomeValue(value, told, known)
    refused = _refusal(case, kind, site)
    if refused:
        return OutcomeValue(figures.values[refused], refused, known)
    outcome = case.outcome
    months = outcome.followed_months if outcome else None
    if outcome is not None and months is not None and outcome.still_worn is not False:
        followed = (months >= figures.some_months) + (months >= figures.long_months)
        key = ("worn_under_12", "worn_12_to_36", "worn_36_or_more")[followed]
        return OutcomeValue(figures.values[key], f"worn:{months:g}", known)
    if (outcome is not None and outcome.accepted) or _answer(case, kind, site) == "accepted":
        return OutcomeValue(figures.values["accepted"], "accepted", known)
    if case.review is not None and case.review.status == "approved":
        return OutcomeValue(figures.values["approved"], "approved", known)
    return OutcomeValue(0.0, "unknown", known)


def _events(case: Case) -> list[Event]:
    if case.outcome is None:
        return []
    events = list(case.outcome.events or ())
    if case.outcome.still_worn is False and not any(event.event in _WHOLE for event in events):
        events.append(Event(event="not_worn", month=case.outcome.followed_months))
    return events


def _speaks(event: Event, figures: OutcomeFigures, kind: str, site: int, choice: str | None) -> bool:
    if event.event in _WHOLE and event.event != "not_worn":
        return True
    if event.event not in figures.speaks_to.get(kind, ()):
        return False
    if event.event == "not_worn":
        return True
    part = event.part
    if event.tooth is not None:
        # an event at a tooth says nothing of the connector, unless the connector is named
        return event.tooth == site if site else part in (choice, kind)
    # named for a part of another kind, it speaks to that part only
    return part is None or part in (choice, kind)


def _told(event: Event) -> str:
    month = "" if event.month is None else f"{event.month:g}"
    return f"event:{event.event}:{event.tooth or ''}:{month}"


def verdict(code: str) -> Statement:
    """How a precedent fared, from its code."""
    told, _, reason = code.partition("|")
    if reason:
        return say("fared.vouched", fared=verdict(told), reason=Said(reason))
    kind, *rest = told.split(":")
    if kind == "event":
        name, at, month = rest
        return say(
            "fared.event",
            event=Word("event_kind", name),
            at=tooth(int(at)) if at else None,
            after=quantity(float(month), "months", 0) if month else None,
        )
    return say(f"fared.{kind}", months=quantity(float(rest[0]), "months", 0) if rest else None)


def _answer(case: Case, kind: str, site: int) -> str | None:
    names = (
        {_HEADS[kind], kind} if not site else {f"{_HEADS[kind]}.{site}", f"{kind}:{site}", f"{kind}.{site}"}
    )
    for answer in case.dentist_answer or ():
        if answer.item in names:
            return answer.answer
    return None


def _refusal(case: Case, kind: str, site: int) -> str | None:
    answer = _answer(case, kind, site)
    if answer in ("declined", "changed"):
        return answer
    if answer is None and case.outcome is not None and case.outcome.accepted is False:
        return "declined"
    return None
