"""Lines broken because they were full: the sentence goes on in the next one ("on the second\\npremolar")."""

from collections.abc import Sequence

from recommender.orders.text import Token

_LINE = "\n"
# A full line has at least so many letters; with the next word it would be nearly as long as the longest (no source).
_LEAST_LETTERS, _NEARLY = 70, 0.85
_ENDS = ".:;!?|"


def unwrapped(tokens: Sequence[Token], text: str) -> list[Token]:
    """The tokens without the ends of full lines that end no sentence and have a small letter after them."""
    longest = max((len(line) for line in text.split(_LINE)), default=0)
    if next((letter.islower() for letter in text if letter.isalpha()), True):
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
