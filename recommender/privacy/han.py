"""Chinese and Japanese names: written without spaces, so that only the lists tell where one begins."""

import re
from collections.abc import Iterator
from functools import cache

from recommender.privacy.data import any_of, listed, names
from recommender.privacy.found import Place

_SIGN = r"[\u4e00-\u9fff]"
_BEGIN = r"(?<![\u4e00-\u9fff\u3040-\u30ff])"
_END = r"(?![\u4e00-\u9fff\u3040-\u30ff])"


def _signs(section: str) -> str:
    """A class of the signs of a section of ``words.yaml``."""
    return "[" + "".join(dict.fromkeys("".join(listed(section)))) + "]"


def _named_signs(section: str) -> str:
    """A class of the signs of a list of names."""
    return "[" + "".join(sorted(names(section))) + "]"


@cache
def _chinese() -> tuple[re.Pattern[str], ...]:
    family = sorted(names("chinese_family"), key=lambda name: (-len(name), name))
    surname, compound = "|".join(family), "|".join(name for name in family if len(name) > 1)
    given = "[" + "".join(sorted(names("chinese_given_signs") | set("".join(listed("chinese_signs"))))) + "]"
    common, begins_words = _signs("chinese_common"), _signs("chinese_not_family")
    said = "|".join(listed("chinese_said"))
    begin = "(?:" + "|".join([_BEGIN, *(f"(?<={word})" for word in listed("chinese_before"))]) + ")"
    end = rf"(?={'|'.join(listed('chinese_after'))}|[^\u4e00-\u9fff]|$)"
    patterns = (
        rf"(?:{surname}){given}{{0,2}}(?:{'|'.join(listed('chinese_titles'))})",
        rf"{begin}(?:{surname})(?<!{begins_words}){given}{{1,2}}{end}",
        rf"(?<=患者|病人)(?:{surname}){given}{{2}}",
        rf"{begin}(?:{surname})(?<={common})(?<!{_signs('chinese_doubtful')}){given}{{2}}",
        rf"{begin}(?:{compound}){_SIGN}{{1,2}}{end}",
        rf"(?:患者|病人)姓(?:{surname})",
        rf"{_BEGIN}{_signs('chinese_pet')}{common}(?=[的下今明昨来]|{said}|{_END})",
        rf"(?:{_BEGIN}|(?<=患者|病人)){common}{_SIGN}{{1,2}}{_END}",
        rf"{_BEGIN}{common}{_SIGN}{{1,2}}(?={said})",
        rf"(?:姓名|名叫|名为|叫做|患者叫|氏名|患者名)\s?[是は:]?\s?{_SIGN}{{2,4}}",
    )
    return tuple(re.compile(pattern) for pattern in patterns)


@cache
def _japanese() -> tuple[tuple[re.Pattern[str], ...], tuple[re.Pattern[str], ...]]:
    """What is a name in any text, and what is one in a text that is Japanese for certain."""
    surname, single = any_of(names("japanese_family")), _named_signs("japanese_family_signs")
    given, ends = _named_signs("japanese_given_signs"), _signs("japanese_given_ends")
    first, last = any_of(names("japanese_given_kana")), any_of(names("japanese_kana"))
    title, kept = "|".join(listed("japanese_titles")), "|".join(listed("japanese_not_titled"))
    spelt = rf"(?<![ァ-ヶー])[ァ-ヶー]{{2,6}}\s?[ァ-ヶー]{{0,5}}|(?<![ぁ-ん])(?:{last})"
    anywhere = (
        rf"(?!{_SIGN}{{0,4}}(?:{kept}))(?:{surname}|{spelt})(?:\s?{given}{{1,3}})?\s?(?:{title})",
        rf"(?:{surname})\s?{given}{{1,2}}{ends}?(?!{_SIGN})",
        rf"(?:{surname})\s?(?:{first})(?![ぁ-ん])",
        rf"(?<=患者[:\s])(?:{surname})",
    )
    japanese = (
        rf"{_BEGIN}{single}\s?{given}{{2,3}}{_END}",
        rf"(?<!{_SIGN}){given}{{1,2}}(?!{_signs('japanese_workers')}){given}(?:{'|'.join(listed('japanese_pet'))})",
        rf"(?<![ぁ-ん])(?:{last})\s(?:{first})(?![ぁ-ん])",
        rf"{_BEGIN}(?:{surname})(?=\s*(?:[,.:;)」』”\"]|$|\s))",
        rf"(?<![ァ-ヶー])(?:{_to_katakana(last)})\s(?:{_to_katakana(first)})(?![ァ-ヶー])",
    )
    return tuple(map(re.compile, anywhere)), tuple(map(re.compile, japanese))


def _to_katakana(pattern: str) -> str:
    return "".join(chr(ord(sign) + 0x60) if "ぁ" <= sign <= "ゖ" else sign for sign in pattern)


def people(text: str) -> Iterator[Place]:
    """Places with a person's name in plain text."""
    kana = any("\u3040" <= sign <= "\u30ff" for sign in text)
    anywhere, japanese = _japanese()
    patterns = list(anywhere)
    if kana or any(sign in text for sign in listed("japanese_only")):
        patterns += japanese
    if not kana:
        patterns += _chinese()
    for pattern in patterns:
        for match in pattern.finditer(text):
            if not any(word in match[0] for word in listed("han_words")):
                yield *match.span(), "name"
