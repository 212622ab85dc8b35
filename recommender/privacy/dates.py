"""Dates in their many shapes, years of birth, and ages over 89."""

import re
from collections.abc import Iterator
from functools import cache

from recommender.privacy.data import any_of, either, folded, listed
from recommender.privacy.folding import fold
from recommender.privacy.found import Place
from recommender.privacy.numbers import ours

_PARTS = re.compile(
    r"(?<![\d.,/:-])(\d{1,4})(\s?[./-]\s?|\s)(\d{1,2})(\s?[./-]\s?|\s)(\d{4}|\d{2})(?![\d]|[.,/:-]\d)"
)
_COMPACT = re.compile(r"(?<![\d.,])(?:19|20)\d{2}(?:0[1-9]|1[0-2])(?:0[1-9]|[12]\d|3[01])(?![\d.,]\d|\d)")
_VERSION = re.compile(r"(?<!\w)(?:version|vers|v|rule|section|regel|chapter|fig|figure|abb)\.?\s?$")
_MONTH_YEAR = re.compile(
    r"(?<![\w.,/-])(?:0[1-9]|1[0-2]|[1-9])\s?[/.]\s?(?:19[2-9]\d|20[0-4]\d)(?![\w/-]|[.,]\d)"
)
_DAY_MONTH = re.compile(
    r"(?<!\w)(?:am|vom|zum|bis|ab|den|montag|dienstag|mittwoch|donnerstag|freitag|mo|di|mi|do|fr)\.?,?\s(?:0?[1-9]|[12]\d|3[01])\.\s?(?:0?[1-9]|1[0-2])\."
    r"|(?<!\w)(?:le|el|il|dia|dnia)\s(?:0?[1-9]|[12]\d|3[01])[/.](?:0?[1-9]|1[0-2])(?![\w/]|[.,]\d)"
)
_HAN = re.compile(
    r"(?:明治|大正|昭和|平成|令和|民国|民國)\s?(?:\d{1,2}|元|[一二三四五六七八九十]{1,3})\s?(?:年(?:\s?[\d一二三四五六七八九十]{1,3}\s?月(?:\s?[\d一二三四五六七八九十]{1,3}\s?日)?)?|[./-]\s?\d{1,2})"
    r"|(?:\d{2,4}|[〇零一二三四五六七八九]{4})\s?年\s?(?:\d{1,2}|[一二三四五六七八九十]{1,3})\s?月"
    r"(?:\s?(?:\d{1,2}|[一二三四五六七八九十]{1,3})\s?[日号號])?"
    r"|(?<!\d)(?:1[0-2]|[1-9])\s?月\s?\d{1,2}\s?[日号號]"
    r"|(?<![a-z])[mtshr]\s?\d{1,2}[./]\d{1,2}[./]\d{1,2}(?!\d)"
)
_TEETH = frozenset(str(quadrant * 10 + tooth) for quadrant in (1, 2, 3, 4) for tooth in range(1, 9))
_ARCHES = (
    (*(str(tooth) for tooth in range(18, 10, -1)), *(str(tooth) for tooth in range(21, 29))),
    (*(str(tooth) for tooth in range(48, 40, -1)), *(str(tooth) for tooth in range(31, 39))),
)
_CENTURY = range(1900, 2100)
_YEAR = r"(?:1[89]|20)\d{2}"
_OLD = r"(?<![\d.,/-])(?:9\d|1[01]\d|12[0-5])(?![\d%°]|[.,/]\d)"


@cache
def _months() -> tuple[re.Pattern[str], re.Pattern[str]]:
    sure = rf"(?<!\w)(?:{either('months')})(?!\w)"
    short = rf"(?<!\w)(?:{either('months_short')})(?!\w)\.?"
    day = r"(?<![\d.,/-])(?:0?[1-9]|[12]\d|3[01])(?:st|nd|rd|th|er|e|º|ª|°)?\.?"
    of = r"\s?[-/.,]?\s?(?:of\s|de\s|del\s|d')?\s?"
    year = rf"(?:{_YEAR}|'\d{{2}})(?!\d)"
    certain = re.compile(
        rf"{day}{of}{sure}(?:{of}{year})?|{sure}\s{day}(?!\s?(?:mm|cm|%|°|n|teeth|missing))(?:,?\s?{year})?|{sure}{of}{year}"
    )
    with_year = re.compile(
        rf"{day}{of}{short}{of}(?:{year}|\d{{2}}(?!\d))|{short}\s?{day}\s?,?\s?{year}|{short}{of}{year}"
        rf"|(?P<bare>{day}\s{short})(?!\w)"
    )
    return certain, with_year


