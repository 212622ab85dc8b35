"""The lexicon laid over the tokens of an order: the longest phrase at each place, misspelt words brought back first."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import groupby, repeat
from typing import Any, NamedTuple

from recommender.domain import lexicon as lx
from recommender.orders.spoken_numbers import spoken
from recommender.orders.text import Token, pieces
from recommender.orders.vocabulary import as_written, listed

# Kinds that steer a sentence: only in the language of the order. A trade term counts in every language.
_STEERING = frozenset(
    {
        "role",
        "condition",
        "seat",
        "negation",
        "join",
        "filler",
        "unit",
        "counted",
        "years",
        "before",
        "side",
        "finding",
        "opposing",
        "permits",
        "them",
        "relative",
        "talk",
        "formerly",
        "another",
        "degree",
        "all_but",
        "hint",
        "dentition",
        "dentition_of",
        "wears",
        "otherwise",
        "again",
        "bare",
        "spoken",
        "earlier",
        "respectively",
        "also",
        "correction",
    }
)
# Kinds that a misspelt word is not taken for: joints and words that say nothing are too short and too many.
_NOT_MISSPELT = (
    "filler", "unit", "before", "join", "talk", "spoken", "years", "counted", "them", "formerly", "another", "degree",
    "wears", "otherwise", "again", "respectively", "also", "correction",
)  # fmt: skip
# Retainers that may be named without the word for a clasp, and the fewest letters of what is left.
_HEADLESS = frozenset(
    {"circumferential", "reverse_circumferential", "ring", "embrasure", "hairpin", "back_action"}
)
_LEAST_HEADLESS = 5
_LEAST_COMPOUND = 9
_LINKING = ("de", "del", "d", "a", "en", "ad", "di")
_TURNED = ("retainer", "connector", "rest")
# Headings that name what is said of teeth.
_ROLE_OF = {
    "missing": "missing",
    "planned_extractions": "extraction",
    "future_loss_likely": "doubtful",
}
_INSIDE = frozenset("-'’./+&")
_SECOND_LANGUAGE = 0.5
_SHORT = 2
_HIGH_OR_LOW = ("haute", "hautes", "basse", "basses")


class Meaning(NamedTuple):
    """What a phrase means: its kind, an identifier, its language, and the phrase as the lexicon writes it."""

    kind: str
    identifier: str
    language: str
    phrase: str


@dataclass(frozen=True, slots=True)
class Match:
    """The phrase that begins at a token: how far it goes (exclusive), and everything that it may mean."""

    end: int
    meanings: tuple[Meaning, ...]

    def of(self, *kinds: str) -> Meaning | None:
        """The first meaning of one of these kinds."""
        return next((meaning for meaning in self.meanings if meaning.kind in kinds), None)


class _Node:
    __slots__ = ("meanings", "next")

    def __init__(self) -> None:
        self.next: dict[str, _Node] = {}
        self.meanings: list[Meaning] = []


@cache
def _trie() -> _Node:
    root = _Node()
    clasp_words, headed = (
        frozenset(map(lx.stem, listed("clasp_words"))),
        frozenset(map(lx.stem, listed("not_without_clasp_word"))),
    )
    for meaning in _meanings():
        words = [piece for piece in map(_piece, pieces(meaning.phrase)) if piece.key]
        keys = [piece.key for piece in words] or [meaning.phrase]
        _plant(root, keys, meaning)
        short = [key for key in keys if key not in _LINKING or meaning.language == "de"]  # "m+d" is no "m"
        if 2 <= len(short) < len(keys) and meaning.kind in _TURNED:
            _plant(root, short, meaning)  # "gancho tronera" for "gancho de tronera"
        if meaning.identifier in _HEADLESS and keys[0] in clasp_words:
            headless = [key for key in keys[1:] if key not in _LINKING]
            if len("".join(headless)) >= _LEAST_HEADLESS and not headed & set(headless):
                _plant(root, headless, meaning)
        if len(keys) == 2 and meaning.kind in _TURNED and meaning.language in ("en", "any"):
            _plant(
                root, reversed(keys), meaning
            )  # "bar lingual", as it is written by speakers of other languages
        joins = meaning.kind not in _STEERING and not any(key.isdigit() for key in keys)
        if joins and 2 <= len(keys) <= 4 and len("".join(keys)) > 3:
            _plant(root, [lx.stem("".join([piece.folded for piece in words]))], meaning)
    return root


def _plant(node: _Node, keys: Iterable[str], meaning: Meaning) -> None:
    for key in keys:
        node = node.next.setdefault(key, _Node())
    node.meanings.append(meaning)


@cache
def _meanings() -> tuple[Meaning, ...]:
    """Everything that a phrase of the lexicon may mean."""
    return tuple(_gathered())


class _Piece(NamedTuple):
    """A piece of a phrase: folded, the key that it is matched by (none for a mark), and whether it is a word."""

    folded: str
    key: str
    is_word: bool


@cache
def _piece(text: str) -> _Piece:
    token = Token(text, 0, len(text), False, lx.fold(text))
    return _Piece(token.folded, token.key if token.is_word or token.is_number else "", token.is_word)


def _words(phrase: str) -> list[str]:
    """The folded words of a phrase."""
    return [piece.folded for piece in map(_piece, pieces(phrase)) if piece.is_word]


def _gathered() -> Iterator[Meaning]:
    for entry in lx.lexicon().of(*lx.OPTION_KINDS, "arch", "numbering", "heading"):
        if entry.kind == "rest" and len(entry.words) == 1 and entry.identifier in entry.words:
            continue  # "mesial" alone is a site, and "long" or "none" no rest, in running text
        if entry.identifier in ("none", "wrought_wire") and entry.kind in ("retainer", "rest", "alloy"):
            continue
        yield Meaning(entry.kind, entry.identifier, entry.language, entry.phrase)
        if entry.kind == "heading" and entry.identifier in _ROLE_OF:
            yield Meaning("role", _ROLE_OF[entry.identifier], entry.language, entry.phrase)
    for entry in lx.lexicon().of("site"):
        yield Meaning("site", entry.identifier, entry.language, entry.phrase)
    for kind, items in lx.document("options")["unsettled"].items():
        for item in items:
            # where one of several is what is nearly always meant, that one is read, with a mark
            likely, of = item.get("likely"), "|".join(item["of"])
            beside = ":beside" if item.get("beside_teeth") else ""
            named = ("likely", f"{likely}:{of}{beside}") if likely else ("unsettled", f"{kind}:{of}")
            for language, phrase in lx.spoken(item):
                yield Meaning(*named, language, phrase)
    for kind, section in (("finding", "findings"), ("hint", "hints")):
        for statement, entry_ in lx.document("findings")[section].items():
            for language, phrase in lx.spoken(entry_):
                yield Meaning(kind, statement, language, phrase)
    for language, phrase, number in spoken():
        yield Meaning("spoken", str(number), language, phrase)
    yield from _steering()
    yield from _teeth()


def _steering() -> Iterator[Meaning]:
    order = lx.document("order")
    for kind, section in (
        ("role", order["roles"]),
        ("join", order["joins"]),
        ("relative", order["relatives"]),
        ("rest", order["rest_places"]),
        ("site", order["rest_sites"]),
        ("dentition", order["dentitions"]),
        ("bare", order["bare_connectors"]),
        ("dentition_of", order["dentition_of"]),
    ):
        for identifier, entry in section.items():
            yield from _listed(kind, identifier, entry)
    named = {
        "condition": "conditions", "seat": "seats", "negation": "negations", "unit": "units",
        "before": "before_numbers",
    }  # fmt: skip
    for kind in (
        "condition", "seat", "negation", "filler", "unit", "counted", "years", "before", "opposing", "permits", "them",
        "talk", "formerly", "another", "degree", "all_but", "wears", "otherwise", "again", "earlier",
        "respectively", "also", "correction",
    ):  # fmt: skip
        yield from _listed(kind, kind, order[named.get(kind, kind)])
    yield from _listed("filler", "polite", order["polite"])


def _teeth() -> Iterator[Meaning]:
    teeth = lx.document("teeth")
    for position, entry in teeth["positions"].items():
        yield from _listed("name", str(position), entry)
    for index, entry in enumerate(teeth["groups"]):
        yield from _listed("group", str(index), entry)
    for quadrant, entry in teeth["quadrants"].items():
        yield from _listed("quadrant", str(quadrant), entry)
    for side, entry in teeth["sides"].items():
        yield from _listed("side", side, entry)


def _listed(kind: str, identifier: str, entry: dict[str, Any]) -> Iterator[Meaning]:
    for language, phrase in lx.spoken(entry):
        yield Meaning(kind, identifier, language, phrase)


@cache
def _known() -> dict[str, dict[str, tuple[str, ...]]]:
    """Every folded word of a phrase with its languages: ``all``, and ``trade``, which a misspelt word may mean."""
    every: set[tuple[str, str]] = set()
    trade: set[tuple[str, str]] = set()
    for meaning in _meanings():
        words = _words(meaning.phrase)
        every.update(zip(words, repeat(meaning.language)))
        if meaning.kind not in _NOT_MISSPELT:
            trade.update(zip(words, repeat(meaning.language)))
        if "-" in meaning.phrase and meaning.language == "de":
            trade.add(("".join(words), "de"))
    return {"all": _by_word(every), "trade": _by_word(trade)}


def _by_word(pairs: Iterable[tuple[str, str]]) -> dict[str, tuple[str, ...]]:
    """Words with their languages, both in alphabetical order."""
    return {
        word: tuple(language for _, language in those)
        for word, those in groupby(sorted(pairs), key=lambda pair: pair[0])
    }


@cache
def _stems() -> frozenset[str]:
    cells = {word for entry in lx.lexicon().of("allergen") for word in entry.words}
    return frozenset(lx.stem(word) for word in (*_known()["all"], *cells)) | frozenset(_trie().next)


@cache
def _spoken_words() -> dict[str, frozenset[str]]:
    """Languages of every word that steers or fills a sentence."""
    found: set[tuple[str, str]] = set()
    for meaning in _meanings():
        steers = meaning.kind in _STEERING or meaning.kind in ("name", "group", "arch", "quadrant", "heading")
        if steers and meaning.language != "any":
            found.update(zip(_words(meaning.phrase), repeat(meaning.language)))
    return {word: frozenset(langs) for word, langs in _by_word(found).items()}


def languages_of(tokens: Sequence[Token]) -> tuple[str, ...]:
    """The language of an order, and a second one where it mixes two; English where nothing tells."""
    score: Counter[str] = Counter()
    for token in tokens:
        word = token.meant or token.folded
        for language in _spoken_words().get(word, ()):
            score[language] += 1 / len(_spoken_words()[word])  # type: ignore[assignment]
    ranked = [
        language
        for language in sorted(score, key=lambda one: (-score[one], one))
        if language in lx.LANGUAGES[1:5]
    ]
    if not ranked:
        return ("en",)
    second = [one for one in ranked[1:2] if score[one] >= _SECOND_LANGUAGE * score[ranked[0]]]
    return (ranked[0], *second)


@cache
def _correctable(languages: frozenset[str]) -> tuple[str, ...]:
    """Words of these languages that a misspelt word may mean."""
    return tuple(
        word for word, langs in _known()["trade"].items() if len(word) > 3 and languages & set(langs)
    )


def spelt(tokens: Sequence[Token], languages: Sequence[str]) -> list[Token]:
    """The tokens with misspelt words brought to the one word of the trade that they are closest to.

    Only words that no phrase has, that begin with the same letter, within ``lexicon.misspelt_by``; English trade
    terms serve in every order.
    """
    from rapidfuzz import process
    from rapidfuzz.distance import OSA

    words = _correctable(frozenset((*languages, "any", "en")))
    made: list[Token] = []
    tied: dict[int, tuple[str, ...]] = {}
    for token in tokens:
        if not token.is_word or len(token.text) < 4 or token.key in _stems():
            made.append(token)
            continue
        close = [
            (word, distance)
            for word, distance, _ in process.extract(
                token.folded, words, scorer=OSA.distance, score_cutoff=2, limit=12, processor=None
            )
            if distance <= lx.misspelt_by(word) and word[0] == token.folded[0]
        ]
        if not close and "de" in languages and len(token.folded) >= _LEAST_COMPOUND:
            made.append(_compound(token))
            continue
        least = min((distance for _, distance in close), default=0)
        best = {lx.stem(word): word for word, distance in close if distance == least}
        made.append(token.taken_for(next(iter(best.values()))) if len(best) == 1 else token)
        if len(best) > 1:
            tied[len(made) - 1] = tuple(best.values())
    for place, words_ in tied.items():
        made[place] = _fitting(made, place, words_, languages)
    return made


def _compound(token: Token) -> Token:
    """A German compound that no phrase has, read as its last part where that says what it is."""
    ends = listed("compound_ends")
    last = max((one for one in ends if token.folded.endswith(one)), key=len, default="")
    return token.taken_for(last) if last else token


def _fitting(tokens: list[Token], place: int, words: Sequence[str], languages: Sequence[str]) -> Token:
    """Of several words equally close to a misspelt one, the one that makes the longest phrase with its neighbours."""
    lengths: dict[str, int] = {}
    for word in words:
        tried = [*tokens[:place], tokens[place].taken_for(word), *tokens[place + 1 :]]
        found = [(start, match(tried, start, languages)) for start in range(max(0, place - 2), place + 1)]
        lengths[word] = max((one.end - start for start, one in found if one and one.end > place), default=0)
    best = [word for word, length in lengths.items() if length == max(lengths.values())]
    return tokens[place].taken_for(best[0]) if len(best) == 1 and lengths[best[0]] > 1 else tokens[place]


def match(tokens: Sequence[Token], at: int, languages: Sequence[str]) -> Match | None:
    """The longest phrase of the lexicon that begins at a token."""
    node, position, best = _trie(), at, None
    while position < len(tokens):
        token = tokens[position]
        if node.next and position > at and token.text in _INSIDE and _inside(tokens, position):
            position += 1
            token = tokens[position]
        following = node.next.get(token.key)
        if following is None:
            break
        node, position = following, position + 1
        meanings = tuple(m for m in node.meanings if _counts(m, tokens[at:position], languages))
        if meanings:
            best = Match(position, meanings)
    return best


def _inside(tokens: Sequence[Token], position: int) -> bool:
    """Whether a mark stands inside a phrase: glued on both sides, or the dot of ``1. Molar``."""
    if position + 1 >= len(tokens):
        return False
    after = tokens[position + 1]
    if not (after.is_word or after.is_number):
        return False
    if tokens[position].text == "." and tokens[position - 1].is_number:
        return after.is_word
    return tokens[position].text in "+&" or (tokens[position].glued and after.glued)


def _counts(meaning: Meaning, tokens: Sequence[Token], languages: Sequence[str]) -> bool:
    if meaning.kind in _STEERING and meaning.language not in ("any", *languages):
        return False
    written = "".join(token.text for token in tokens)
    letters = "".join(letter for letter in meaning.phrase if letter.isalnum())
    if meaning.kind == "name" and len(tokens) == 1 and tokens[0].folded in listed("numerals"):
        return False  # "zwei" counts, "Zweier" is a tooth
    exact = (
        meaning.kind == "group"
        or (
            meaning.kind == "relative"
            and " " not in meaning.phrase
            and (meaning.language != "de" or meaning.identifier == "all")
        )
        or (meaning.kind == "dentition" and lx.fold(meaning.phrase).startswith("dent"))
        or meaning.phrase in as_written("endings_count")
        or meaning.identifier.startswith("patient.sex")
    )
    if exact and lx.fold(written) != lx.fold(meaning.phrase).replace(" ", ""):
        return False  # "patient" and "patiente", "anterior" and "anteriors" differ in their endings only
    if meaning.kind == "quadrant" and "." in meaning.phrase and "." not in written:
        return False  # "u.li." is lower left, "u li" may be "and left"
    if meaning.kind == "numbering" and letters.isupper() and not written.isupper():
        return False  # "an uns" names no system
    if (
        meaning.kind == "join"
        and meaning.language == "de"
        and lx.fold(written) != lx.fold(meaning.phrase).replace(" ", "")
    ):
        return False  # "hinten" is not "hinter"
    if meaning.kind == "arch" and meaning.phrase in ("OK", "UK") and languages[0] == "en":
        return False
    if meaning.kind == "arch" and len(letters) == 1 and languages[0] != "en":
        return False  # the L of "L'incisive"
    if meaning.kind == "arch" and lx.fold(written) in _HIGH_OR_LOW:
        return False  # "ligne du sourire haute": high, and no arch
    if len(letters) <= _SHORT and letters.isupper():
        return written.isupper()
    return len(letters) > 1 or meaning.kind in ("join", "filler", "unit", "site", "years") or not letters
