"""How much of a facial arm on a tooth the lips leave in view, in one word."""

from recommender.domain.case import Case
from recommender.facts.values import Fact


def shows_fact(case: Case, tooth: int) -> Fact:
    """``hidden``, ``partly`` or ``clear``; the words that remain possible where the lips were not recorded."""
    from recommender.facts.mechanical import shows_fact as computed

    return computed(case, tooth)
