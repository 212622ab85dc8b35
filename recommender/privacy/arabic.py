"""Names in Arabic script, which has no capitals: after a title, after "patient", in a row, or plainly a name."""

from collections.abc import Iterator, Sequence

from recommender.privacy.data import folded
from recommender.privacy.folding import fold
from recommender.privacy.found import Place
from recommender.privacy.tokens import Word

_PREFIXES = "ولبفك"  # and, for, by, then, like: written together with the word
_SERVANT = fold("عبد")  # begins compound names


def people(text: str, words: Sequence[Word]) -> Iterator[Place]:
    """Places with a person's name; ``text`` is plain."""
    for place, word in enumerate(words):
        after = words[place + 1] if place + 1 < len(words) else None
        beside = after if after and text[word.end : after.start].strip(" .") == "" else None
        if _sure(word):
            yield word.start, word.end, "name"
        elif beside is not None and _together(word, beside):
            yield word.start, beside.end, "name"


def _sure(word: Word) -> bool:
    known = folded("arabic_names")
    return word.fold in known or (len(word.fold) > 4 and word.fold[0] in _PREFIXES and word.fold[1:] in known)


def _together(word: Word, beside: Word) -> bool:
    """Whether two words side by side name somebody."""
    also_words = folded("arabic_words")
    if beside.fold in also_words:
        return False
    if word.fold in folded("titles_arabic"):
        return len(beside.text) > 2
    if word.fold in folded("patients"):
        return _name(beside)
    if word.fold == _SERVANT:
        return beside.fold.startswith("ال")
    return _name(word) and _name(beside) and word.fold not in also_words


def _name(word: Word) -> bool:
    return word.name > 0 or word.fold in folded("arabic_names") or word.fold == _SERVANT
