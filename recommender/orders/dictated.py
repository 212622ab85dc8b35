"""Numbers and marks that were spoken: "drei sechs", "sechsunddreißig", "acht Millimeter", "comma", "new line".

A pass over the tokens before anything else is read: what stands for a tooth, a measure or a mark becomes a token of
figures or a mark that keeps its place in the text.
"""

from collections.abc import Iterator, Sequence
from functools import cache

from recommender.domain import lexicon as lx
from recommender.domain.dentition import is_tooth
from recommender.orders.counted_out import counted_out
from recommender.orders.phrases import match
from recommender.orders.refs import LAST_UNIVERSAL
from recommender.orders.spoken_digits import placed_digits
from recommender.orders.spoken_numbers import spoken
from recommender.orders.text import Token, mark, tokens_of
from recommender.orders.vocabulary import listed

# Languages whose orders count in ISO 3950, so that two digits in a row are one tooth.
_TWO_DIGITS = ("de", "fr", "es")
_LAST_QUADRANT, _LEAST_AGE, _FIRST_IN_WORDS = 4, 16, 11
_REAL_MARKS, _ENDS = ".,;", (".", "\n")
_BEFORE_AGE = 3
_YEARS = "jahrig"


def figured(tokens: Sequence[Token], languages: Sequence[str]) -> list[Token]:
    """The tokens with spoken teeth and measures as figures, and spoken marks as marks where none are written."""
    unmarked = not _has_marks(tokens)
    made = _marks(tokens, languages) if unmarked else _said_twice(tokens, languages)
    made = [piece for token in made for piece in _aged(token)]
    for language in languages:
        in_pairs = language not in _TWO_DIGITS and _in_pairs(made, language)
        made = placed_digits(made, language, _digits(language), in_pairs)
        if language not in _TWO_DIGITS and not in_pairs:
            made = counted_out(made, language, _digits(language), _whole)
        made = list(_figures(made, language, in_pairs or language in _TWO_DIGITS))
    return _clauses(made) if unmarked else made


def _said_twice(tokens: Sequence[Token], languages: Sequence[str]) -> list[Token]:
    """``cast partial period.``: a mark that is spoken right before it is written is said once."""
    made: list[Token] = []
    at = 0
    while at < len(tokens):
        found = next((one for one in _spoken_marks(tuple(languages)) if _stands(tokens, at, one[0])), None)
        after = _at(tokens, at + len(found[0])) if found is not None else None
        if found is None or found[1] not in _ENDS or (after is not None and after.text not in _ENDS):
            made.append(tokens[at])
            at += 1
        else:
            at += len(found[0])
    dictated = len(made) < len(tokens)  # whoever says the full stops says the commas too
    return _marks(made, languages, _ENDS) if dictated else made


def _clauses(tokens: Sequence[Token]) -> list[Token]:
    """Where no mark is written, an article, a tooth and a verb of one tooth begin a clause ("... 16 el 23 lleva")."""
    made: list[Token] = []
    for at, token in enumerate(tokens):
        article = token.folded in listed("before_one_tooth")
        number, verb = _at(tokens, at + 1), _at(tokens, at + 2)
        said = verb is not None and verb.folded in listed("singular_verbs") and len(verb.folded) > 1
        begins = number is not None and number.is_number and said
        led = not made or made[-1].folded in listed("leads_on") or not (made[-1].is_word or made[-1].is_number)
        if article and not led and (begins or (made[-1].is_number and _names_others(tokens, at + 1))):
            made.append(mark(".", token.start))
        made.append(token)
    return made


def _names_others(tokens: Sequence[Token], at: int) -> bool:
    """Whether teeth are named here of which a verb goes on to say something ("die Achter oben sind auch weg")."""
    found = match(tokens, at, lx.LANGUAGES[1:5])
    if found is None or found.of("name", "group") is None:
        return False
    return any(token.folded in listed("is_or_are") for token in tokens[found.end : found.end + 2])


def _in_pairs(tokens: Sequence[Token], language: str) -> bool:
    """Whether an order in words counts in two digits where either numbering may be meant ("three six three seven")."""
    runs: list[list[int]] = []
    at = 0
    while at < len(tokens):
        run = _run(tokens, at, language)
        if len(run) > 1 and not (at and tokens[at - 1].folded in _placed()):
            runs.append(run)
        at += max(1, len(run))
    pairs = [10 * one + other for run in runs for one, other in zip(run[::2], run[1::2], strict=False)]
    return len(pairs) > 1 and all(len(run) % 2 == 0 for run in runs) and all(map(is_tooth, pairs))


