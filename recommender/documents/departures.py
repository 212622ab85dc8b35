"""Where a proposal departs from what the dentist asked for, and what is to be said about what it followed."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from recommender.advice.beside_framework import beside
from recommender.advice.model import Decision
from recommender.advice.review import review
from recommender.documents.proposal import Proposal
from recommender.domain.statement import Choice, Statement

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


@dataclass(frozen=True, slots=True)
class Departure:
    """One item of the prescription. ``proposed`` equals ``asked`` where it was followed; ``why`` is the one reason that
    matters most."""

    decision: Decision
    asked: str
    proposed: str | None
    why: tuple[Statement, ...]

    @property
    def departs(self) -> bool:
        return self.proposed != self.asked


def _why(reason: Statement, kind: str, proposed: str | None) -> Statement:
    """A reason for what is proposed, which the row names already, without its subject."""
    what = reason.arg("what") if reason.code == "review.about" else None
    if isinstance(what, Statement) and reason.arg("subject") == Choice(kind, proposed or "none"):
        return what
    return reason


def departures(analysis: "CaseAnalysis", proposal: Proposal) -> tuple[Departure, ...]:
    """Every item of the prescription that the proposal departs from or that meets a reservation."""
    if analysis.case.prescription is None:
        return ()
    found = []
    for item in beside(analysis, proposal.framework, review(analysis)):
        if item.asked is None:
            continue
        proposed = proposal.option(item.decision.kind, item.decision.tooth)
        if item.decision.kind == "alloy":
            proposed = proposal.design.alloy
        if item.decision.kind == "rest":
            proposed = (proposal.design.rests or {}).get(item.decision.tooth, proposed)
        if proposed is None and item.decision.kind == "retainer":
            proposed = "none"
        if proposed != item.asked or item.verdict in ("conflicts", "better_alternative"):
            found.append(
                Departure(
                    item.decision,
                    item.asked,
                    proposed,
                    tuple(_why(reason, item.decision.kind, proposed) for reason in item.reasons[:1]),
                )
            )
    return tuple(found)
