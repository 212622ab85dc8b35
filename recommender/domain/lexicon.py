"""The words of the trade in several languages, tied to the identifiers of the case format (``shared/lexicon/``).

One lexicon serves everything that reads what people wrote: orders in free text, and the headings and cells of a
laboratory's register. What the option catalogue (``shared/options``) and the vocabulary (``shared/vocabulary.yaml``)
already call a thing counts as English and is not repeated in the lexicon's own files.

    lookup("retainer", "Akers-Klammer")            -> "circumferential"
    lookup("sex", "F")                             -> "female"
    lookup("arch", "lower")                        -> "mandible"
    lookup("connector", "Gaumenplatte")            -> None, and choices("connector", "Gaumenplatte") says between which
    guess_heading("Klammer 14")                    -> Heading("prescription.retainers", "retainer", number=14)
    guess_heading("Patient name").path             -> "identity": may identify a patient, never to be taken in

Kinds: ``retainer``, ``connector``, ``replacement``, ``rest``, ``alloy`` (identifiers of the catalogue), every closed
list of ``shared/vocabulary.yaml`` by its name there, ``flag`` (``"true"`` | ``"false"``), ``site`` and ``heading``
(paths of the format without tooth numbers). ``kind_of(path)`` names the kind of a path. Case, accents, hyphens,
dots and plural endings do not count; ``near`` also finds misspelt words and says how far off they are.
"""

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import product
from typing import Any

from recommender.domain import catalogue
from recommender.resources import read_yaml, shared

LANGUAGES = ("any", "en", "de", "fr", "es", "it", "pt", "pl", "nl")
OPTION_KINDS = ("retainer", "connector", "replacement", "rest", "alloy")
# What a path holds where the list is not called as the last part of the path.
_KIND_OF = {
    "patient.caries_risk": "level3",
    "patient.aesthetic_priority": "level3",
    "patient.allergy": "allergen",
    "patient.dry_mouth": "flag",
    "patient.gag_reflex": "flag",
    "patient.swallowing_risk": "flag",
    "patient.antiresorptive": "flag",
    "patient.jaw_radiotherapy": "flag",
    "palate.torus": "palate_torus",
    "floor.torus": "floor_torus",
    "floor.lingual_frenum": "frenum",
    "abutments.kind": "abutment_kind",
    "abutments.contour_height": "contour_level",
    "abutments.rest_seats": "rest_seat",
    "abutments.guiding_planes": "guiding_plane",
    "prescription.retainers": "retainer",
    "prescription.replacements": "replacement",
    "prescription.rests": "rest",
    "design.retainers": "retainer",
    "design.replacements": "replacement",
    "outcome.accepted": "flag",
    "outcome.still_worn": "flag",
}
_LETTERS = str.maketrans({"ß": "ss", "œ": "oe", "æ": "ae", "ł": "l", "ø": "o", "’": "'", "‘": "'", "`": "'"})
_UMLAUT = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue"})
_CHOICE = re.compile(r"\(([^()]*)\)")
_WORD = re.compile(r"[^\W_]+|[&+/@?#%°×$€♀♂-]|\.\.", re.UNICODE)
# Endings of number, gender and case, longest first; what is left must keep four letters.
_ENDINGS = ("es", "en", "er", "em", "as", "os", "s", "n", "e", "a", "o")
_LEAST_STEM = 4
_LEAST_NEAR, _LEAST_NEAR_BY_TWO = 5, 8


@dataclass(frozen=True, slots=True)
class Entry:
    """One phrase of the lexicon: what it means, in which language, and as folded words."""

    kind: str
    identifier: str
    language: str
    phrase: str
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Near:
    """A phrase that is close to what was written: ``distance`` is the number of letters that differ."""

    identifier: str
    phrase: str
    distance: int


@dataclass(frozen=True, slots=True)
class Heading:
    """What a column heading seems to be: a path of the format without tooth numbers (or ``identity``), the kind of
    its cells (empty for text and numbers), a number that stood in the heading (a tooth, in whatever numbering), and
    the words that were left over (a zone, a unit). ``exact`` where nothing was left over.
    """

    path: str
    kind: str
    number: int | None = None
    left: str = ""
    exact: bool = True


@lru_cache(maxsize=50_000)
def fold(text: str) -> str:
    """Lower case without accents; ``ß`` becomes ``ss``."""
    plain = unicodedata.normalize("NFKD", text.translate(_LETTERS).lower().translate(_LETTERS))
    return "".join(letter for letter in plain if not unicodedata.combining(letter))


def words_of(text: str) -> tuple[str, ...]:
    """Folded words of a phrase; hyphens, dots, apostrophes and slashes only part words."""
    return tuple(re.findall(r"[^\W_]+", fold(text))) or tuple(_WORD.findall(fold(text)))


