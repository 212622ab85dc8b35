"""The file that comes back from the page on which a dentist answers: read strictly, trusted in nothing."""

from typing import Annotated, Literal

import orjson
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from recommender.documents.answers.fingerprint import CODE
from recommender.domain.statement import Name, Said, Statement, count, say
from recommender.wording.words import StatedError

KIND = "rpd-casebook dentist answer"
VERSION = 1
MOST_BYTES = 256_000
_MOST_POINTS = 200

Short = Annotated[str, Field(max_length=200)]
Long = Annotated[str, Field(max_length=2000)]


class AnswerError(StatedError):
    """A file that is no answer to this design; ``statement`` says why."""


class _Strict(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)


class PointAnswer(_Strict):
    """What was ticked at one point (empty: nothing), and the words beside it."""

    key: Short
    offered: Short
    answer: Annotated[str, Field(max_length=20)]
    words: Long


class Signed(_Strict):
    """Who signed; empty fields where nobody did."""

    name: Short
    date: Short
    agrees: bool

    @property
    def given(self) -> bool:
        """Whether a signature was given."""
        return self.agrees and bool(self.name.strip()) and bool(self.date.strip())


class Returned(_Strict):
    """The whole answer."""

    kind: Literal["rpd-casebook dentist answer"]
    version: Literal[1]
    case: Short
    design: Annotated[str, Field(pattern=rf"^{CODE.pattern}$")]
    points: Annotated[list[PointAnswer], Field(max_length=_MOST_POINTS)]
    signed: Signed
    changes: Long


def read_returned(content: bytes) -> Returned:
    """The answer in a file. Raises :class:`AnswerError` with one reason for anything else."""
    if len(content) > MOST_BYTES:
        raise foreign(say("answer.too_large", most=count(MOST_BYTES)))
    if content.lstrip()[:1] == b"<":
        raise foreign(say("answer.is_form"))
    try:
        held = orjson.loads(content)
    except orjson.JSONDecodeError as error:
        raise foreign(say("answer.not_json")) from error
    try:
        found = Returned.model_validate(held)
    except ValidationError as error:
        place = ".".join(str(step) for step in error.errors()[0]["loc"]) or "."
        raise foreign(say("answer.not_ours", place=Said(place[:80]))) from error
    keys = [point.key for point in found.points]
    if len(set(keys)) < len(keys):
        raise foreign(say("answer.not_ours", place=Name("points")))
    return found


def foreign(why: Statement) -> AnswerError:
    """What is no answer to this design, and why."""
    return AnswerError(say("answer.foreign", why=why))
