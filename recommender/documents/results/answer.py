"""A dentist's answer, as read into a case, as JSON values."""

from typing import Any

from recommender.documents.answers.recorded import Recorded
from recommender.documents.answers.returned import Returned
from recommender.documents.results.stated import listed
from recommender.wording.words import Words


def answer_document(words: Words, found: Recorded, returned: Returned) -> dict[str, Any]:
    """``signed``, ``void``, every point as it was ticked, what was said of it, and the case with the answer in it."""
    return {
        "format": 1,
        "case": returned.case,
        "design": returned.design,
        "signed": found.signed,
        "void": found.void,
        "points": [
            {"for": point.key, "offered": point.offered, "answer": point.answer or None, "words": point.words}
            for point in returned.points
        ],
        "changes": returned.changes.strip(),
        **listed(words, "lines", found.lines),
        "with_answer": None if found.void else found.case.model_dump(mode="json", exclude_none=True),
    }