def misspelt_by(phrase: str) -> int:
    """How many letters a misspelt form of a phrase may differ: none below five letters, two from eight on."""
    return 0 if len(phrase) < _LEAST_NEAR else 1 if len(phrase) < _LEAST_NEAR_BY_TWO else 2


@lru_cache(maxsize=50_000)
def stem(word: str) -> str:
    """A folded word without its ending of number, gender or case; four letters remain (``bars``: three)."""
    if word.isdigit():
        return word
    for ending in _ENDINGS:
        if word.endswith(ending) and len(word) - len(ending) >= _LEAST_STEM:
            left = word[: -len(ending)]
            return stem(left) if ending in ("n", "s") else left
    return word[:-1] if len(word) == _LEAST_STEM and word.endswith("s") else word


class Lexicon:
    """All entries, found by kind and words. Made once from trusted data by ``lexicon()``."""

    def __init__(self, entries: Iterable[Entry], unsettled: Iterable[tuple[Entry, tuple[str, ...]]]) -> None:
        self.entries = tuple(entries)
        self._exact: dict[tuple[str, str], list[str]] = {}
        self._loose: dict[tuple[str, str], list[str]] = {}
        self._phrases: dict[str, dict[str, str]] = {}
        for entry in self.entries:
            joined = "".join(entry.words)
            _add(self._exact, (entry.kind, joined), entry.identifier)
            _add(self._loose, (entry.kind, _stemmed(entry.words)), entry.identifier)
            self._phrases.setdefault(entry.kind, {}).setdefault(" ".join(entry.words), entry.identifier)
        self._unsettled = {(entry.kind, _stemmed(entry.words)): of for entry, of in unsettled}

    def of(self, *kinds: str) -> Iterator[Entry]:
        """The entries of these kinds."""
        return (entry for entry in self.entries if entry.kind in kinds)

    def lookup(self, kind: str, text: str) -> str | None:
        """The identifier that a whole text names, ``None`` where it names none, or several."""
        words = words_of(text)
        if not words or (kind, _stemmed(words)) in self._unsettled:
            return None
        found = self._exact.get((kind, "".join(words))) or self._loose.get((kind, _stemmed(words)), [])
        return found[0] if len(found) == 1 else None

    def choices(self, kind: str, text: str) -> tuple[str, ...]:
        """The identifiers between which a text leaves the choice open; empty where it is settled or unknown."""
        words = words_of(text)
        open_words = self._unsettled.get((kind, _stemmed(words)))
        if open_words is not None:
            return open_words
        found = self._exact.get((kind, "".join(words))) or self._loose.get((kind, _stemmed(words)), [])
        return tuple(found) if len(found) > 1 else ()

    def near(self, kind: str, text: str) -> Near | None:
        """The one phrase that differs least from a misspelt text: one letter from five on, two from eight on."""
        from rapidfuzz import process
        from rapidfuzz.distance import OSA

        words = " ".join(words_of(text))
        if len(words) < _LEAST_NEAR - 1:
            return None
        phrases = self._phrases.get(kind, {})
        close = [
            (phrase, distance)
            for phrase, distance, _ in process.extract(
                words, list(phrases), scorer=OSA.distance, score_cutoff=2, limit=8, processor=None
            )
            if distance <= misspelt_by(phrase)
        ]
        if not close:
            return None
        least = min(distance for _, distance in close)
        best = {phrases[phrase]: phrase for phrase, distance in close if distance == least}
        if len(best) != 1:
            return None
        identifier, phrase = next(iter(best.items()))
        return Near(identifier, phrase, int(least))


def lookup(kind: str, text: str) -> str | None:
    """The identifier of ``kind`` that the whole text names in any language; ``None`` where it names none or several."""
    return lexicon().lookup(kind, text)


def choices(kind: str, text: str) -> tuple[str, ...]:
    """Identifiers between which a known word leaves the choice open (``titanium``); empty where it is settled."""
    return lexicon().choices(kind, text)


def near(kind: str, text: str) -> Near | None:
    """What a misspelt text is closest to, within one or two letters; whoever takes it over has to mark it."""
    return lexicon().near(kind, text)


def kind_of(path: str) -> str:
    """The kind of the cells of a path without tooth numbers; empty for texts and plain numbers."""
    if path in _KIND_OF:
        return _KIND_OF[path]
    last = path.rsplit(".", 1)[-1]
    return last if last in lexicon_kinds() else ""