def _aged(token: Token) -> Iterator[Token]:
    """``einundachtzigjährige``: an age in words and the word for years, written as one."""
    at = token.folded.find(_YEARS)
    number = _numbers("de").get(token.folded[:at]) if at > 0 else None
    if number is None:
        yield token
        return
    middle = token.end - (len(token.folded) - at)
    yield Token(str(number), token.start, middle, token.glued, str(number))
    yield Token(token.text[middle - token.start :], middle, token.end, True, token.folded[at:])


@cache
def _numbers(language: str) -> dict[str, int]:
    return {lx.fold(phrase): number for spoken_in, phrase, number in spoken() if spoken_in == language}


def _has_marks(tokens: Sequence[Token]) -> bool:
    """Whether commas and full stops are written, apart from those inside numbers."""
    return any(
        token.text in _REAL_MARKS and not (at and tokens[at - 1].is_number)
        for at, token in enumerate(tokens[:-1])
    )


def _marks(tokens: Sequence[Token], languages: Sequence[str], but: Sequence[str] = ()) -> list[Token]:
    made: list[Token] = []
    at = 0
    while at < len(tokens):
        found = next((one for one in _spoken_marks(tuple(languages)) if _stands(tokens, at, one[0])), None)
        decimal = made and _digit(made[-1], languages[0]) and _digit(_at(tokens, at + 1), languages[0])
        if found is None or found[1] in but or (decimal and found[1] in _REAL_MARKS):
            made.append(tokens[at])
            at += 1
            continue
        words, written = found
        made.append(_one(tokens[at : at + len(words)], written))
        at += len(words)
    return made


@cache
def _spoken_marks(languages: tuple[str, ...]) -> tuple[tuple[tuple[str, ...], str], ...]:
    """Words for marks in these languages, longest first."""
    section = lx.document("order")["spoken_marks"]
    found = [
        (tuple(lx.fold(phrase).split()), "\n" if written == "line" else str(written))
        for written, entry in section.items()
        for language, phrase in lx.spoken(entry)
        if language in languages
    ]
    return tuple(sorted(found, key=lambda one: -len(one[0])))


def _stands(tokens: Sequence[Token], at: int, words: Sequence[str]) -> bool:
    return [token.folded for token in tokens[at : at + len(words)]] == list(words)


def _figures(tokens: Sequence[Token], language: str, two_digits: bool) -> Iterator[Token]:
    at = 0
    while at < len(tokens):
        run = _run(tokens, at, language)
        whole = _whole(tokens, at, language)
        if run and (decimal := _decimal(tokens, at, language)) is not None:
            yield from decimal[0]
            at = decimal[1]
        elif run and (teeth := _teeth(tokens, at, run, language, two_digits)) is not None:
            yield from teeth
            at += len(run)
        elif run and len(run) == 1 and _is_unit(_at(tokens, at + 1)):
            yield _one(tokens[at : at + 1], str(run[0]))
            at += 1
        elif whole is not None and _is_meant(tokens, at, *whole, language):
            yield _one(tokens[at : at + whole[0]], str(whole[1]))
            at += whole[0]
        else:
            passed = max(1, len(run), whole[0] if whole is not None else 0)
            yield from tokens[at : at + passed]
            at += passed


def _at(tokens: Sequence[Token], at: int) -> Token | None:
    return tokens[at] if 0 <= at < len(tokens) else None


def _one(tokens: Sequence[Token], text: str) -> Token:
    """Tokens as one of other letters, in their place."""
    return Token(text, tokens[0].start, tokens[-1].end, tokens[0].glued, text)


@cache
def _digits(language: str) -> dict[str, int]:
    words = lx.document("order")["numerals"].get(language, ())
    return {lx.fold(word): value for value, word in enumerate(words, start=1)}


def _digit(token: Token | None, language: str) -> int:
    """The digit that a word is, 0 for none."""
    return _digits(language).get(token.folded, 0) if token is not None else 0


def _run(tokens: Sequence[Token], at: int, language: str) -> list[int]:
    """The digits in words that stand in a row from here."""
    found: list[int] = []
    while at < len(tokens) and (digit := _digit(tokens[at], language)):
        found.append(digit)
        at += 1
    return found


def _decimal(tokens: Sequence[Token], at: int, language: str) -> tuple[list[Token], int] | None:
    """``fünf komma fünf``: figures with a mark, and where they end."""
    first, point, last = (_at(tokens, at + step) for step in range(3))
    if first is None or point is None or last is None or not _digit(last, language):
        return None
    if point.folded not in listed("decimal_points"):
        return None
    written = ((first, str(_digit(first, language))), (point, ","), (last, str(_digit(last, language))))
    return [Token(text, one.start, one.end, one is not first, text) for one, text in written], at + 3


