"""The words that the lexicon of orders lists, section by section."""

from functools import cache

from recommender.domain import lexicon as lx


@cache
def as_written(section: str) -> frozenset[str]:
    """The phrases of a section in every language, as the lexicon writes them."""
    return frozenset(phrase for _, phrase in lx.spoken(lx.document("order")[section]))


@cache
def listed(section: str) -> frozenset[str]:
    """The phrases of a section in every language, folded."""
    return frozenset(map(lx.fold, as_written(section)))
