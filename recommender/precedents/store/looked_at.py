"""Hits of the gate that somebody has looked at, and those that nobody has."""

from typing import TYPE_CHECKING

from sqlalchemy import insert

from recommender.domain.case import Case
from recommender.precedents.store.errors import UnfitText
from recommender.precedents.store.gate import checked_reason, looked_at
from recommender.precedents.store.library import Library
from recommender.precedents.store.records import now
from recommender.precedents.store.schema import looked

if TYPE_CHECKING:
    from recommender.privacy.gate import Hit


def unseen(library: Library, case: Case) -> "list[Hit]":
    """Hits in a case that nobody has looked at yet."""
    from recommender.privacy.gate import hits

    found = hits(case)
    if not found:
        return []
    with library.reading() as connection:
        seen = looked_at(connection, [case.id]).get(case.id, set())
    return [hit for hit in found if hit.mark not in seen]


def look_at(library: Library, case_id: str, *, who: str, note: str) -> "list[Hit]":
    """Records that somebody looked at every hit of the latest version and found no patient in it.

    Returns the hits concerned. Raises ``UnfitText`` without a note or for one that may itself identify somebody,
    ``NoSuchCase`` for an unknown id.
    """
    if not note.strip():
        raise UnfitText("say in a few words why these texts identify nobody")
    checked_reason(note)
    found = unseen(library, library.get(case_id).case)
    rows = {
        hit.mark: {"case_id": case_id, "mark": hit.mark, "who": library.named(who), "at": now(), "note": note}
        for hit in found
    }
    if rows:
        with library.writing("look_at") as connection:
            connection.execute(insert(looked), list(rows.values()))
    return found