def _teeth(
    tokens: Sequence[Token], at: int, run: Sequence[int], language: str, two_digits: bool
) -> list[Token] | None:
    """The figures of digits in a row: two make a tooth; after one of them more count in its quadrant."""
    before = _at(tokens, at - 1)
    several = before is not None and before.folded in listed("of_several")
    if language not in _TWO_DIGITS and before is not None and before.folded in listed("number_of_teeth"):
        return [_one(tokens[at + i : at + i + 1], str(digit)) for i, digit in enumerate(run)]
    if not two_digits or len(run) < 2 or several or _is_unit(_at(tokens, at + len(run))):
        return None
    if before is not None and before.folded in _placed():
        return [_one(tokens[at + i : at + i + 1], str(digit)) for i, digit in enumerate(run)]
    pairs = [10 * first + second for first, second in zip(run[::2], run[1::2], strict=False)]
    if len(run) % 2 == 0 and all(is_tooth(tooth) for tooth in pairs):
        return [_one(tokens[at + 2 * i : at + 2 * i + 2], str(tooth)) for i, tooth in enumerate(pairs)]
    rest = list(run[1:])
    if run[0] <= _LAST_QUADRANT and len(run) > 2 and rest == sorted(set(rest)):
        ends = [at + 2 + i for i in range(len(run) - 2)]
        return [
            _one(tokens[at : at + 2], str(pairs[0])),
            *(_one(tokens[end : end + 1], str(digit)) for end, digit in zip(ends, run[2:], strict=True)),
        ]
    return None


@cache
def _placed() -> frozenset[str]:
    """Last words of quadrants and sides, after which digits count one by one."""
    teeth = lx.document("teeth")
    entries = [*teeth["quadrants"].values(), *(teeth["sides"][side] for side in ("right", "left"))]
    return frozenset(lx.fold(phrase).split()[-1] for entry in entries for _, phrase in lx.spoken(entry))


@cache
def _is_unit_word(word: str) -> bool:
    led = word in listed("leads_on")  # "y" and "an" are also the Spanish "and" and a German "on"
    return not led and (word in listed("units") or word in listed("years"))


def _is_unit(token: Token | None) -> bool:
    return token is not None and token.is_word and _is_unit_word(token.folded)


@cache
def _wholes(language: str) -> dict[str, list[tuple[tuple[str, ...], int]]]:
    """Numbers of more than one digit in words, by their first word, longest first."""
    found: dict[str, list[tuple[tuple[str, ...], int]]] = {}
    for spoken_in, phrase, number in spoken():
        if spoken_in == language:
            words = tuple(token.folded for token in tokens_of(phrase) if token.is_word)
            found.setdefault(words[0], []).append((words, number))
    return {first: sorted(all_, key=lambda one: -len(one[0])) for first, all_ in found.items()}


def _whole(tokens: Sequence[Token], at: int, language: str) -> tuple[int, int] | None:
    """How many tokens from here make a number of more than one digit, and the number."""
    for words, number in _wholes(language).get(tokens[at].folded, ()):
        place, left = at, list(words)
        while left and place < len(tokens):
            if tokens[place].folded == left[0]:
                left.pop(0)
            elif tokens[place].text != "-" or place == at:
                break
            place += 1
        if not left:
            return place - at, number
    return None


def _ranged(tokens: Sequence[Token], at: int, language: str) -> bool:
    """Whether a range goes on here ("de quatorze | à seize")."""
    to = _at(tokens, at)
    return to is not None and to.folded in listed("range_words") and at + 1 < len(tokens) and (
        _whole(tokens, at + 1, language) is not None
    )


def _is_meant(tokens: Sequence[Token], at: int, length: int, number: int, language: str) -> bool:
    """Whether a number in words is a tooth, or an age beside words of a person; any other only counts."""
    before = [token.folded for token in tokens[max(0, at - _BEFORE_AGE) : at]]
    if before[-1:] and before[-1] in listed("of_age") and not _ranged(tokens, at + length, language):
        return False
    if _is_unit(_at(tokens, at + length)):
        return False
    said = number >= _LEAST_AGE and any(word in listed("said_of_persons") for word in before)
    counted = language not in _TWO_DIGITS and _FIRST_IN_WORDS <= number <= LAST_UNIVERSAL
    return is_tooth(number) or counted or said