@cache
def _birth() -> re.Pattern[str]:
    cues, after = either("born"), either("born_after")
    when = r"(?:(?:am|im|le|el|il|on|in|the|en|a|em|em\s|op|w|в|dnia|nel)\s)?\s?'?(?=\d)(?:\d[\d./ -]{0,9}\d(?!\d)|\d)"
    return re.compile(
        rf"(?<!\w)(?:{cues})(?!\w|-\w)[\s.:=,*-]*{when}"
        rf"|(?:{any_of(w for w in listed('born') if w[0] > '⺀')})\s?:?\s?\d{{2,4}}"
        rf"|(?<!\d){_YEAR}\s?(?:年\s?)?(?:{after})(?!\w)"
        rf"|(?<!\d){_YEAR}\s?年\s?(?:出生|生まれ|生(?!\w)|生人)"
        rf"|(?<![\w*])\*\s?{_YEAR}(?!\d)|(?<![\w*])\*\s?\d{{1,2}}\.\d{{1,2}}\.\d{{2,4}}"
    )


@cache
def _aged() -> re.Pattern[str]:
    before, after, words = either("aged"), either("years_old"), "|".join(listed("ninety"))
    han = any_of(word for word in (*listed("aged"), *listed("years_old")) if word[0] > "⺀")
    unit = r"(?!\s?(?:%|mm|cm|°|n\b|grad|deg))"
    return re.compile(
        rf"(?<!\w)(?:she|he|patient|pt|lady|gentleman)(?:'s| is)(?: now| over)?\s{_OLD}{unit}"
        rf"|{_OLD}[\s-]*(?:{after})(?!\w)|{_OLD}\s?(?:{han})|(?<!\w)(?:{before})\s?{_OLD}{unit}"
        rf"|(?<!\w)(?:{words})(?!\w)|(?<!\w)9\d\s?(?:m|f|w|y)(?!\w)"
    )


def dates(text: str, original: str) -> Iterator[Place]:
    """Dates, years of birth and great ages in flat text (``original`` tells capitals)."""
    for match in _PARTS.finditer(text):
        first, left, second, right, third = match.groups()
        if left.strip() != right.strip():
            continue
        if _VERSION.search(text[max(0, match.start() - 12) : match.start()]):
            continue
        if _plausible(first, second, third, left.strip()) and not _row_of_teeth(text, match):
            yield *match.span(), "date"
    for match in _COMPACT.finditer(text):
        if not ours(text, match.start()):
            yield *match.span(), "date"
    for pattern in (_MONTH_YEAR, _DAY_MONTH):
        for match in pattern.finditer(text):
            yield *match.span(), "date"
    certain, with_year = _months()
    for match in certain.finditer(text):
        yield *match.span(), "date"
    for match in with_year.finditer(text):
        if match["bare"] is None or _capital_month(original[match.start() : match.end()]):
            yield *match.span(), "date"
    for match in _HAN.finditer(text):
        yield *match.span(), "date"
    for match in _birth().finditer(text):
        if not re.search(r"\d\s?(?:mm|cm|%|n)\b", text[match.start() : match.end() + 3]):
            yield *match.span(), "date"


def ages(text: str) -> Iterator[Place]:
    """Ages over 89 in flat text."""
    for match in _aged().finditer(text):
        yield *match.span(), "age"


def _capital_month(words: str) -> bool:
    month = words.split()[-1]
    if re.match(r"\d{1,2}\. [A-ZÄ]", words) and month in ("Mai", "Mär", "Mrz"):
        return True
    return (
        month[0].isupper()
        and not month.isupper()
        and fold(month.strip(".")) not in folded("months_also_words")
    )


def _plausible(first: str, second: str, third: str, sign: str) -> bool:
    a, b, c = int(first), int(second), int(third)
    if not 1 <= b <= 31 or len(first) == 3:
        return False
    if len(first) == 4:
        return a in _CENTURY and sign != "" and b <= 12 and 1 <= c <= 31 and len(third) == 2
    day_first, month_first = (1 <= a <= 31 and b <= 12), (1 <= a <= 12 and b <= 31)
    if not day_first and not month_first:
        return False
    if len(third) == 4:
        return c in _CENTURY and (sign != "" or len(first) + len(second) == 4)
    if sign == "":
        return False
    zero = first[0] == "0" or second[0] == "0"
    return zero or sign in "./-"


def _row_of_teeth(text: str, match: re.Match[str]) -> bool:
    """Whether three two-digit numbers are teeth: said so before, or neighbours in an arch."""
    parts = (match[1], match[3], match[5])
    if not all(part in _TEETH for part in parts):
        return False
    for row in _ARCHES:
        if all(part in row for part in parts):
            first, second, third = (row.index(part) for part in parts)
            if (second - first, third - second) in ((1, 1), (-1, -1)):
                return True
    before = text[max(0, match.start() - 14) : match.start()]
    said = re.findall(r"[^\W\d_]+", before)
    return bool(said) and said[-1] in folded("teeth")
