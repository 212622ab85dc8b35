"""Digits in words that count teeth from 1 to 32: those in one list with a number in words of two digits.

``missing three four five and then twelve``, ``clasps on two and fifteen``: only orders that name no side.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

from recommender.orders.refs import LAST_UNIVERSAL
from recommender.orders.spoken_digits import counts_what_follows, names_a_place
from recommender.orders.text import Token
from recommender.orders.vocabulary import listed

Whole = Callable[[Sequence[Token], int, str], tuple[int, int] | None]
_FIRST, _LEAST_LISTS = 9, 2


def counted_out(tokens: Sequence[Token], language: str, digits: dict[str, int], whole: Whole) -> list[Token]:
    """The tokens with the digits of such lists as figures, where at least two lists are so."""
    if any(names_a_place(tokens, at, language) for at in range(len(tokens))):
        return list(tokens)
    lists = [run for run in _lists(tokens, language, digits, whole) if any(not single for _, single in run)]
    lists = [run for run in lists if len(run) > 1]
    if len(lists) < _LEAST_LISTS:
        return list(tokens)
    meant = {at for run in lists for at, single in run if single}
    return [
        replace(token, text=str(digits[token.folded]), folded=str(digits[token.folded]))
        if at in meant
        else token
        for at, token in enumerate(tokens)
    ]


def _lists(
    tokens: Sequence[Token], language: str, digits: dict[str, int], whole: Whole
) -> list[list[tuple[int, bool]]]:
    """Runs of numbers in words, each with its place and whether it is a digit."""
    found: list[list[tuple[int, bool]]] = [[]]
    at = 0
    while at < len(tokens):
        number = whole(tokens, at, language)
        if number is not None and _FIRST <= number[1] <= LAST_UNIVERSAL:
            found[-1].append((at, False))
            at += number[0]
            continue
        if tokens[at].folded in digits and not counts_what_follows(tokens, at, language, digits):
            found[-1].append((at, True))
        elif tokens[at].folded not in listed("inside_counted_lists"):
            found.append([])
        at += 1
    return [run for run in found if run]