def guess_heading(text: str) -> Heading | None:
    """The field that a column heading names, ``None`` where the lexicon has no word for it.

    The heading as a whole first, then without numbers, then the longest phrase of the lexicon that stands in it; where
    two of that length name two fields, neither is guessed.
    """
    words = words_of(text)
    if not words or len(words) > 12:
        return None
    numbers = [int(word) for word in words if word.isdigit() and len(word) <= 2]
    number = numbers[0] if len(numbers) == 1 else None
    for tried, tooth in ((words, None), (tuple(w for w in words if not w.isdigit()), number)):
        path = _heading_path(" ".join(tried))
        if path is not None:
            return Heading(path, kind_of(path), tooth)
    plain = tuple(word for word in words if not word.isdigit())
    for length in range(len(plain) - 1, 0, -1):
        found: dict[str, str] = {}  # what is left of the heading, by the field that a part of it names
        for start in range(len(plain) - length + 1):
            inner = plain[start : start + length]
            path = _heading_path(" ".join(inner))
            if path is not None and (length > 1 or len(inner[0]) > 2):
                found.setdefault(path, " ".join((*plain[:start], *plain[start + length :])))
        if len(found) == 1:
            ((path, left),) = found.items()
            return Heading(path, kind_of(path), number, left, False)
        if found:
            return None
    return None


def _heading_path(text: str) -> str | None:
    if not text:
        return None
    return lexicon().lookup("heading", text) or next(iter(lexicon().choices("heading", text)), None)


@cache
def lexicon_kinds() -> frozenset[str]:
    """Every kind that has entries."""
    return frozenset(entry.kind for entry in lexicon().entries)


@cache
def lexicon() -> Lexicon:
    """The packaged lexicon, read once."""
    unsettled = [
        (Entry(kind, "", language, phrase, words_of(phrase)), tuple(item["of"]))
        for kind, items in document("options")["unsettled"].items()
        for item in items
        for language, phrase in spoken(item)
    ]
    return Lexicon(_unique([*_own(), *_catalogued(), *_labelled()]), unsettled)


@cache
def document(name: str) -> dict[str, Any]:
    """A file of the lexicon as plain values: ``options words headings teeth order findings``."""
    return _yaml("lexicon", f"{name}.yaml")


def spoken(entry: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """Language and phrase of an entry that lists phrases by language; German also without umlauts."""
    for language in LANGUAGES:
        for written in entry.get(language) or ():
            for phrase in _alternatives(str(written)):
                yield language, phrase
                if language == "de" and (spelt := phrase.translate(_UMLAUT)) != phrase:
                    yield language, spelt


def _alternatives(written: str) -> Iterator[str]:
    """Every phrase that a form with choices stands for: ``(wants|needs) no (metal|) show``."""
    parts = [part.split("|") for part in _CHOICE.split(written)]
    for chosen in product(*(part if place % 2 else ["|".join(part)] for place, part in enumerate(parts))):
        yield " ".join("".join(chosen).split())


def _own() -> Iterator[Entry]:
    for name in ("options", "words"):
        for kind, identifiers in document(name)["words"].items():
            for identifier, entry in identifiers.items():
                for language, phrase in spoken(entry):
                    yield Entry(kind, str(identifier), language, phrase, words_of(phrase))
    for path, entry in document("headings")["headings"].items():
        for language, phrase in spoken(entry):
            yield Entry("heading", path, language, phrase, words_of(phrase))


def _catalogued() -> Iterator[Entry]:
    for kind in OPTION_KINDS:
        for option in catalogue.load().options[kind].values():
            for phrase in (option.label, *option.synonyms, option.id.replace("_", " ")):
                yield Entry(kind, option.id, "en", phrase, words_of(phrase))


def _labelled() -> Iterator[Entry]:
    vocabulary = _yaml("vocabulary.yaml")
    for kind, identifiers in vocabulary["lists"].items():
        for identifier, label in identifiers.items():
            phrases = (
                str(label["label"] if isinstance(label, dict) else label),
                str(identifier).replace("_", " "),
            )
            for phrase in phrases:
                yield Entry(kind, str(identifier), "en", phrase, words_of(phrase))
    for path, entry in vocabulary["fields"].items():
        if "." in path or path in ("arch", "missing", "absent", "planned_extractions", "future_loss_likely"):
            yield Entry("heading", path, "en", str(entry["label"]), words_of(str(entry["label"])))


def _unique(entries: Iterable[Entry]) -> list[Entry]:
    return list({(e.kind, e.identifier, e.language, e.words): e for e in entries if e.words}.values())


def _add(found: dict[tuple[str, str], list[str]], key: tuple[str, str], identifier: str) -> None:
    held = found.setdefault(key, [])
    if identifier not in held:
        held.append(identifier)


def _stemmed(words: Iterable[str]) -> str:
    return "".join(stem(word) for word in words)


def _yaml(*parts: str) -> dict[str, Any]:
    value: dict[str, Any] = read_yaml(shared(*parts).read_bytes())
    return value
