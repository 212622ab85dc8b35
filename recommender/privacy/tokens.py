"""Words of a text, each with what the lists of names say of it."""

import re
from dataclasses import dataclass
from functools import lru_cache

from recommender.privacy.data import folded, names
from recommender.privacy.folding import fold

# a Russian title in short is one word: г-н, д-р
_WORD = re.compile(r"(?<!\w)[а-яёА-ЯЁ]-[а-яё]{1,2}(?!\w)|[^\W\d_]+(?:['’][^\W\d_]+)*")
_ENDING = re.compile(
    r"(?:'s|'|'ego|'a|'u|'ow\w*|'em|'e|'[iu]n|'nin|'nun|'ye|'ya|'yi|'den|'dan|'de|'da|'le|'la)$"
)


@dataclass(frozen=True, slots=True)
class Word:
    """A word: characters ``start`` to ``end``, in folded form, whether it begins with a capital, is all capitals.

    ``given`` and ``family``: 2 such a name, 1 a name that is a word as well, 0 neither; ``plain``: never an alarm by
    itself; ``common``: a given name that is well known, which counts in small letters as well.
    """

    start: int
    end: int
    text: str
    fold: str
    capital: bool
    upper: bool
    given: int
    family: int
    plain: bool
    common: bool

    @property
    def name(self) -> int:
        """How surely it is a name of either kind: 2, 1 or 0."""
        return max(self.given, self.family)


def words_of(text: str) -> list[Word]:
    """The words of a plain text, in order."""
    found = []
    for match in _WORD.finditer(text):
        word = match[0]
        form, given, family, ordinary, common = _standing(word)
        found.append(
            Word(
                match.start(),
                match.end(),
                word,
                form,
                word[0].isupper(),
                len(word) > 1 and word.isupper(),
                given,
                family,
                ordinary,
                common,
            )
        )
    return found


@lru_cache(maxsize=32768)
def _standing(word: str) -> tuple[str, int, int, bool, bool]:
    form = fold(word)
    stem = _ENDING.sub("", form) if "'" in form else form
    best = (0, 0)
    for each in _forms(stem):
        given = 2 if each in names("given") else 1 if each in names("given_words") else 0
        family = 2 if each in names("family") else 1 if each in names("family_words") else 0
        best = max(best, (given, family), key=lambda pair: (max(pair), sum(pair)))
    plain = stem in folded("not_names") or _eponym(stem)
    return form, *best, plain, stem in names("given_common")


def _forms(stem: str) -> tuple[str, ...]:
    """A name as it stands, and without a genitive ``s`` or an Arabic particle before it."""
    if "\u0600" <= stem[:1] <= "\u06ff":
        return (stem, stem[1:]) if len(stem) > 4 and stem[0] in "ولبفك" else (stem,)
    if len(stem) > 4 and stem[-1] == "s":
        return stem, stem[:-1]
    return (stem,)


def _eponym(stem: str) -> bool:
    known = folded("eponyms")
    return stem in known or any(stem[:-cut] in known for cut in (1, 2, 3) if len(stem) - cut >= 5)
