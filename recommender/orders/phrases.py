"""The lexicon laid over the tokens of an order: the longest phrase at each place."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

from recommender.domain import lexicon as lx
from recommender.orders.meanings import STEERING, Meaning, all_meanings
from recommender.orders.text import Token, pieces
from recommender.orders.vocabulary import as_written, listed

# Retainers that may be named without the word for a clasp, and the fewest letters of what is left.
_HEADLESS = frozenset(
    {"circumferential", "reverse_circumferential", "ring", "embrasure", "hairpin", "back_action"}
)
_LEAST_HEADLESS = 5
_LINKING = ("de", "del", "d", "a", "en", "ad", "di")
_TURNED = ("retainer", "connector", "rest")
_INSIDE = frozenset("-'’./+&")
_SHORT = 2
_HIGH_OR_LOW = ("haute", "hautes", "basse", "basses")


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
def trie() -> _Node:
    """All phrases by the keys of their words, with their short and turned forms."""
    root = _Node()
    clasp_words, headed = (
        frozenset(map(lx.stem, listed("clasp_words"))),
        frozenset(map(lx.stem, listed("not_without_clasp_word"))),
    )
    for meaning in all_meanings():
        words = [piece for piece in _pieces(meaning.phrase) if piece.key]
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
        joins = meaning.kind not in STEERING and not any(key.isdigit() for key in keys)
        if joins and 2 <= len(keys) <= 4 and len("".join(keys)) > 3:
            _plant(root, [lx.stem("".join([piece.folded for piece in words]))], meaning)
    return root


def _plant(node: _Node, keys: Iterable[str], meaning: Meaning) -> None:
    for key in keys:
        node = node.next.setdefault(key, _Node())
    node.meanings.append(meaning)


class _Piece(NamedTuple):
    """A piece of a phrase: folded, the key that it is matched by (none for a mark), and whether it is a word."""

    folded: str
    key: str
    is_word: bool


@cache
def _piece(text: str) -> _Piece:
    token = Token(text, 0, len(text), False, lx.fold(text))
    return _Piece(token.folded, token.key if token.is_word or token.is_number else "", token.is_word)


@cache
def _pieces(phrase: str) -> tuple[_Piece, ...]:
    return tuple(map(_piece, pieces(phrase)))


def words_of(phrase: str) -> list[str]:
    """The folded words of a phrase."""
    return [piece.folded for piece in _pieces(phrase) if piece.is_word]


def match(tokens: Sequence[Token], at: int, languages: Sequence[str]) -> Match | None:
    """The longest phrase of the lexicon that begins at a token."""
    node, position, best = trie(), at, None
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
    """Whether a mark stands inside a phrase: glued on both sides, or the dot of ``1. Molar``, ``ling. bar``."""
    if position + 1 >= len(tokens):
        return False
    after = tokens[position + 1]
    if not (after.is_word or after.is_number):
        return False
    if tokens[position].text == "." and (
        tokens[position - 1].is_number or tokens[position - 1].folded in listed("abbreviations")
    ):
        return after.is_word
    return tokens[position].text in "+&" or (tokens[position].glued and after.glued)


def _counts(meaning: Meaning, tokens: Sequence[Token], languages: Sequence[str]) -> bool:
    if meaning.kind in STEERING and meaning.language not in ("any", *languages):
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
