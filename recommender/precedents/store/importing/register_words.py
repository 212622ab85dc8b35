"""Words and signs in the cells of a register, beside those of the lexicon (``shared/lexicon/register.yaml``)."""

import re
from functools import cache
from typing import Any

from recommender.domain.lexicon import choices, document, fold, lookup, near, spoken
from recommender.domain.shape import Shape
from recommender.precedents.store import cells
from recommender.precedents.store.cells import CellError

_NUMBER = re.compile(
    r"(?:ca\.?|approx\.?|[~≈])?\s*([-+]?(?:\d{1,9}(?:[.,]\d{1,9})?|[.,]\d{1,9}))\s*([^\d\s.,;].{0,14})?"
)
_BETWEEN = re.compile(r"\s*(?:[,;/&+\n]|\band\b|\bund\b|\bet\b|\by\b|\be\b|\bi\b|\ben\b)\s*")
_YES = {"true": True, "false": False}


@cache
def _phrases(name: str) -> frozenset[str]:
    return frozenset(fold(phrase).strip() for _, phrase in spoken(document("register")[name]))


@cache
def beside() -> frozenset[str]:
    """Folded words of a heading that only say what kind of number stands below."""
    return frozenset(fold(str(word)) for word in document("register")["beside"])


def not_recorded(text: str) -> bool:
    """Whether a cell says that nothing was recorded."""
    return fold(text).strip() in _phrases("not_recorded")


def none_of_them(text: str) -> bool:
    """Whether a cell says that there is none."""
    return fold(text).strip() in _phrases("none")


def value_of(text: str, path: str, kind: str, shape: Shape) -> Any:
    """What a cell says, for a field (``path`` without tooth numbers) whose words are of ``kind`` in the lexicon.

    First as the format itself writes it; then with decimal commas, units and the words of the trade in any language.
    Raises ``CellError``.
    """
    try:
        found = cells.value(text, shape)
    except CellError as error:
        return _of_the_trade(text.strip(), path, kind, shape, error)
    if _fits(found, shape):
        return found
    return _of_the_trade(text.strip(), path, kind, shape, None)


def _words(shape: Shape) -> tuple[str, ...]:
    return shape.words or tuple(word for choice in shape.choices for word in choice.words)


def _fits(value: Any, shape: Shape) -> bool:
    """Whether a value can stand as it is; a word that the format does not have may be one of the trade's."""
    if isinstance(value, list):
        return shape.item is None or all(_fits(one, shape.item) for one in value)
    return not isinstance(value, str) or shape.kind == "text" or value in _words(shape)


def _of_the_trade(text: str, path: str, kind: str, shape: Shape, error: CellError | None) -> Any:
    if shape.kind == "list" and shape.item is not None and (kind or _words(shape.item)):
        if none_of_them(text):
            return []
        return [_word(part, kind, shape.item) for part in _BETWEEN.split(text.strip("[] ")) if part]
    if shape.kind == "flag":
        return _YES[_word(text, kind or "flag", shape)]
    number = _number(text, path, shape)
    if number is not None:
        return number
    if kind or _words(shape):
        return _word(text, kind, shape)
    assert error is not None
    raise error


def _word(text: str, kind: str, shape: Shape) -> str:
    words = _words(shape)
    if text in words:
        return text
    found = lookup(kind, text) if kind else None
    if found is not None and (shape.kind == "flag" or not words or found in words):
        return found
    if "none" in words and none_of_them(text):
        return "none"
    open_ = choices(kind, text) if kind else ()
    if open_:
        raise CellError(f'"{text}"', "one word for one thing", f"it could be {' or '.join(open_)}")
    close = near(kind, text) if kind else None
    hint = f'did you mean "{close.phrase}" ({close.identifier})?' if close else ""
    if not hint:
        from recommender.domain.errors import did_you_mean

        hint = did_you_mean(text, words)
    raise CellError(
        f'"{text}"', "true | false | yes | no" if shape.kind == "flag" else shape.describe(), hint
    )


def _number(text: str, path: str, shape: Shape) -> int | float | None:
    plain = shape if shape.kind in ("number", "whole") else next(
        (choice for choice in shape.choices if choice.kind in ("number", "whole")), None
    )  # fmt: skip
    if plain is None:
        return None
    grades: dict[str, int] = document("register")["grades"]
    if path.endswith(".mobility") and text in grades:
        return grades[text]
    match = _NUMBER.fullmatch(text)
    if match is None or (match.group(2) and not _is_unit(match.group(2), path)):
        return None
    number = float(match.group(1).replace(",", "."))
    return int(number) if number.is_integer() and plain.kind == "whole" else number


def _is_unit(text: str, path: str) -> bool:
    last = path.rsplit(".", 1)[-1]
    units: dict[str, list[str]] = document("register")["units"]
    named = (unit for name, unit in units.items() if last == name or name in last.split("_"))
    said = fold(text).strip(" .")
    return any(said == fold(word).strip(" .") for words in named for word in words)
