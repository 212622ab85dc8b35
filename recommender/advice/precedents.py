"""Precedents by the figures of a given knowledge: what is alike, and what an outcome is worth, may both be adopted."""

from collections.abc import Iterable

from recommender.domain.case import Case
from recommender.knowledge.load import packaged_figures
from recommender.knowledge.model import Knowledge
from recommender.precedents.library import PrecedentLibrary
from recommender.precedents.outcome_value import OutcomeFigures
from recommender.precedents.search.tables import likeness_of
from recommender.precedents.situations import all_situations

# What stored situations, their likeness and how they fared follow from.
_FIGURES = ("similarity", "scoring", "mechanics", "display")


def differ(before: Knowledge | None, after: Knowledge) -> bool:
    """Whether stored cases speak otherwise under the figures of ``after``; ``None``: the packaged ones before."""
    known = packaged_figures() if before is None else before.figures
    return any(getattr(known, name) != getattr(after.figures, name) for name in _FIGURES)


def derived(cases: Iterable[Case], knowledge: Knowledge) -> PrecedentLibrary:
    """The precedents of these cases by the figures of ``knowledge``, all worked out now."""
    likeness = likeness_of(
        knowledge.figures.similarity.model_dump(exclude_none=True), knowledge.catalogue.credit
    )
    outcomes = OutcomeFigures.of(knowledge.figures.scoring.model_dump())
    return PrecedentLibrary.build(all_situations(cases, likeness, outcomes, knowledge.models), likeness)
