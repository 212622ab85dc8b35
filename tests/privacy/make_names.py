"""Makes ``shared/privacy/names/*.txt`` anew. Run by hand: ``python tests/privacy/make_names.py``.

Needs, beside the project, ``pip install faker mimesis names zxcvbn zxcvbn-pl japanese-personal-name-dataset jieba
pymorphy3`` (all MIT) and Debian's ``hunspell-*`` dictionaries, which only tell which names are words as well: nothing
of the dictionaries is copied. ``words.txt`` there is written by hand and read here.
"""

import csv
import importlib
import json
import re
import sys
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from recommender.privacy.folding import fold
from recommender.resources import shared

LOCALES = """en_US en_GB en_IE en_IN de_DE de_AT de_CH
fr_FR fr_CH fr_QC es_ES es_MX es_AR es_CO es_CL it_IT pl_PL pt_PT pt_BR nl_NL nl_BE tr_TR
ru_RU uk_UA zh_CN zh_TW ja_JP ar_AA ar_SA ar_PS cs_CZ sv_SE no_NO da_DK fi_FI hu_HU ro_RO hr_HR el_GR""".split()  # noqa: SIM905
MIMESIS = """en en-gb en-au de de-at de-ch fr es es-mx it pl pt pt-br
nl nl-be tr ru uk ja ar ar-eg ar-sa ar-ma ar-sy cs da
fi hu hr no sv sk el""".split()  # noqa: SIM905
DICTIONARIES = ["en_US", "en_GB", "fr", "es_ES", "it_IT", "pl_PL", "pt_PT", "pt_BR", "nl", "ru_RU", "de_DE"]
GERMAN_NOUN = set("NEPTmijpRF")  # flags that nouns have and names have not
CENSUS = 60_000  # family names of the United States census of 1990, the commonest first
SIGN_IN = 40  # a sign that stands in so many Chinese given names
COMMON_IN = 5  # a name in so many lists is a name first, whatever a dictionary says


def leaves(value: Any) -> Iterator[str]:
    """Every text in nested data."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for inner in value.values():
            yield from leaves(inner)
    elif isinstance(value, (list, tuple, set)):
        for inner in value:
            yield from leaves(inner)


def collected() -> tuple[dict[str, set[str]], dict[str, set[str]]]:
    """Given and family names as the packages have them, each with the lists it stands in."""
    given: dict[str, set[str]] = defaultdict(set)
    family: dict[str, set[str]] = defaultdict(set)
    for locale in LOCALES:
        provider = importlib.import_module(f"faker.providers.person.{locale}").Provider
        for key in dir(provider):
            values = getattr(provider, key)
            if not key.startswith("_") and isinstance(values, (list, tuple, dict)):
                into = given if "first_name" in key else family if "last_name" in key else None
                names = leaves(tuple(values))
                if into is not None:
                    for name in names:
                        into[name].add(f"faker {locale[:2]}")
    import mimesis

    for locale in MIMESIS:
        file = Path(mimesis.__file__).parent / "datasets" / locale / "person.json"
        if file.exists():
            data = json.loads(file.read_text(encoding="utf-8"))
            for key, into in (("names", given), ("surnames", family)):
                for name in leaves(data.get(key, {})):
                    into[name].add(f"mimesis {locale[:2]}")
    from zxcvbn.frequency_lists import FREQUENCY_LISTS

    for key, into in (("male_names", given), ("female_names", given), ("surnames", family)):
        for name in FREQUENCY_LISTS[key]:
            into[name].add("zxcvbn")
    _census(family)
    _polish(given, family)
    _russian(given, family)
    return given, family


def _census(family: dict[str, set[str]]) -> None:
    import names

    lines = (Path(names.__file__).parent / "dist.all.last").read_text(encoding="ascii").splitlines()
    for line in lines[:CENSUS]:
        family[line.split()[0].title()].add("names")


def _polish(given: dict[str, set[str]], family: dict[str, set[str]]) -> None:
    import zxcvbn_pl

    lists = zxcvbn_pl.dictionaries()
    for key, into, most in (("pl_first_names", given, 2_000), ("pl_last_names", family, 2_500)):
        trie = lists[key]._trie
        for name in trie.keys():  # noqa: SIM118 - a trie is no dict
            if trie[name][0][0] <= most:
                into[name].add("zxcvbn pl")


def _russian(given: dict[str, set[str]], family: dict[str, set[str]]) -> None:
    import pymorphy3

    morph = pymorphy3.MorphAnalyzer()
    for into, tag in ((given, "Name"), (family, "Surn")):
        for name, where in list(into.items()):
            if re.fullmatch(r"[а-яё]+", name.lower()):
                parse = next((each for each in morph.parse(name) if tag in each.tag), None)
                for form in parse.lexeme if parse else ():
                    into[form.word] |= where


def words() -> set[str]:
    """Ordinary words of eleven languages, folded."""
    found = set()
    for code in DICTIONARIES:
        folder = Path("/usr/share/hunspell")
        stated = re.search(rb"^\W*SET\s+(\S+)", (folder / f"{code}.aff").read_bytes(), re.M)
        assert stated
        encoding = stated[1].decode().replace("ISO8859", "iso-8859")
        text = (folder / f"{code}.dic").read_bytes().decode(encoding, "replace")
        for line in text.splitlines():
            word, _, flags = line.partition("/")
            word = word.split("\t")[0].strip()
            if len(word) > 1 and (word[0].islower() or (code == "de_DE" and GERMAN_NOUN & set(flags))):
                found.add(fold(word))
                if code.startswith("en") and word[0].islower():
                    found |= {fold(word) + "s", fold(word) + "es"}
                if code == "de_DE" and word[0].islower():  # adjectives have endings
                    found |= {fold(word + ending) for ending in ("e", "er", "es", "en", "em")}
    return found


def by_hand(section: str) -> set[str]:
    """Names of ``names/words.txt`` under a heading."""
    text = shared("privacy", "names", "words.txt").read_text(encoding="utf-8")
    part = text.split(f"[{section}]")[1].split("\n[")[0]
    return {fold(name) for name in part.split()}


def folded(names: dict[str, set[str]], whole: bool) -> dict[str, set[str]]:
    """The names in folded form; of given names each part."""
    found: dict[str, set[str]] = defaultdict(set)
    for name, where in names.items():
        if re.search(r"[^\w '’-]|\d", name):
            continue
        parts = re.split(r"[ -]", name) if not whole else [] if name.count(" ") else [name]
        for part in parts:
            text = fold(part)
            if len(text) > 2 and text.replace("'", "").isalpha() and not "\u2e80" <= text[0] <= "\uffff":
                found[text] |= where
    return found


def write(name: str, lines: Iterable[str]) -> None:
    """Writes a list, sorted."""
    path = shared("privacy", "names", f"{name}.txt")
    path.write_text("\n".join(sorted(set(lines))) + "\n", encoding="utf-8")
    print(path.name, path.stat().st_size)


def main() -> int:
    """Makes every list."""
    given, family = collected()
    ordinary = words()
    never, always = by_hand("names that are words first"), by_hand("words that are names first")
    drop = by_hand("never names")
    one, other = folded(given, whole=False), folded(family, whole=True)
    # Turkish names are words nearly all; a list in which a name stands alone says little
    sure = {
        n for n in one if n not in never and (n in always or n not in ordinary or len(one[n]) >= COMMON_IN)
    }
    write("given", sure - drop)
    write("given_words", set(one) - sure - drop)
    write("given_common", {n for n in sure if len(one[n]) >= 4} - drop)
    certain = {n for n in other if n not in never and (n in always or n not in ordinary) and len(n) > 3}
    write("family", certain - drop)
    write("family_words", set(other) - certain - drop)
    han(given, family)
    cities()
    return 0


def _signs(family: set[str]) -> set[str]:
    """Signs of given names, from the names in jieba's dictionary."""
    import jieba

    count: Counter[str] = Counter()
    for line in (Path(jieba.__file__).parent / "dict.txt").read_text(encoding="utf-8").splitlines():
        word, _, tag = line.split(" ")
        if tag == "nr" and len(word) in (2, 3) and word[0] in family:
            count.update(word[1:])
    return {sign for sign, number in count.items() if number >= SIGN_IN}


