"""Every statement inside an answer, whatever it hangs on; and the teeth that a rendering names, read back out of it."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass

from recommender.domain.numbering import to_iso
from recommender.domain.statement import Name, Said, Several, Statement

MARK = ("\ue000", "\ue001")
_MARKED = re.compile(f"{MARK[0]}(\\d+){MARK[1]}")


def statements_in(value: object) -> Iterator[Statement]:
    """Depth first, statements inside statements included."""
    if isinstance(value, Statement):
        yield value
        for _, argument in value.args:
            yield from statements_in(argument)
    elif isinstance(value, Mapping):
        for inner in value.values():
            yield from statements_in(inner)
    elif isinstance(value, (Sequence, set, frozenset)) and not isinstance(value, (str, bytes)):
        for inner in value:
            yield from statements_in(inner)
    elif is_dataclass(value) and not isinstance(value, type):
        for field in fields(value):
            yield from statements_in(getattr(value, field.name))


def teeth_read(text: str, numbering: str) -> set[int]:
    """ISO numbers of the teeth that stand between the marks."""
    found = {int(number) for number in _MARKED.findall(text)}
    return {to_iso(number) for number in found} if numbering == "universal" else found


def unmarked(text: str) -> str:
    """The text without its marks."""
    return text.replace(MARK[0], "").replace(MARK[1], "")


def without_teeth(text: str) -> str:
    """What is left when every marked tooth is taken out."""
    return _MARKED.sub("", text)


def passed_on(statement: Statement) -> list[str]:
    """The words in a statement that are passed on as they stand: rules' sentences, ids, what a person wrote."""
    found: list[str] = []
    for _, value in statement.args:
        found += _passed_on(value)
    return found


def _passed_on(value: object) -> list[str]:
    if isinstance(value, (Said, Name)):
        return [value.text]
    if isinstance(value, Statement):
        return passed_on(value)
    if isinstance(value, Several):
        return [text for item in value.items for text in _passed_on(item)]
    return []
