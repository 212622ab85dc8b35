"""Texts made comparable: one form of digits and spaces, and words without case and accents."""

import unicodedata
from functools import lru_cache

_SPELT = str.maketrans(
    {
        "ı": "i",
        "ł": "l",
        "ø": "o",
        "đ": "d",
        "ß": "ss",
        "æ": "ae",
        "œ": "oe",
        "ð": "d",
        "þ": "th",
        "’": "'",
        "ـ": "",
    }
)
_DIGITS = {
    zero + digit: chr(ord("0") + digit) for zero in (0x0660, 0x06F0, 0x0966, 0xFF10) for digit in range(10)
}
_SIGNS = {
    **dict.fromkeys(map(ord, "\u00a0\u1680\u2007\u202f\u205f\u3000"), " "),
    **dict.fromkeys(range(8192, 8203), " "),
    **dict.fromkeys(map(ord, "‐‑‒–—−－"), "-"),
    **dict.fromkeys(map(ord, "．。｡"), "."),
    **dict.fromkeys(map(ord, "，、،､"), ","),
    **dict.fromkeys(map(ord, "：﹕"), ":"),
    **dict.fromkeys(map(ord, "／⁄"), "/"),
    **dict.fromkeys(map(ord, "’ʼ‘＇"), "'"),
    ord("（"): "(",
    ord("）"): ")",
    ord("＠"): "@",
    ord("＋"): "+",
}
_PLAIN = str.maketrans({**_DIGITS, **_SIGNS})


def plain(text: str) -> str:
    """The text with plain digits, spaces, hyphens and punctuation; every character stays at its place."""
    return text if text.isascii() else text.translate(_PLAIN)


@lru_cache(maxsize=65536)
def fold(word: str) -> str:
    """A word without case and accents, e.g. ``Müller`` as ``muller``; its length may change."""
    lower = word.casefold()
    if lower.isascii():
        return lower
    split = unicodedata.normalize("NFKD", lower)
    return "".join(sign for sign in split if not unicodedata.combining(sign)).translate(_SPELT)


class _Bare(dict[int, int]):
    """Base letter of each character, worked out when first met; case stays."""

    def __missing__(self, code: int) -> int:
        sign = chr(code)
        base = "".join(
            part for part in unicodedata.normalize("NFKD", sign) if not unicodedata.combining(part)
        )
        base = _ONE.get(sign, base)
        self[code] = value = ord(base) if len(base) == 1 else code
        return value


class _Lower(dict[int, int]):
    def __missing__(self, code: int) -> int:
        lower = chr(code).lower()
        self[code] = value = ord(lower) if len(lower) == 1 else code
        return value


_ONE = {
    "ı": "i",
    "ł": "l",
    "Ł": "L",
    "ø": "o",
    "Ø": "O",
    "đ": "d",
    "Đ": "D",
    "ß": "s",
    "ð": "d",
    "Þ": "T",
    "º": "º",
    "ª": "ª",
}
_bare, _lower = _Bare(), _Lower()


def bare(text: str) -> str:
    """The plain text without accents, every character at its place (``ß`` as one ``s``)."""
    text = plain(text)
    return text if text.isascii() else text.translate(_bare)


def flat(text: str) -> str:
    """The bare text in lower case, every character at its place."""
    text = bare(text)
    return text.lower() if text.isascii() else text.translate(_lower)
