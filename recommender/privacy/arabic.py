"""Names in Arabic script, which has no capitals: after a title, after "patient", in a row, or plainly a name."""

from collections.abc import Iterator, Sequence
from functools import cache

from recommender.privacy.data import folded
from recommender.privacy.folding import fold
from recommender.privacy.found import Place
from recommender.privacy.tokens import Word


@cache
def _plain_names() -> frozenset[str]:
    return folded("arabic_names")


@cache
def _also_words() -> frozenset[str]:
    return folded("arabic_words")


def _name(word: Word) -> bool:
    return word.name > 0 or word.fold in _plain_names() or word.fold == "عبد"


def people(text: str, words: Sequence[Word]) -> Iterator[Place]:
    """Places with a person's name; ``text`` is plain."""
    titles, patients = folded("titles_arabic"), folded("patients")
    for place, word in enumerate(words):
        after = words[place + 1] if place + 1 < len(words) else None
        beside = after if after and text[word.end : after.start].strip(" .") == "" else None
        if word.fold in titles and beside and beside.fold not in _also_words() and len(beside.text) > 2:
            yield word.start, beside.end, "name"
        elif word.fold in patients and beside and _name(beside) and beside.fold not in _also_words():
            yield word.start, beside.end, "name"
        elif word.fold in _plain_names() or (len(word.fold) > 4 and word.fold[0] in "ولبف" and word.fold[1:] in _plain_names()):
            yield word.start, word.end, "name"
        elif beside and word.fold == fold("عبد") and beside.fold.startswith("ال"):
            yield word.start, beside.end, "name"
        elif beside and _name(word) and _name(beside) and not {word.fold, beside.fold} & _also_words():
            yield word.start, beside.end, "name"
