"""A row that meets a case of its id in the library: merged by field, its review kept."""

from dataclasses import dataclass, replace
from typing import Any

from recommender.domain.case import Case, Review
from recommender.domain.errors import CaseError
from recommender.domain.intake import build
from recommender.domain.parsing import Document
from recommender.precedents.store import documents
from recommender.precedents.store.importing.merging import Change, Merged, merge
from recommender.precedents.store.importing.ready import Ready, may_identify, stated_as
from recommender.precedents.store.importing.reports import Report, Terms
from recommender.precedents.store.importing.rows import Row
from recommender.precedents.store.pending import with_review
from recommender.precedents.store.records import Entry, Version
from recommender.privacy.gate import hits_in


@dataclass(frozen=True, slots=True)
class Meeting:
    """What comes in (``given``, plain values) and what is there (``here``); ``last``: what the source said before.

    ``seen``: marks of texts that somebody looked at; ``serves``: whether an approved revision serves; ``reviewed``:
    whether a reviewer of this library has ever decided on the case.
    """

    coming: Ready
    held: Version
    last: dict[str, Any] | None
    given: dict[str, Any]
    here: dict[str, Any]
    seen: frozenset[str]
    serves: bool
    reviewed: bool


def met(row: Row, meeting: Meeting, terms: Terms) -> tuple[Report, Entry | None]:
    """The report on the row, and what is to be written; nothing where the library's word stands in everything."""
    case_id = meeting.coming.case_id
    found = merge(meeting.last, meeting.given, meeting.here, terms.changed, terms.named)
    if found.open and terms.ask is not None:
        asked = Report(row.place, case_id, "undecided", notes=row.notes, changes=found.changes)
        found = merge(meeting.last, meeting.given, meeting.here, terms.ask(asked), terms.named)
    if found.open:
        return Report(row.place, case_id, "undecided", notes=row.notes, changes=found.changes), None
    try:
        case = _case(row.place, meeting, found)
    except CaseError as error:
        problems = tuple(
            replace(one, hint=one.hint or "as merged with the library") for one in error.problems
        )
        return Report(
            row.place, case_id, "invalid", problems=problems, notes=row.notes, changes=found.changes
        ), None
    case, review_changes, notes = _with_review(case, meeting, found, terms)
    changes = (*found.changes, *review_changes)
    data = documents.as_data(case)
    document = documents.dump(case, data)
    if document == meeting.held.document:
        verdict = "kept" if changes else "identical"
        return Report(row.place, case_id, verdict, notes=row.notes, changes=changes), None  # type: ignore[arg-type]
    told = (*row.notes, *notes)
    return (
        Report(row.place, case_id, "changed", notes=told, changes=changes),
        Entry(document, documents.columns(case, data)),
    )


def _case(place: str, meeting: Meeting, found: Merged) -> Case:
    if not any(change.fate == "taken" for change in found.changes):
        return meeting.held.case
    try:
        return build(Document(place, {**found.data, "review": meeting.here.get("review")}))
    except CaseError:
        # a draft that was at fault before it met the file is not the file's to mend
        if _sound(meeting.here):
            raise
    return Case.model_validate({**found.data, "review": meeting.here.get("review")})


def _sound(data: dict[str, Any]) -> bool:
    try:
        build(Document("library", data))
    except CaseError:
        return False
    return True


def _with_review(
    case: Case, meeting: Meeting, found: Merged, terms: Terms
) -> tuple[Case, tuple[Change, ...], tuple[str, ...]]:
    """The case with its review: the library's own, unless the file's was asked for."""
    held = meeting.held.case
    unseen = [hit for hit in hits_in(documents.as_data(case)) if hit.mark not in meeting.seen]
    notes = [may_identify(hit) for hit in unseen]
    given = Review.model_validate(meeting.given.get("review") or {})
    state, here = meeting.coming.state, documents.status(held)
    asked = "review" in terms.named or (terms.keep_status and not meeting.reviewed and not meeting.serves)
    if asked and state != here and "review" in meeting.given:
        if state == "approved" and unseen:
            notes.append(stated_as(state))
        else:
            case = case.model_copy(update={"review": given})
            return case, (Change("review.status", here, state, "taken"),), tuple(notes)
    note = _teaching_note(meeting, given, terms)
    review = case.review
    if note != (review.teaching_note if review else None):
        case = case.model_copy(
            update={"review": (review or Review()).model_copy(update={"teaching_note": note})}
        )
    changed = documents.dump(case) != meeting.held.document
    case, told = with_review(held, case, unseen) if changed else (held, "")
    return case, (), (*notes, *([told] if told else []))


def _teaching_note(meeting: Meeting, given: Review, terms: Terms) -> str | None:
    """The library's, else the file's; the file's news only where nobody changed it here."""
    held = meeting.held.case.review
    here, last = (
        held.teaching_note if held else None,
        ((meeting.last or {}).get("review") or {}).get("teaching_note"),
    )
    news = given.teaching_note is not None and given.teaching_note != last
    if news and (here is None or here == last or "review" in terms.named):
        return given.teaching_note
    return here
