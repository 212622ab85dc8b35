"""Digits in words that name teeth by their place: "upper left four five and six", "rechts die Vier", "vier fünf links".

A digit is a tooth after a side or quadrant, before one, and where it goes on with such a list. One that was placed
before keeps its place where the order comes back to it ("that four is grade one mobile").
"""

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

from recommender.domain import lexicon as lx
from recommender.domain.dentition import is_tooth
from recommender.orders.phrases import match
from recommender.orders.text import Token, mark
from recommender.orders.vocabulary import listed

_LEAST_ALONE = 2
_FARTHEST = 4
_PLACES = ("quadrant", "side")
_TURNED = ("same", "other")


def placed_digits(
    tokens: Sequence[Token], language: str, digits: dict[str, int], in_pairs: bool
) -> list[Token]:
    """The tokens with every digit that names a tooth by its place as a figure; ``in_pairs``: two make one tooth."""
    if in_pairs or not any(token.folded in digits for token in tokens):
        return list(tokens)
    made: list[Token] = []
    known: dict[int, list[tuple[Token, ...]]] = {}
    place: tuple[Token, ...] = ()
    listing = False
    at = 0
    while at < len(tokens):
        token = tokens[at]
        value = digits.get(token.folded, 0)
        named = names_a_place(tokens, at, language)
        if named:
            place, listing = tuple(tokens[at : at + named]), True
            named += _gone(tokens, at + named, language)
            made += tokens[at : at + named]
            at += named
            continue
        if value and made and made[-1].folded in listed("grades_in_words"):
            made.append(replace(token, text=str(value), folded=str(value)))
        elif value and counts_what_follows(tokens, at, language, digits):
            made.append(token)
            listing = False
        elif value and _is_two_digits(tokens, at, digits, place):
            made += tokens[at : at + 2]
            at += 1
        elif (
            value
            and (listing or _placed_behind(tokens, at, language, digits))
            and _may_stand(tokens, at, value, made)
        ):
            made.append(replace(token, text=str(value), folded=str(value)))
            listing = True
            before = known.setdefault(value, [])
            before += [place] if place and place not in before else []
        elif value and (back := known.get(value, [])) and len(back) == 1 and _comes_back(tokens, at):
            if _is_subject(tokens, at):
                made.insert(-1, mark(",", made[-1].start))
            made += [replace(one, start=token.start, end=token.start, glued=False) for one in back[0]]
            made.append(replace(token, text=str(value), folded=str(value)))
            listing, place = True, back[0]
        else:
            made.append(token)
            listing = listing and token.folded in listed("inside_spoken_lists")
        at += 1
    return made


def names_a_place(tokens: Sequence[Token], at: int, language: str) -> int:
    """How many tokens from here name a side or quadrant, an arch beside a side included."""
    found = match(tokens, at, (language,))
    place = found.of(*_PLACES) if found is not None else None
    return (
        found.end - at if found is not None and place is not None and place.identifier not in _TURNED else 0
    )


def _gone(tokens: Sequence[Token], at: int, language: str) -> int:
    """How many tokens from here only say what of a place follows ("abajo a la derecha faltan el cinco")."""
    found = match(tokens, at, (language,)) if at < len(tokens) else None
    if found is None or not (found.of("role") is not None or tokens[at].folded in listed("is_or_are")):
        return 0
    return found.end - at


def _placed_behind(tokens: Sequence[Token], at: int, language: str, digits: dict[str, int]) -> bool:
    """Whether a list that begins here ends with its place: digits in a row, or one after an article."""
    several = at > 0 and tokens[at - 1].folded in listed("before_one_tooth")
    inside = listed("inside_spoken_lists") | listed("ranged_in_words")
    count, place = 0, at
    while place < len(tokens) and (tokens[place].folded in digits or tokens[place].folded in inside):
        if place > at and names_a_place(tokens, place, language):
            break
        count += tokens[place].folded in digits
        place += 1
    if place >= len(tokens) or not (count > 1 or several):
        return False
    named = names_a_place(tokens, place, language)
    end = place + named
    while end < len(tokens) and tokens[end].folded in inside:
        end += 1
    article = end < len(tokens) and tokens[end].folded in listed("ones_that_are_articles")
    goes_on = named and end < len(tokens) and tokens[end].folded in digits and not article
    while goes_on and end < len(tokens) and (tokens[end].folded in digits or tokens[end].folded in inside):
        end += 1
    return bool(named) and not (goes_on and not (end < len(tokens) and names_a_place(tokens, end, language)))


def _may_stand(tokens: Sequence[Token], at: int, value: int, made: Sequence[Token]) -> bool:
    """Whether a digit may be a tooth here: "one" only begins a list ("one and two"), or has no article's form."""
    if value >= _LEAST_ALONE:
        return True
    if _comes_back(tokens, at):
        return False  # "the one on the right"
    before = next((one for one in reversed(made) if one.folded not in listed("inside_spoken_lists")), None)
    after = next((one for one in tokens[at + 1 :] if one.folded not in listed("inside_spoken_lists")), None)
    goes_on = (
        before is not None and before.is_number and tokens[at].folded not in listed("ones_that_are_articles")
    )
    return goes_on or (after is not None and after.folded in listed("numerals"))


def counts_what_follows(tokens: Sequence[Token], at: int, language: str, digits: dict[str, int]) -> bool:
    """Whether a digit only counts what follows it ("left two molars", "rechts zwei Klammern"), or is a measure."""
    after = tokens[at + 1] if at + 1 < len(tokens) else None
    if after is None:
        return False
    longer = match(tokens, at, (language,))
    if (
        longer is not None
        and longer.end > at + 1
        and longer.of("retainer", "rest", "finding", "unsettled", "likely")
    ):
        return True  # "three arm clasp"
    if after.folded in listed("decimal_points") and at + 2 < len(tokens) and tokens[at + 2].folded in digits:
        return True
    if after.folded in listed("units") and after.folded not in listed("inside_spoken_lists"):
        return True
    found = match(tokens, at + 1, (language,))
    if found is None:
        return False
    noun = tokens[found.end - 1 if language in ("en", "de") else at + 1].folded
    plural = noun.endswith(_plural_ends(language)) and noun not in listed("never_plural")
    several = found.of("group", "name", "retainer", "rest", "role", "replacement") is not None and plural
    return found.of("counted") is not None or several


@cache
def _plural_ends(language: str) -> tuple[str, ...]:
    return tuple(lx.document("order")["plural_ends"][language])


def _is_two_digits(tokens: Sequence[Token], at: int, digits: dict[str, int], place: Sequence[Token]) -> bool:
    """Whether two digits in a row are one tooth ("drei sechs drei sieben"): they do not count up."""
    run: list[int] = []
    while at + len(run) < len(tokens) and (value := digits.get(tokens[at + len(run)].folded, 0)):
        run.append(value)
    pairs = [10 * first + second for first, second in zip(run[::2], run[1::2], strict=False)]
    counts_up = run == sorted(set(run))
    return bool(pairs) and len(run) % 2 == 0 and not counts_up and all(map(is_tooth, pairs)) and not place


def _comes_back(tokens: Sequence[Token], at: int) -> bool:
    """Whether a word before a digit says that it was named before ("that four", "on the seven")."""
    return at > 0 and tokens[at - 1].folded in listed("before_one_tooth")


def _is_subject(tokens: Sequence[Token], at: int) -> bool:
    """Whether a verb after a digit shows that a clause begins with it ("that four is grade one")."""
    return at + 1 < len(tokens) and tokens[at + 1].folded in listed("singular_verbs")
