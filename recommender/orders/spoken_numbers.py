"""Numbers in words from ten to ninety-nine, as teeth and ages are spoken ("seventeen", "sesenta y seis")."""

from collections.abc import Iterator
from functools import cache

from recommender.domain import lexicon as lx

_TEN = 10


@cache
def spoken() -> tuple[tuple[str, str, int], ...]:
    """Language, phrase and number of every number in words that the lexicon's parts make."""
    parts = lx.document("order")["number_words"]
    return tuple((language, *made) for language in parts for made in _of(language, parts[language]))


def _of(language: str, parts: dict[str, list[str]]) -> Iterator[tuple[str, int]]:
    units, teens = parts["units"], parts["teens"]
    yield from zip(teens, range(_TEN, _TEN + len(teens)), strict=True)
    for spelt in parts["tens"]:
        word, value = spelt.rsplit(" ", 1)
        ten = int(value)
        yield word, ten
        for place, unit in (
            (place, form) for place, forms in enumerate(units, start=1) for form in forms.split("|")
        ):
            if language == "de":
                yield f"{unit}und{word}", ten + place
                yield f"{unit}und{word}er", ten + place  # "am dreiunddreißiger"
            elif language == "es":
                yield f"{word} y {unit}", ten + place
                if ten == 2 * _TEN:
                    yield f"{word[:-1]}i{unit}", ten + place  # "veinticuatro"
            elif language == "fr":
                yield f"{word} {unit}", ten + place
                yield f"{word} et {unit}", ten + place
            else:
                yield f"{word} {unit}", ten + place
        if language == "fr" and ten in (60, 80) and word not in ("huitante", "octante"):
            for place, teen in enumerate(teens):
                yield f"{word} {teen}", ten + 10 + place
                yield f"{word} et {teen}", ten + 10 + place
