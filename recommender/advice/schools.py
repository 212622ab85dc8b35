"""Which published school of design a choice follows (``schools`` in ``shared/review.yaml``)."""

from typing import TYPE_CHECKING

from recommender.advice.model import Decision
from recommender.knowledge.figures.review import School, SchoolPart

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


def school_of(analysis: "CaseAnalysis", decision: Decision, option: str) -> School | None:
    """The first school known by this option at this place, or ``None``."""
    for school in analysis.engine.knowledge.figures.review.schools:
        if any(_known_by(analysis, part, decision, option) for part in school.parts):
            return school
    return None


def other_school(analysis: "CaseAnalysis", decision: Decision, asked: str, lead: str | None) -> School | None:
    """The school that a prescription follows where the proposal does not follow it as well."""
    found = school_of(analysis, decision, asked)
    if found is None or (lead is not None and found == school_of(analysis, decision, lead)):
        return None
    return found


def _known_by(analysis: "CaseAnalysis", part: SchoolPart, decision: Decision, option: str) -> bool:
    if part.decision != decision.kind or option not in part.options:
        return False
    if part.beside == "any" or not decision.tooth:
        return part.beside == "any"
    facts = analysis.facts
    if decision.tooth not in facts.considered:
        return False
    beside = {
        facts.toward(decision.tooth, side).fact("derived.support").value
        for side in facts.approaches(decision.tooth)
    }
    return part.beside in beside
