"""Chinese and Japanese names: written without spaces, so that only the lists tell where one begins."""

import re
from collections.abc import Iterator
from functools import cache

from recommender.privacy.data import any_of, listed, names
from recommender.privacy.found import Place

_EDGE_BEFORE = r"(?<![\u4e00-\u9fff\u3040-\u30ff])"
_EDGE_AFTER = r"(?![\u4e00-\u9fff\u3040-\u30ff])"


@cache
def _chinese() -> tuple[re.Pattern[str], ...]:
    family = sorted(names("chinese_family"), key=lambda name: (-len(name), name))
    surname = "|".join(family)
    sign = "[" + "".join(sorted(names("chinese_given_signs") | set("".join(listed("chinese_signs"))))) + "]"
    title = "|".join(listed("chinese_titles"))
    before = "|".join(listed("chinese_before"))
    after = "|".join(listed("chinese_after"))
    compound = "|".join(name for name in family if len(name) > 1)
    pet = "".join(listed("chinese_pet"))
    common, said = "".join(listed("chinese_common")), "|".join(listed("chinese_said"))
    not_family = "".join(listed("chinese_not_family"))
    edge = rf"(?:{_EDGE_BEFORE}|(?<={')|(?<='.join(listed('chinese_before'))}))" if before else _EDGE_BEFORE
    end = rf"(?={after}|[^\u4e00-\u9fff]|$)"
    return (
        re.compile(rf"(?:{surname}){sign}{{0,2}}(?:{title})"),
        re.compile(rf"{edge}(?:{surname})(?<![{not_family}]){sign}{{1,2}}{end}"),
        re.compile(rf"(?<=患者|病人)(?:{surname}){sign}{{2}}"),
        re.compile(rf"(?<![\u4e00-\u9fff])(?:{compound})[\u4e00-\u9fff]{{1,2}}(?={end[3:]}"),
        re.compile(
            rf"(?:患者|病人)姓(?:{surname})|{_EDGE_BEFORE}[{pet}][{common}](?=的|下|今|明|昨|来|{said}|{_EDGE_AFTER})"
        ),
        re.compile(rf"(?:{_EDGE_BEFORE}|(?<=患者|病人))[{common}][\u4e00-\u9fff]{{1,2}}{_EDGE_AFTER}"),
        re.compile(rf"{_EDGE_BEFORE}[{common}][\u4e00-\u9fff]{{1,2}}(?={said})"),
        re.compile(r"(?:姓名|名叫|名为|叫做|患者叫|氏名|患者名)\s?(?:是|は|:)?\s?[\u4e00-\u9fff]{2,4}"),
    )


@cache
def _japanese() -> tuple[re.Pattern[str], ...]:
    surname = any_of(names("japanese_family"))
    single = "[" + "".join(sorted(names("japanese_family_signs"))) + "]"
    signs = "[" + "".join(sorted(names("japanese_given_signs"))) + "]"
    given_kana = any_of(sorted(names("japanese_given_kana")))
    kana = any_of(sorted(names("japanese_kana")))
    title = "|".join(listed("japanese_titles"))
    kept = "|".join(listed("japanese_not_titled"))
    return (
        re.compile(
            rf"(?!(?:[\u4e00-\u9fff]{{0,4}}(?:{kept})))(?:{surname}|(?<![ァ-ヶー])[ァ-ヶー]{{2,6}}\s?[ァ-ヶー]{{0,5}}|(?<![ぁ-ん])(?:{kana}))(?:\s?{signs}{{1,3}})?\s?(?:{title})"
        ),
        re.compile(
            rf"(?:{surname})\s?(?:{signs}{{1,2}}[子美代恵江枝男夫雄一二三郎朗介助之也人太平志史彦造造子香奈菜花華織里理衣絵緒音希樹輝翔斗馬真馬司治次信明弘浩博宏宗正幸行]?)(?![\u4e00-\u9fff])"
        ),
        re.compile(rf"(?:{surname})\s?(?:{given_kana})(?![ぁ-ん])"),
        re.compile(rf"{_EDGE_BEFORE}{single}\s?{signs}{{2,3}}{_EDGE_AFTER}"),
        re.compile(rf"(?<![ぁ-ん])(?:{kana})\s(?:{given_kana})(?![ぁ-ん])"),
        re.compile(rf"{_EDGE_BEFORE}(?:{surname})(?=\s*(?:[,.:;)]|$|\s))"),
        re.compile(rf"(?<![ァ-ヶー])(?:{_to_katakana(kana)})\s(?:{_to_katakana(given_kana)})(?![ァ-ヶー])"),
    )


def _to_katakana(pattern: str) -> str:
    return "".join(chr(ord(sign) + 0x60) if "ぁ" <= sign <= "ゖ" else sign for sign in pattern)


def people(text: str) -> Iterator[Place]:
    """Places with a person's name in plain text."""
    kana = any("\u3040" <= sign <= "\u30ff" for sign in text)
    sure = kana or any(sign in text for sign in "顎歯様々")  # signs that Chinese does not have
    for pattern in _japanese() if kana else (*_chinese(), *_japanese()[: None if sure else 3]):
        for match in pattern.finditer(text):
            if not _a_word(match[0]):
                yield *match.span(), "name"


def _a_word(found: str) -> bool:
    return any(word in found for word in _words())


@cache
def _words() -> tuple[str, ...]:
    return tuple(listed("han_words"))
