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
        elif beside is not None and (_together(word, beside) or _two_names(text, words, place)):
            yield word.start, beside.end, "name"


def _two_names(text: str, words: Sequence[Word], place: int) -> bool:
    """Whether "patient" stands before two names, each of which may be a word as well."""
    if words[place].fold not in folded("patients") or place + 2 >= len(words):
        return False
    first, second = words[place + 1], words[place + 2]
    return (
        first.name > 0
        and second.name > 0
        and text[first.end : second.start] == " "
        and not ({first.fold, second.fold} & folded("arabic_stop"))
    )


def _sure(word: Word) -> bool:
    known = folded("arabic_names")
    return word.fold in known or (len(word.fold) > 4 and word.fold[0] in _PREFIXES and word.fold[1:] in known)


def _together(word: Word, beside: Word) -> bool:
    """Whether two words side by side name somebody."""
    if beside.fold in folded("arabic_stop"):
        return False
    if word.fold in folded("titles_arabic") or f"{word.fold}." in folded("titles_arabic"):
        return len(beside.text) > 2 or beside.fold in folded("titles_family")
    also_words = folded("arabic_words")
    if beside.fold in also_words:
        return False
    if word.fold in folded("patients"):
        return _name(beside)
    if word.fold == _SERVANT:
        return beside.fold.startswith("ال")
    return _name(word) and _name(beside) and word.fold not in also_words


def _name(word: Word) -> bool:
    return word.name > 0 or word.fold in folded("arabic_names") or word.fold == _SERVANT
