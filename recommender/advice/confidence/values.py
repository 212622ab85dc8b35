"""How sure a choice is, as plain values."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from recommender.domain.statement import Field, Said, Statement, say

Word = Literal["firm", "firm_if", "open"]


@dataclass(frozen=True, slots=True)
class Acceptability:
    """Shares of plausible worlds, 0-1 (stochastic multicriteria acceptability analysis; Lahdelma and Salminen 2001,
    Operations Research 49:444-454).

    ``first``: the choice comes first while facts and judgement vary; ``facts`` and ``judgement``: while only these
    do. ``equal``: first or called equal, in the worlds of unrecorded facts. ``not_blocked``: nothing blocks it there
    that does not block it now. ``otherwise``: what comes first instead, with its share.
    """

    first: float
    not_blocked: float
    facts: float
    judgement: float
    equal: float
    otherwise: Mapping[str, float]

    def document(self) -> dict[str, Any]:
        """As in the result format."""
        return {
            "first": self.first, "not_blocked": self.not_blocked, "facts": self.facts,
            "judgement": self.judgement, "or_equal": self.equal, "otherwise": dict(self.otherwise),
        }  # fmt: skip


@dataclass(frozen=True, slots=True)
class Answer:
    """A field and the answers with which a choice would be firm; ``least`` or ``most`` where they are all the numbers
    from there on."""

    field: str
    values: tuple[Any, ...]
    least: float | None = None
    most: float | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """One of three words. ``answers`` go with ``firm_if``; ``leads`` names another option that comes first in more
    worlds than the choice does, which makes it ``open``."""

    word: Word
    answers: tuple[Answer, ...] = ()
    leads: str | None = None

    @property
    def firm(self) -> bool:
        """Whether it stands without a condition."""
        return self.word == "firm"


@dataclass(frozen=True, slots=True)
class Taken:
    """What is taken for granted of an unrecorded field: its likeliest value, and how likely that is.

    ``word`` is how an educator's data tell it; ``own``: so many of the library's own records say so.
    """

    field: str
    value: Any
    share: float
    word: str
    own: int = 0

    @property
    def statement(self) -> Statement:
        """As said to a reader."""
        code = "confidence.taken_own" if self.own else "confidence.taken"
        return say(code, what=Said(self.word))


@dataclass(frozen=True, slots=True)
class ChoiceConfidence:
    """How sure the choice of one decision, or one framework, is.

    ``firsts`` is the first-rank acceptability of every option; ``unverified`` are the fields that could change or
    forbid the choice, the most telling first.
    """

    choice: str
    acceptability: Acceptability
    standing: Standing
    firsts: Mapping[str, float] = field(default_factory=dict)
    unverified: tuple[str, ...] = ()
    taken: tuple[Taken, ...] = ()


@dataclass(frozen=True, slots=True)
class BeforeMetal:
    """A dangerous question that is not answered. ``asked``: it was asked, and the answer cannot be had."""

    field: str
    why: str
    asked: bool = False

    @property
    def statement(self) -> Statement:
        """As said to a reader."""
        code = "confidence.waits_asked" if self.asked else "confidence.waits"
        return say(code, field=Field(self.field), why=Said(self.why))
