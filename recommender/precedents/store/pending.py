"""What becomes of an approval when a case is changed, by an edit, a follow-up or an import alike.

A changed approved case is a draft that waits for a reviewer; meanwhile the approved revision goes on serving
(``cases.serving``). Follow-up (how the denture fared, what the dentist answered) is about the record, not the design,
and leaves the approval alone, as long as no text in it may identify a patient.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sqlalchemy import Connection, select

from recommender.domain.case import Case, Review
from recommender.precedents.store import documents
from recommender.precedents.store.schema import cases

if TYPE_CHECKING:
    from recommender.privacy.gate import Hit

FOLLOW_UP = frozenset({"outcome", "dentist_answer"})
WAITS = "changed: the case waits as a draft, to be approved anew; until then it serves as it was approved"


def serving_among(connection: Connection, ids: Sequence[str]) -> set[str]:
    """Those of these cases of which an approved revision serves."""
    if not ids:
        return set()
    query = select(cases.c.id).where(cases.c.id.in_(ids), cases.c.serving.is_not(None))
    return set(connection.scalars(query))


def only_follow_up(before: Case, after: Case) -> bool:
    """Whether two versions differ in nothing but follow-up."""
    first, second = documents.as_data(before), documents.as_data(after)
    for data in (first, second):
        for key in FOLLOW_UP:
            data.pop(key, None)
    return first == second


def keeps_approval(before: Case, after: Case, unseen: "Sequence[Hit]") -> bool:
    """Whether an approved case stays so; ``unseen`` are texts of ``after`` that may identify somebody."""
    if documents.status(before) != "approved" or unseen:
        return False
    return only_follow_up(before, after.model_copy(update={"review": before.review})) and (
        _note(after) in (None, _note(before))
    )


def with_review(before: Case, after: Case, unseen: "Sequence[Hit]") -> tuple[Case, str]:
    """``after`` with the review that it comes in with, and what to tell: a state that it claims for itself is not
    taken over, its teaching note is.
    """
    state, held = documents.status(before), before.review
    if keeps_approval(before, after, unseen):
        return after.model_copy(update={"review": held}), ""
    waits = state == "approved"
    if waits:
        state = "draft"
    if after.review is None and held is None and state == "draft":
        return after, ""
    review = Review.model_validate({
        "status": None if held is None and state == "draft" else state,
        "reason": held.reason if held and not waits else None,
        "teaching_note": _note(after),
    })  # fmt: skip
    return after.model_copy(update={"review": review}), WAITS if waits else ""


def _note(case: Case) -> str | None:
    return case.review.teaching_note if case.review else None
