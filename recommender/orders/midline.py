"""Digits on both sides of a midline (``7 6 5 | 5 6``): those before it are on the patient's right, those after it left.

A pass over the tokens before anything else is read: digits that stand apart become one token beside the bar.
"""

import re
from collections.abc import Sequence

from recommender.orders.figures import BARS, DASHES
from recommender.orders.text import Token

_DIGITS = re.compile("[1-8]{1,8}")
_TOOTH = re.compile("[1-4][1-8]")


def with_midlines(tokens: Sequence[Token]) -> list[Token]:
    """The tokens with the digits beside a midline joined to it."""
    made: list[Token] = []
    at = 0
    while at < len(tokens):
        bar = tokens[at].text in BARS
        before = _first(made) if bar else len(made)
        after = _last(tokens, at + 1) if bar else at + 1
        if bar and (_is_dotted(made, before) or _is_dotted(tokens, after)):
            before, after = len(made), at + 1  # "1.6, 1.5 | 2.5"
        both = before < len(made) and after > at + 1
        alone = before < len(made) and (before == 0 or made[before - 1].text == "\n")
        alone = alone and not _heads_a_row(tokens, at)
        if not bar or not (both or alone):
            made.append(tokens[at])
            at += 1
            continue
        digits = made[before:]
        del made[before:]
        made += [_joined(digits), _beside(tokens[at], digits[-1].end)]
        if after > at + 1:
            made.append(_joined(tokens[at + 1 : after], glued=True))
        at = after
    return made


def _heads_a_row(tokens: Sequence[Token], at: int) -> bool:
    """Whether a bar parts one tooth from words said of it ("17 | Akers"): the row of a table."""
    apart = not tokens[at].glued and at + 1 < len(tokens) and tokens[at + 1].is_word
    alone = at < 2 or not _is_digits(tokens[at - 2])
    return apart and alone and _TOOTH.fullmatch(tokens[at - 1].text) is not None


def _is_dotted(tokens: Sequence[Token], at: int) -> bool:
    """Whether digits that begin, or end, here go on past a full stop: they are no places on a side."""
    beside = 0 < at < len(tokens) and tokens[at].glued
    return beside and "." in (tokens[at - 1].text, tokens[at].text)


def _is_digits(token: Token) -> bool:
    return _DIGITS.fullmatch(token.text) is not None


def _first(tokens: Sequence[Token]) -> int:
    """Where the digits begin that end a run of tokens."""
    back = list(reversed(tokens))
    return len(tokens) - _last(back, 0)


def _last(tokens: Sequence[Token], at: int) -> int:
    """Where the digits end that begin here: away from the midline they count up, whatever stands between them."""
    run: list[str] = []
    while at < len(tokens) and _is_digits(tokens[at]):
        if len(run) > 1 and (tokens[at].text > run[-1]) != (run[1] > run[0]):
            break
        run.append(tokens[at].text)
        at += 1
        joined = at + 1 < len(tokens) and tokens[at].text in (*DASHES, ",")
        at += joined and _is_digits(tokens[at + 1]) and tokens[at + 1].text > run[-1]
    return at


def _joined(tokens: Sequence[Token], glued: bool = False) -> Token:
    digits = ""
    for at, token in enumerate(tokens):
        ranged = bool(at) and tokens[at - 1].text in DASHES
        if _is_digits(token):
            digits += "".join(_between(digits[-1], token.text[0])) if ranged and digits else ""
            digits += token.text
    return Token(digits, tokens[0].start, tokens[-1].end, glued, digits)


def _between(first: str, last: str) -> list[str]:
    low, high = int(first), int(last)
    step = 1 if high > low else -1
    return [str(digit) for digit in range(low + step, high, step)]


def _beside(bar: Token, at: int) -> Token:
    return Token(bar.text, at, bar.end, True, bar.text)
