"""An order cut into tokens that keep their place in the text, with words as the lexicon folds them."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from recommender.domain.lexicon import fold, stem

_PIECE = re.compile(r"[^\W\d_]+|\d+|\n|\.\.|[^\w\s]|_", re.UNICODE)


@dataclass(frozen=True, slots=True)
class Token:
    """A word, a number, a mark or a line break; ``start`` and ``end`` count characters of the text.

    ``glued``: nothing stands between it and the token before. ``meant``: the word of the lexicon that a misspelt
    word was taken for.
    """

    text: str
    start: int
    end: int
    glued: bool
    folded: str
    meant: str = ""

    @property
    def is_word(self) -> bool:
        return self.text[0].isalpha()

    @property
    def is_number(self) -> bool:
        return self.text.isascii() and self.text.isdigit()

    @property
    def key(self) -> str:
        """What phrases are matched by: the stem of the word, or of the word that was meant."""
        return stem(self.meant or self.folded)

    def taken_for(self, word: str) -> "Token":
        """The same token, read as another word."""
        return replace(self, meant=word)


def pieces(text: str) -> list[str]:
    """A text cut into words, numbers, marks and line breaks."""
    return _PIECE.findall(text)


def tokens_of(text: str) -> list[Token]:
    """The tokens of a text in their order."""
    found: list[Token] = []
    for piece in _PIECE.finditer(text):
        glued = bool(found) and found[-1].end == piece.start()
        found.append(Token(piece.group(), piece.start(), piece.end(), glued, fold(piece.group())))
    return found


def mark(text: str, at: int) -> Token:
    """A mark that no letter of the text stands for, before character ``at``."""
    return Token(text, at, at, False, text)


def lines_of(tokens: Sequence[Token]) -> Iterator[list[Token]]:
    """The tokens line by line, each with the line break that ends it."""
    line: list[Token] = []
    for token in tokens:
        line.append(token)
        if token.text == "\n":
            yield line
            line = []
    if line:
        yield line