def cities() -> None:
    """Names of towns, which stand after a postcode."""
    import mimesis

    found = set()
    for locale in MIMESIS:
        file = Path(mimesis.__file__).parent / "datasets" / locale / "address.json"
        if file.exists():
            towns = leaves(json.loads(file.read_text(encoding="utf-8")).get("city", []))
            found |= {fold(re.split(r"[ /(-]", name)[0]) for name in towns}
    write("towns", {name for name in found if len(name) > 3} | by_hand("towns besides"))


def han(given: dict[str, set[str]], family: dict[str, set[str]]) -> None:
    """Chinese surnames and the characters of given names; Japanese surnames and given names."""
    import japanese_personal_name_dataset as package

    chinese = {n for n, where in family.items() if "faker zh" in where and "\u4e00" <= n[0] <= "\u9fff"}
    write("chinese_family", chinese)
    signs = {
        c for n, where in given.items() if where & {"faker zh", "mimesis zh"} for c in n if c >= "\u4e00"
    }
    write("chinese_given_signs", signs | _signs(chinese))
    folder = Path(package.__file__).parent / "dataset"
    with (folder / "last_name_org.csv").open(encoding="utf-8") as stream:
        rows = [row for row in csv.reader(stream) if row]
    write("japanese_family", {row[0] for row in rows if len(row[0]) > 1})
    write("japanese_family_signs", {row[0] for row in rows if len(row[0]) == 1})
    write("japanese_kana", {row[2] for row in rows if len(row[2]) > 2})
    names, kana = set(), set()
    for file in ("first_name_man_opti.csv", "first_name_woman_opti.csv"):
        with (folder / file).open(encoding="utf-8") as stream:
            for row in csv.reader(stream):
                kana.add(row[0])
                names |= {name for name in row[2:] if len(name) > 1}
    write("japanese_given_signs", {c for name in names for c in name if "\u4e00" <= c <= "\u9fff"})
    write("japanese_given_kana", {name for name in kana if len(name) > 1})


if __name__ == "__main__":
    sys.exit(main())
