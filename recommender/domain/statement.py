"""What there is to say about a case, before any words: a code, typed arguments, and where it comes from.

Nothing below the room ``wording`` builds a sentence about a case. It says *what* in a :class:`Statement`; ``wording``
says it in the reader's language and tooth numbering. A tooth inside a statement is always a tooth (ISO 3950), never a
piece of text, so that it cannot be printed in another system than its neighbours.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from recommender.domain.decision import Decision
from recommender.domain.dentition import is_tooth

_SITE = re.compile(r"\[(\d+)\]")


@dataclass(frozen=True, slots=True)
class Teeth:
    """Teeth by ISO 3950 number, in the order in which they are to be named."""

    numbers: tuple[int, ...]


def tooth(number: int) -> Teeth:
    """One tooth."""
    return Teeth((number,))


def teeth(numbers: Iterable[int]) -> Teeth:
    """Several teeth, each once, in the order given."""
    return Teeth(tuple(dict.fromkeys(numbers)))


@dataclass(frozen=True, slots=True)
class Choice:
    """An option of the catalogue: ``kind`` is its decision (``retainer`` …), or ``alloy``."""

    kind: str
    option: str


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its band and unit. ``None`` for an end that is not known; a plain number has equal ends.

    ``unit`` is ``mm``, ``N``, ``cm2``, ``g``, ``years``, ``months``, ``points``, ``share`` (0-1, said as a
    percentage) or empty; ``digits`` is how many decimals are said.
    """

    low: float | None
    high: float | None
    unit: str = ""
    digits: int = 1


def quantity(value: float, unit: str = "", digits: int = 1) -> Quantity:
    """A number without a band."""
    return Quantity(value, value, unit, digits)


def count(number: int) -> Quantity:
    """How many."""
    return Quantity(number, number, "", 0)


@dataclass(frozen=True, slots=True)
class Field:
    """A field of the case format by its path, e.g. ``abutments[14].mobility``."""

    path: str


@dataclass(frozen=True, slots=True)
class Word:
    """A word of a closed list of the case format or of the wording's own terms, e.g. ``Word("ridge", "flat")``."""

    list: str
    word: str


@dataclass(frozen=True, slots=True)
class Work:
    """Preparation of a tooth: ``surface`` may be empty."""

    tooth: int
    surface: str
    action: str


@dataclass(frozen=True, slots=True)
class Said:
    """Words that are passed on as they stand: a rule's sentence, a source, what a person wrote."""

    text: str


@dataclass(frozen=True, slots=True)
class Name:
    """An identifier that is printed as it stands, such as the id of a case."""

    text: str


@dataclass(frozen=True, slots=True)
class Several:
    """Statements or other values in a row.

    ``joint`` names how they are joined: ``semicolon``, ``comma``, ``and``, ``or``, ``space``.
    """

    items: tuple["Arg", ...]
    joint: str = "semicolon"


@dataclass(frozen=True, slots=True)
class Statement:
    """Something that is true of a case, or proposed for it.

    ``code`` names the template that says it. ``rule`` is the rule or check that it comes from, ``source`` what that
    rests on. Two statements that say the same are equal.
    """

    code: str
    args: tuple[tuple[str, "Arg"], ...] = ()
    rule: str | None = None
    source: str | None = None

    def arg(self, name: str) -> "Arg":
        """The argument of that name; ``KeyError`` where there is none."""
        for key, value in self.args:
            if key == name:
                return value
        raise KeyError(name)

    @property
    def teeth(self) -> frozenset[int]:
        """Every tooth that it names."""
        return frozenset(number for _, value in self.args for number in _teeth_in(value))


Arg: TypeAlias = (
    Teeth | Choice | Quantity | Field | Word | Work | Said | Name | Decision | Statement | Several | None
)


def say(code: str, *, rule: str | None = None, source: str | None = None, **args: Arg) -> Statement:
    """A statement with its arguments by name; an argument that is ``None`` is left out."""
    return Statement(
        code, tuple((key, value) for key, value in args.items() if value is not None), rule, source
    )


def several(items: Iterable[Arg], joint: str = "semicolon") -> Several | None:
    """The items in a row, each once; ``None`` where there are none."""
    kept = tuple(dict.fromkeys(item for item in items if item is not None))
    return Several(kept, joint) if kept else None


def _teeth_in(value: Arg) -> Iterator[int]:
    if isinstance(value, Teeth):
        yield from value.numbers
    elif isinstance(value, Field):
        yield from (site for site in map(int, _SITE.findall(value.path)) if is_tooth(site))
    elif isinstance(value, (Work, Decision)):
        if value.tooth:
            yield value.tooth
    elif isinstance(value, Statement):
        yield from value.teeth
    elif isinstance(value, Several):
        for item in value.items:
            yield from _teeth_in(item)


def statement_document(statement: Statement) -> dict[str, object]:
    """As JSON: ``{"code": …, "args": {…}}``; teeth are ISO 3950 strings whatever the reader's numbering."""
    return {"code": statement.code, "args": {name: _plain(value) for name, value in statement.args}}


def _plain(value: Arg) -> object:
    if isinstance(value, Teeth):
        return [str(number) for number in value.numbers]
    if isinstance(value, Statement):
        return statement_document(value)
    if isinstance(value, Several):
        return [_plain(item) for item in value.items]
    if isinstance(value, Decision):
        return value.key
    if isinstance(value, Quantity):
        found: Mapping[str, object] = {"low": value.low, "high": value.high, "unit": value.unit}
        return dict(found)
    if isinstance(value, Work):
        return {"tooth": str(value.tooth), "surface": value.surface, "action": value.action}
    if isinstance(value, Choice):
        return {"kind": value.kind, "option": value.option}
    if isinstance(value, Field):
        return {"field": value.path}
    if isinstance(value, Word):
        return value.word
    return None if value is None else value.text
