"""Lines broken because they were full: the sentence goes on in the next one ("on the second\\npremolar")."""

from collections.abc import Sequence
from itertools import pairwise

from recommender.orders.text import Token

_LINE = "\n"
# A full line has at least so many letters; with the next word it would be nearly as long as the longest (no source).
_LEAST_LETTERS, _NEARLY = 70, 0.85
_ENDS = ".:;!?|"


def unwrapped(tokens: Sequence[Token], text: str) -> list[Token]:
    """The tokens without the ends of full lines that end no sentence and have a small letter after them."""
    lines = text.split(_LINE)
    longest = max((len(line) for line in lines), default=0)
    if text.lstrip()[:1].islower() and not _all_full(lines, longest):
        return list(tokens)  # who begins in small letters begins every line so
    made: list[Token] = []
    start = 0
    for at, token in enumerate(tokens):
        if token.text != _LINE:
            made.append(token)
            continue
        line = text[start : token.start].rstrip()
        start = token.end
        following = tokens[at + 1] if at + 1 < len(tokens) else None
        lower = following is not None and following.is_word and following.text[0].islower()
        lower = lower and not (at + 2 < len(tokens) and tokens[at + 2].text == ":")
        full = len(line) >= _LEAST_LETTERS and following is not None
        full = full and len(line) + 1 + len(following.text if following else "") >= _NEARLY * longest
        if not (lower and full and line[-1] not in _ENDS):
            made.append(token)
    return made


def _all_full(lines: Sequence[str], longest: int) -> bool:
    """Whether every line but the last of a paragraph is full."""
    inner = [(line, after) for line, after in pairwise(lines) if line.strip() and after.strip()]
    return longest >= _LEAST_LETTERS and all(
        len(line.rstrip()) + 1 + len(after.split()[0]) >= _NEARLY * longest for line, after in inner
    )
