"""Addresses: streets with a house number, postcodes with a place, and what follows words such as "lives at"."""

import re
from collections.abc import Iterator
from functools import cache

from recommender.privacy.data import either, names
from recommender.privacy.folding import fold
from recommender.privacy.found import Place

_NUMBER = r"\d{1,4}\s?[a-z]?(?![\w.,]\d|\w)"
_HAN = re.compile(
    r"[\u4e00-\u9fff]{2,8}(?:路|街|道|巷|弄|胡同|大街|大道)\s?\d+\s?(?:号|號|弄)?"
    r"|\d+\s?(?:丁目|番地|番町)|\d+(?:号楼|单元|室|號樓)|〒\s?\d{3}-?\d{4}"
    r"|[\u4e00-\u9fff]{2,4}[都道府県][\u4e00-\u9fff]{1,5}[市区町村]|[\u4e00-\u9fff]{2,5}市[\u4e00-\u9fff]{1,4}[区县區縣]"
)
_WITH_TOWN = re.compile(
    r"(?<![\w.,/-])(?:\d{4,6}|\d{3}\s\d{2}|\d{4}-\d{3}|\d{2}-\d{3}|\d{4}\s[A-Z]{2}),?\s([A-ZА-Я][^\W\d_]{3,})"
)
_POSTCODE = re.compile(
    r"(?<!\w)(?:[A-Z]{1,2}\d[A-Z\d]?\s\d[A-Z]{2}|(?:DE?|A|CH|PL|F|I|NL)-\d{4,5}(?=\s[A-Z][a-z])|\d{4}\s[A-Z]{2}(?=\s[A-Z])|\d{2}-\d{3}\s[A-Z][a-z]{2,})(?!\w)"
)


@cache
def _streets() -> tuple[re.Pattern[str], ...]:
    capital = r"[A-ZА-Я][\w'.-]*"
    small = r"(?:(?:de|des|du|da|das|do|dos|la|le|les|del|della|di|l'|d'|of|von|van|ks\.|gen\.|sw\.|dr\.)\s?){0,3}"
    joined = either("streets_joined")
    return (
        re.compile(
            rf"(?<![\w.,])\d{{1,5}}[a-zA-Z]?,?\s(?:{capital}\s){{1,3}}(?i:{either('streets_after')})(?!\w)"
        ),
        re.compile(rf"(?<!\w)[A-Z][\w'-]*(?i:{joined}|strasse)\.?\s?{_NUMBER}"),
        re.compile(
            rf"(?<!\w)[A-Z][\w'-]*[\s-](?:(?:S|s)tr(?:asse|ase|\.)|Platz|Allee|Weg|Gasse|Ring|Ufer|Damm)\s?{_NUMBER}"
        ),
        re.compile(
            rf"(?<!\w)(?<!et )(?i:{either('streets_before')})\.?\s?{small}(?:{capital},?\s?{small}){{1,4}}"
            rf"(?:,|n\.?º?|no\.?|nr\.?|д\.|дом)?\s?{_NUMBER}"
        ),
        re.compile(
            r"(?<![\w.,])\d{1,4}(?:\s?(?:bis|ter|[a-z]))?,?\s(?i:rue|avenue|boulevard|chemin|impasse|allee|quai|place)\s"
            rf"(?:de\s|des\s|du\s|la\s|l'|d')*{capital}"
        ),
        re.compile(
            rf"(?<!\w){capital}(?:\s{capital})?\s(?i:{either('streets_turkish')})\.?,?\s?(?:(?i:no|n)\s?[:.]?\s?)?{_NUMBER}"
        ),
        re.compile(rf"(?<!\w)(?:شارع|حي|حارة|ميدان)\s(?:\w+\s?){{1,3}}{_NUMBER}"),
    )


@cache
def _cue() -> re.Pattern[str]:
    return re.compile(
        rf"(?<!\w)(?:{either('address')})(?!\w)\s?:?\s+(?!(?:les|une|des)\s)(?=[^\W\d_]|\d)[^\n;]{{3,60}}|(?:住址|地址|家住|家庭住址|住所|自宅)\s?[:为は]?\s?[\u3040-\u9fff\d]{{3,}}"
    )


def _towns(original: str) -> Iterator[Place]:
    for match in _WITH_TOWN.finditer(original):
        if fold(match[1]) in names("towns"):
            yield *match.span(), "address"


def cued(text: str) -> bool:
    """Whether flat text has a word that an address follows."""
    return _cue().search(text) is not None


def addresses(text: str, original: str) -> Iterator[Place]:
    """Addresses; ``text`` is flat, ``original`` bare with its capitals."""
    for pattern in _streets():
        for match in pattern.finditer(original):
            yield *match.span(), "address"
    for match in _POSTCODE.finditer(original):
        yield *match.span(), "address"
    yield from _towns(original)
    for match in _HAN.finditer(text):
        yield *match.span(), "address"
    for match in _cue().finditer(text):
        words = original[match.start() : match.end()]
        rest = re.sub(r"^\S+\s", "", words)
        if (
            re.search(r"\d", words)
            or re.search(r"(?<!\w)[A-ZА-Я]\w{2,}", rest)
            or any("\u0600" < sign < "\u06ff" or sign > "\u3000" for sign in words)
        ):
            yield *match.span(), "address"
