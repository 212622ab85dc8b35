"""Draft, approved, retired: who vouches for a stored case, and what has to be said before.

Only approved cases count as precedents. A case whose design goes against the rules is approved only with a
reason, which is kept in the case (``review.reason``) and shown wherever it is cited. A retired case stays
readable.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from recommender.curation.contradictions import Checker, statements
from recommender.domain.case import Case, Review
from recommender.domain.statement import Said, Statement, say
from recommender.precedents.store import documents, gate, looked_at
from recommender.precedents.store.errors import LibraryError, UnfitText
from recommender.precedents.store.library import Library
from recommender.precedents.store.pending import with_review
from recommender.precedents.store.records import Version
from recommender.precedents.store.team.people import entered_by_approver
from recommender.wording.words import Words, words_in

if TYPE_CHECKING:
    from recommender.privacy.gate import Hit


class NotApprovable(LibraryError):  # noqa: N818
    """What stands in the way of approval; ``obstacles`` says each."""

    def __init__(self, case_id: str, obstacles: Sequence[Statement]) -> None:
        self.case_id, self.obstacles = case_id, tuple(obstacles)
        super().__init__(self.said(words_in()))

    def said(self, words: Words) -> str:
        """The same in the reader's words."""
        return "\n  ".join(
            [words.told("curation.not_approved", case=self.case_id), *words.lines(self.obstacles)]
        )


class NothingWaits(LibraryError):  # noqa: N818
    """No change of an approved case waits for a decision."""


def obstacles(
    library: Library, case: Case, reason: str = "", contradictions: Checker = statements
) -> list[Statement]:
    """What stands in the way of approving this case for this reason."""
    found = []
    if entered_by_approver(library, case.id):
        found.append(say("obstacle.four_eyes"))
    if case.design is None:
        found.append(say("obstacle.no_design"))
    found += [say("obstacle.identity", hit=Said(str(hit))) for hit in looked_at.unseen(library, case)]
    against = contradictions(case)
    if against and not reason.strip():
        found += [say("obstacle.against_rule", what=what) for what in against]
    return found


def approve(
    library: Library,
    case_id: str,
    *,
    who: str,
    reason: str = "",
    teaching_note: str | None = None,
    opened: int | None = None,
    contradictions: Checker = statements,
) -> Version:
    """Approves the latest version. Raises ``NotApprovable`` with everything that stands in the way."""
    library.require("approve")
    held = library.get(case_id)
    gate.checked_reason(reason)
    standing = obstacles(
        library, _reviewed(held.case, "approved", reason, teaching_note), reason, contradictions
    )
    if standing:
        raise NotApprovable(case_id, standing)
    if documents.status(held.case) == "approved" and teaching_note is None and not reason:
        raise NotApprovable(case_id, [say("obstacle.approved_already")])
    return _put(library, held, opened, "approved", who=who, reason=reason, teaching_note=teaching_note)


def turn_down(library: Library, case_id: str, *, who: str, reason: str, opened: int | None = None) -> Version:
    """Decides against a change of an approved case: what serves becomes the latest version again, approved as before.

    Raises ``UnfitText`` without a reason, ``NothingWaits`` where no change waits.
    """
    library.require("approve")
    said, held = _said(reason), library.get(case_id)
    serving = library.serving_of([case_id])[case_id]
    if serving.revision == held.revision:
        raise NothingWaits(f"case {case_id}: no change of it waits for a decision")
    return library.restore(
        case_id, serving.revision, opened=held.revision if opened is None else opened, who=who, why=said
    )


def retire(library: Library, case_id: str, *, who: str, reason: str, opened: int | None = None) -> Version:
    """Takes a case out of use as a precedent. Raises ``UnfitText`` without a reason."""
    return _put(
        library, library.get(case_id), opened, "retired", who=who, reason=_said(reason), teaching_note=None
    )


def reopen(library: Library, case_id: str, *, who: str, reason: str, opened: int | None = None) -> Version:
    """Makes an approved or retired case a draft again. Raises ``UnfitText`` without a reason."""
    return _put(
        library, library.get(case_id), opened, "draft", who=who, reason=_said(reason), teaching_note=None
    )


def revise(library: Library, case: Case, *, opened: int, who: str, why: str) -> tuple[Version, str]:
    """Saves an edited case, and says what it did to the approval and which texts may identify a patient.

    An approved case that is changed becomes a draft that waits for a reviewer, and goes on serving as it was approved
    until then; follow-up alone leaves the approval (``store.pending``). A status that the edited case claims for
    itself is not taken over. Raises ``StaleEdit`` and the like, ``UnfitText`` for a reason that may identify somebody.
    """
    gate.checked_reason(why)
    before = library.get(case.id, opened)
    unseen = looked_at.unseen(library, case)
    case, note = with_review(before.case, case, unseen)
    saved = library.save(case, opened=opened, who=who, why=why)
    return saved, "\n".join([*([note] if note else []), *warnings(unseen)])


def warnings(unseen: Sequence["Hit"]) -> list[str]:
    """What to tell of texts that may identify somebody, one line each."""
    return [words_in().told("curation.may_identify", hit=str(hit)) for hit in unseen]


def _said(reason: str) -> str:
    if not reason.strip():
        raise UnfitText("give a reason; it is kept with the case")
    return gate.checked_reason(reason)


def _put(
    library: Library,
    held: Version,
    opened: int | None,
    status: str,
    *,
    who: str,
    reason: str,
    teaching_note: str | None,
) -> Version:
    kind = {"approved": "approved", "retired": "retired", "draft": "drafted"}[status]
    revision = held.revision if opened is None else opened
    case = _reviewed(held.case, status, reason, teaching_note)
    return library.save(case, opened=revision, who=who, why=reason, kind=kind)


def _reviewed(case: Case, status: str, reason: str, teaching_note: str | None) -> Case:
    before = case.review or Review()
    review = Review.model_validate(
        {
            "status": status,
            "reason": reason or None,
            "teaching_note": teaching_note if teaching_note is not None else before.teaching_note,
        }
    )
    return case.model_copy(update={"review": review})
