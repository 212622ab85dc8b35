"""A case on its way in, with all that is worked out from it alone, whatever the library holds.

This is most of the work of an import, and needs no library: it may be done in other processes (``reading``).
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from recommender.domain.case import Case, Review
from recommender.domain.errors import Problem
from recommender.precedents.store import documents
from recommender.precedents.store.errors import UnfitText
from recommender.privacy.gate import hits

if TYPE_CHECKING:
    from recommender.privacy.gate import Hit

STATED_AS = "stated as"  # how the note begins that a review state was not taken over


@dataclass(frozen=True, slots=True)
class Ready:
    """``form``: the kept text of what the source says; ``document`` and ``columns``: as it comes in where it is new,
    a draft unless its approval is to be kept and nothing in it may identify anybody; ``leaves``: digests of its
    content, for near-duplicates; ``state``: its review state as the source has it."""

    case_id: str
    form: str
    document: str
    columns: documents.Columns
    leaves: bytes
    state: str
    found: tuple["Hit", ...]
    notes: tuple[str, ...]


def ready(case: Case, place: str, *, keep_status: bool) -> Ready | Problem:
    """The case made ready; a ``Problem`` where a text holds a control character."""
    case = documents.for_library(case)
    data = documents.as_data(case)
    try:
        form = documents.dump(case, data)
    except UnfitText as error:
        return Problem(place, "", "a control character in a text", str(error))
    found = tuple(hits(case, data))
    state = documents.status(case)
    notes = [may_identify(hit) for hit in found]
    coming, document = case, form
    if state != "draft" and (not keep_status or (state == "approved" and found)):
        notes.append(stated_as(state))
        coming = case.model_copy(update={"review": as_draft(case)})
        data = {**data, "review": _plain(coming.review)}
        document = documents.dump(coming, data)
    leaves = documents.leaf_digests(data)
    columns = documents.columns(coming, data, leaves)
    return Ready(case.id, form, document, columns, leaves.tobytes(), state, found, tuple(notes))


def as_draft(case: Case) -> Review:
    """The review of a case that comes in as a draft: its teaching note stays."""
    return Review(status="draft", teaching_note=case.review.teaching_note if case.review else None)


def may_identify(hit: "Hit") -> str:
    """The note on a text that may identify somebody."""
    return f"may identify a patient: {hit}"


def stated_as(state: str) -> str:
    """The note on an approval that was not taken over."""
    return f"{STATED_AS} {state}; comes in as a draft, to be approved here"


def _plain(review: Review | None) -> dict[str, Any]:
    return review.model_dump(mode="json", exclude_none=True) if review else {}
