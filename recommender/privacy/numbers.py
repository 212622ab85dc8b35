"""Telephone numbers, mail and web addresses, record numbers and other long numbers."""

import re
from collections.abc import Iterator
from functools import cache, lru_cache

from recommender.privacy.data import either
from recommender.privacy.found import Place

# countries whose numbers are known without their prefix
REGIONS = (
    "GB",
    "US",
    "DE",
    "FR",
    "ES",
    "IT",
    "PL",
    "PT",
    "NL",
    "TR",
    "RU",
    "CN",
    "JP",
    "EG",
    "AT",
    "CH",
    "BE",
    "BR",
    "MX",
    "SA",
)
_CANDIDATE = re.compile(r"(?<![\w.,/-])(?:\+|00)?\s?\(?\d(?:[\d() ]|[./-](?=[\d(]))*\d(?![\w]|[.,/]\d)")
_TEETH = re.compile(r"(?:[1-4][1-8])(?:[ ./-]+(?:[1-4][1-8]))+")
_MAIL = re.compile(
    r"[\w.%+-]{1,64}\s?(?:@|\(at\)|\[at\])\s?[\w-]{1,63}(?:\s?(?:\.|\(dot\)|\[dot\])\s?[\w-]{2,63})+|\b(?:https?://|www\.)\S+|\b[\w+-]{2,30}\.[\w+-]{2,30}\sat\s[a-z][\w-]{1,62}\.[a-z]{2,4}\b|(?<!\w)@[a-z]\w{3,}"
)
_CODES = re.compile(
    r"(?<!\w)(?:[a-z]{6}\d{2}[a-z]\d{2}[a-z]\d{3}[a-z]|\d{8}-?[a-z]|[xyz]-?\d{7}-?[a-z]|[a-z]{2}\s?\d{2}\s?\d{2}\s?\d{2}\s?[a-d]|[a-z]\d{9}|[a-z]{3}\d{6}|"
    r"[a-z]{2}\d{2}(?:\s?\w{4}){3,7}|[a-z]{4}\d{6}[hm][a-z]{5}\w\d|\d{17}x|\d{2}[01]\d[0-3]\d[-\s/]\d{3,5})(?!\w)"
)
_SOCIAL = re.compile(
    r"(?<![\d-])\d{3}-\d{2}-\d{4}(?![\d-])|(?<!\d)\d{3}\.\d{3}\.\d{3}-\d{2}(?!\d)|(?<!\d)\d{3}-\d{3}-\d{3}\s?\d{2}(?!\d)|(?<!\d)756\.\d{4}\.\d{4}\.\d{2}(?!\d)"
)


@cache
def _cues() -> tuple[re.Pattern[str], re.Pattern[str], re.Pattern[str]]:
    number = r"(?:\s?(?:no|nr|nro|num|number|numero|id|#|№|n°|nº|n\.?º|n\.|号|番号|号码|رقم))?"
    telephone = re.compile(
        rf"(?<![a-zа-я])(?:{either('telephone')})(?![a-zа-я]){number}[\s.:=#/-]*(?=[+(]?\d)[+(]?\d[\d\s()./-]{{4,}}\d"
    )
    between = r"[\s.:=#°º№-]*"
    digits = r"(?=[\w/-]*\d[\w/-]*\d[\w/-]*\d)[\w/-]{4,}(?:[ .-]\d[\w-]*)*"
    record = re.compile(rf"(?<![^\W\d_])(?:{either('record')})(?![a-zа-я]){number}{between}{digits}")
    patient = rf"(?<![^\W\d_])(?:{either('patients')})(?![a-zа-я]){number}[\s.:=#°º№-]*\d{{4,}}(?![.,]\d|\d)"
    record = re.compile(f"{record.pattern}|{patient}")
    work = re.compile(rf"(?<![^\W\d_])(?:{either('work')})(?![a-zа-я]){number}[\s.:=#°º№-]*$")
    return telephone, record, work


def ours(text: str, start: int) -> bool:
    """Whether a number that begins there is said to be the laboratory's own: of a job, an order, a batch."""
    return _cues()[2].search(text[max(0, start - 40) : start]) is not None


def addresses_of_mail(text: str) -> Iterator[Place]:
    """Mail and web addresses in flat text."""
    for match in _MAIL.finditer(text):
        if "doi.org" not in match[0]:
            yield *match.span(), "e_mail"


def numbers(text: str) -> Iterator[Place]:
    """Telephone numbers, record numbers and long numbers in flat text."""
    telephone, record, _ = _cues()
    for match in record.finditer(text):
        yield *match.span(), "record"
    for match in telephone.finditer(text):
        if sum(sign.isdigit() for sign in match[0]) >= 6:
            yield *match.span(), "telephone"
    for pattern in (_SOCIAL, _CODES):
        for match in pattern.finditer(text):
            if not ours(text, match.start()):
                yield *match.span(), "record"
    for match in _CANDIDATE.finditer(text):
        words = match[0].strip()
        kind = _kind(words)
        if kind is None:
            continue
        if ours(text, match.start()) and (kind == "number" or words.isdigit() or words[0] not in "+(0"):
            continue
        yield match.start(), match.start() + len(match[0].rstrip()), kind


@lru_cache(maxsize=4096)
def _kind(words: str) -> str | None:
    """What a run of digits is: a telephone number, a long number, or neither."""
    digits = re.sub(r"\D", "", words)
    if not 7 <= len(digits) <= 34 or _TEETH.fullmatch(words) or _sizes(words):
        return None
    groups = re.findall(r"\d+", words)
    if all(len(group) <= 2 for group in groups) and groups[0][0] != "0" and words[0] != "+":
        return None
    bare = words.isdigit()
    if len(digits) <= 15 and (not bare or digits[0] == "0" or (len(digits) == 11 and digits[0] == "1")):
        if words[0] == "+" and _valid(words, None):
            return "telephone"
        if any(_valid(words, region) for region in REGIONS) and _shaped(words, groups):
            return "telephone"
    return "number" if len(digits) >= 9 and len(groups) <= 7 and _one_number(words, groups) else None


def _sizes(words: str) -> bool:
    """Whether there are decimals among the digits; five pairs with stops between them are none."""
    decimals = re.search(r"(?<!\d)\d{1,2}\.\d{1,2}(?!\d)", words) is not None
    return decimals and "/" not in words and not re.fullmatch(r"0\d(?:\.\d\d){4}", words)


def _shaped(words: str, groups: list[str]) -> bool:
    """Whether the digits are grouped as people write telephone numbers, not as sizes or counts."""
    if words[0] in "+(0":
        return True
    if len(groups) == 1:
        return len(words) == 11
    return (len(groups) >= 3 and len("".join(groups)) >= 9) or [len(group) for group in groups] == [3, 4]


def _one_number(words: str, groups: list[str]) -> bool:
    return len(groups) == 1 or (re.fullmatch(r"[\d -]+", words) is not None and max(map(len, groups)) >= 3)


def _valid(words: str, region: str | None) -> bool:
    import phonenumbers

    try:
        return phonenumbers.is_valid_number(phonenumbers.parse(words, region))
    except phonenumbers.NumberParseException:
        return False
