"""Whether the dentist's signature that a case holds is for the design in hand.

In the case, a signed design is one entry of ``dentist_answer``: the item ``design:CODE``, answered ``accepted``.
"""

from typing import Literal

from recommender.documents.answers.fingerprint import CODE
from recommender.domain.case import Case, DentistAnswer
from recommender.domain.statement import Name, Statement, say

PREFIX = "design:"
State = Literal["signed", "signed_not", "signed_void"]


def signed_code(case: Case) -> str | None:
    """The code of the design that was last signed as it stands, or ``None``."""
    found = [
        answer.item.removeprefix(PREFIX)
        for answer in case.dentist_answer or ()
        if answer.item.startswith(PREFIX) and answer.answer == "accepted"
    ]
    return found[-1] if found and CODE.fullmatch(found[-1]) else None


def state(case: Case, code: str) -> State:
    """How the signature stands toward the design of that code."""
    signed = signed_code(case)
    if signed is None:
        return "signed_not"
    return "signed" if signed == code else "signed_void"


def said(case: Case, code: str) -> Statement:
    """The same as a sentence for the papers."""
    signed = signed_code(case)
    found = state(case, code)
    return say(
        f"ticket.{found}",
        design=Name(code),
        signed=Name(signed) if found == "signed_void" and signed else None,
    )


def entry(code: str) -> DentistAnswer:
    """What a case keeps of a design that was signed."""
    return DentistAnswer(item=f"{PREFIX}{code}", answer="accepted")
