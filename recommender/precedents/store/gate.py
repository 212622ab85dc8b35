"""The gate of a library: what may identify a patient, what of it was looked at, and what is let in as approved.

Every way into a library ends in ``Library.add_all`` or ``Library.change``, which call ``admit``. A text with a hit
that nobody has looked at never counts as approved; a reason or note with a hit is not kept at all.
"""

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

import orjson
from sqlalchemy import Connection, select

from recommender.precedents.store.errors import MayIdentify, UnfitText
from recommender.precedents.store.records import Entry
from recommender.precedents.store.schema import cases, looked, versions

if TYPE_CHECKING:
    from recommender.privacy.gate import Hit

_MOST_IDS = 500
_WHO = re.compile(r"^[A-Za-z][A-Za-z0-9 ._/-]{0,39}$")


def checked_who(who: str) -> str:
    """A role or initials, as it goes into the history. Raises ``UnfitText``, for a full name or a number too."""
    from recommender.privacy.recogniser import look

    found = look(who)
    if not _WHO.match(who.strip()) or (found and (found[0].kind != "name" or " " in found[0].words)):
        raise UnfitText(
            "who: give a role or initials, 1 to 40 letters, digits, spaces and . _ / - (never a patient)"
        )
    return who.strip()


def checked_reason(text: str) -> str:
    """A reason or note, as it goes into the history. Raises ``UnfitText`` where it may identify somebody."""
    from recommender.privacy.gate import first_in

    found = first_in(text)
    if found is not None:
        raise UnfitText(f"the reason holds {found.label} ({found.words!r}); write it without")
    return text


def checked_alias(text: str) -> str:
    """A learner's alias. Raises ``UnfitText`` where it may be somebody's name or number."""
    from recommender.privacy.gate import look_at_name

    found = next(iter(look_at_name(text)), None)
    if found is not None:
        raise UnfitText(
            f"the alias {text!r} looks like {found.label}; choose one that names nobody, e.g. blue-heron"
        )
    return text


def admit(connection: Connection, entries: Sequence[Entry], why: str) -> None:
    """Lets these versions in. Raises ``UnfitText`` for a reason that may identify somebody, ``MayIdentify`` for an
    approved case with a text that may and that nobody has looked at, unless its version before says the same.
    """
    from recommender.privacy.gate import hits_in

    checked_reason(why)
    for entry in entries:
        if entry.columns.status == "approved" and not entry.clean:
            found = hits_in(orjson.loads(entry.document))
            if found:
                _settled(connection, entry.columns.id, found)


def _settled(connection: Connection, case_id: str, found: "Sequence[Hit]") -> None:
    from recommender.privacy.gate import hits_in

    new = [hit for hit in found if hit.mark not in looked_at(connection, [case_id]).get(case_id, ())]
    if not new:
        return
    latest = (versions.c.case_id == cases.c.id) & (versions.c.revision == cases.c.revision)
    before = connection.scalar(
        select(versions.c.document)
        .join(cases, latest)
        .where(cases.c.id == case_id, cases.c.status == "approved")
    )
    known = {hit.mark for hit in hits_in(orjson.loads(before))} if before else set()
    new = [hit for hit in new if hit.mark not in known]
    if new:
        raise MayIdentify(case_id, [str(hit) for hit in new])


def looked_at(connection: Connection, ids: Sequence[str]) -> dict[str, set[str]]:
    """Marks of the texts that somebody has looked at, by case."""
    found: dict[str, set[str]] = {}
    for start in range(0, len(ids), _MOST_IDS):
        part = ids[start : start + _MOST_IDS]
        query = select(looked.c.case_id, looked.c.mark).where(looked.c.case_id.in_(part))
        for case_id, mark in connection.execute(query):
            found.setdefault(str(case_id), set()).add(str(mark))
    return found
