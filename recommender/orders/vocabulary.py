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


@cache
def listed_in(section: str, languages: tuple[str, ...]) -> frozenset[str]:
    """The phrases of a section in these languages, and those of none, folded: short words are others elsewhere."""
    spoken = lx.spoken(lx.document("order")[section])
    return frozenset(lx.fold(phrase) for language, phrase in spoken if language in ("any", *languages))
