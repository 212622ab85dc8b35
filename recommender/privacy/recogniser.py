"""Everything in a text that could identify a patient. Looked at once for each text: texts repeat."""

import re
from functools import lru_cache

from recommender.privacy import arabic, dates, han, numbers, personal, places
from recommender.privacy.folding import bare, flat, plain
from recommender.privacy.found import Found, Place
from recommender.privacy.tokens import words_of

_DIGIT = re.compile(r"\d|[〇零一二三四五六七八九]年")
_HAN = re.compile(r"[\u3040-\u30ff\u4e00-\u9fff]")
_ARABIC = re.compile(r"[\u0600-\u06ff]")
_MAIL_SIGNS = ("@", "(at)", "[at]", "http", "www.", " at ")
_CITED = re.compile(
    r"\b(?:18|19|20)\d\d\b.{0,40}(?:;\s?\d+(?:\(\w+\))?\s?:\s?\d|\bpp?\.\s?\d|\bdoi\b|\bch(?:apter|ap)?\.?\s?\d)"
    r"|\bet al\b|\b\d+(?:st|nd|rd|th)\s+ed\b|\bdoi\b|\bisbn\b|\bpmid\b|\(eds?\.?\)|\b\d+\(\d+\)\s?:\s?\d+"
)


# authors as reference lists have them: two or more, or one before a title and where it appeared
_AUTHORS = re.compile(
    r"[A-Z][\w'-]+ [A-Z]{1,3}(?:, [A-Z][\w'-]+(?: [A-Z][\w'-]+)? [A-Z]{1,3})+\. [A-Z]"
    r"|[A-Z][\w'-]+ [A-Z]{1,3}\. [A-Z][^.]{24,}\. [A-Z]"
)


@lru_cache(maxsize=16384)
def look(text: str) -> tuple[Found, ...]:
    """Every place in a text that could identify somebody, in order; none overlaps another."""
    if len(text) < 2 or text.isspace():
        return ()
    level, typed, low = plain(text), bare(text), flat(text)
    cited = len(text) > 20 and (_CITED.search(low) or _AUTHORS.search(typed)) is not None
    found: list[Place] = []
    if any(sign in low for sign in _MAIL_SIGNS):
        found += numbers.addresses_of_mail(low)
    if _DIGIT.search(low):
        found += numbers.numbers(low)
        found += places.addresses(low, typed)
        if not cited:
            found += dates.dates(low, typed)
    elif places.cued(low):
        found += places.addresses(low, typed)
    found += dates.ages(low)
    if _HAN.search(level):
        found += han.people(level)
    words = words_of(level)
    if _ARABIC.search(level):
        found += arabic.people(level, words)
    if words:
        found += personal.people(low, typed, words, cited)
    return _apart(text, found)


def _apart(text: str, found: list[Place]) -> tuple[Found, ...]:
    """The places in order; where two overlap they are one, of the kind of the longer."""
    kept: list[Place] = []
    for start, end, kind in sorted(found, key=lambda place: (place[0], -place[1])):
        if kept and start < kept[-1][1]:
            first, last, known = kept[-1]
            longer = kind if end - start > last - first else known
            kept[-1] = (first, max(last, end), longer)
        else:
            kept.append((start, end, kind))
    return tuple(Found(start, end, kind, text[start:end].strip()) for start, end, kind in kept)
