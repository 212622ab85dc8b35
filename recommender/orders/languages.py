"""The language of an order, from its small words."""

from collections import Counter
from collections.abc import Iterable, Sequence
from functools import cache
from itertools import groupby, repeat

from recommender.domain import lexicon as lx
from recommender.orders.meanings import STEERING, all_meanings
from recommender.orders.phrases import words_of
from recommender.orders.text import Token

_SECOND_LANGUAGE = 0.5


def by_word(pairs: Iterable[tuple[str, str]]) -> dict[str, tuple[str, ...]]:
    """Words with their languages, both in alphabetical order."""
    return {
        word: tuple(language for _, language in those)
        for word, those in groupby(sorted(pairs), key=lambda pair: pair[0])
    }


@cache
def _spoken_words() -> dict[str, frozenset[str]]:
    """Languages of every word that steers or fills a sentence."""
    found: set[tuple[str, str]] = set()
    for meaning in all_meanings():
        steers = meaning.kind in STEERING or meaning.kind in ("name", "group", "arch", "quadrant", "heading")
        if steers and meaning.language != "any":
            found.update(zip(words_of(meaning.phrase), repeat(meaning.language)))
    return {word: frozenset(langs) for word, langs in by_word(found).items()}


def languages_of(tokens: Sequence[Token]) -> tuple[str, ...]:
    """The language of an order, and a second one where it mixes two; English where nothing tells."""
    score: Counter[str] = Counter()
    for token in tokens:
        word = token.meant or token.folded
        for language in _spoken_words().get(word, ()):
            score[language] += 1 / len(_spoken_words()[word])  # type: ignore[assignment]
    ranked = [
        language
        for language in sorted(score, key=lambda one: (-score[one], one))
        if language in lx.LANGUAGES[1:5]
    ]
    if not ranked:
        return ("en",)
    second = [one for one in ranked[1:2] if score[one] >= _SECOND_LANGUAGE * score[ranked[0]]]
    return (ranked[0], *second)
