"""One act on every case that a search finds: a trial first, which writes nothing and says what would happen to each."""

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import orjson
from sqlalchemy import Connection, func, select
from sqlalchemy import delete as deleting

from recommender.curation import review
from recommender.curation.redaction import redact
from recommender.domain.statement import Word
from recommender.precedents.index.serving import forget
from recommender.precedents.store import documents
from recommender.precedents.store.database_source import DatabaseSource
from recommender.precedents.store.errors import LibraryError, UnfitText
from recommender.precedents.store.gate import checked_reason
from recommender.precedents.store.library import Library, put_setting
from recommender.precedents.store.looked_at import look_at, unseen
from recommender.precedents.store.records import Head, now
from recommender.precedents.store.schema import cases, imported, looked, settings, versions
from recommender.privacy.gate import look_at_name, texts
from recommender.wording.words import Words, words_in

# Each act, and what it is called in ``shared/roles.yaml``.
ACTS = {
    "approve": "approve", "looked-at": "look_at", "redact": "redact", "retire": "retire", "reopen": "retire",
    "delete": "delete",
}  # fmt: skip
_DELETED, _KEY = (
    "deleted:",
    60,
)  # the setting that keeps a trace, and how long its key may be (also in team/guard.sql)


@dataclass(frozen=True, slots=True)
class Search:
    """Which cases are meant; what is left out does not filter. ``text``: id or title holds it."""

    status: str | None = None
    arch: str | None = None
    kennedy: str | None = None
    outcome_known: bool | None = None
    text: str = ""
    ids: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return self != Search()


@dataclass(frozen=True, slots=True)
class Told:
    """What happened to one case, or would; ``refused`` says why nothing does."""

    case_id: str
    done: str = ""
    refused: str = ""


def found_by(library: Library, search: Search) -> list[Head]:
    """The cases that are meant, by id. Raises ``LibraryError`` for a named case that is not there."""
    heads = library.heads(
        status=search.status, arch=search.arch, kennedy=search.kennedy, outcome_known=search.outcome_known
    )
    held = search.text.casefold()
    found = [head for head in heads if held in f"{head.id} {head.title or ''}".casefold()]
    if not search.ids:
        return found
    if lacking := sorted(set(search.ids) - {head.id for head in found}):
        raise LibraryError(f"not among the cases that are meant: {', '.join(lacking)}")
    return [head for head in found if head.id in search.ids]


def act_on(
    library: Library, act: str, search: Search, *, who: str, why: str, field: str = "", trial: bool = True,
    words: Words | None = None,
) -> Iterator[Told]:  # fmt: skip
    """Does it to each case, or says what would happen, in ``words``. ``field`` is what ``redact`` takes out.

    A case that is refused stops no other. Raises ``UnfitText`` without a reason (save to approve), or without a search,
    and ``NotAllowed``, in the trial already, where the role of whoever is at work does not allow it.
    """
    if not search:
        raise UnfitText(
            "say which cases: a state, an arch, a class, a text or ids; never all of them unnamed"
        )
    if act != "approve" and not why.strip():
        raise UnfitText("give a reason; it is kept with each case")
    checked_reason(why)
    library.named(who)
    library.require(ACTS[act])
    for head in found_by(library, search):
        try:
            said = _would(library, act, head, why, field, words or words_in(), "would" if trial else "was")
            if not trial and not said.refused:
                _does(library, act, head, who, why, field)
        except LibraryError as error:
            yield Told(head.id, refused=str(error))
        else:
            yield said


def _would(library: Library, act: str, head: Head, why: str, field: str, words: Words, tense: str) -> Told:
    """What happens to a case (``tense``: ``would`` or ``was``), or why nothing does."""

    def done(code: str, **args: str) -> Told:
        return Told(head.id, words.told(code, tense=Word("tense", tense), **args))

    def refused(code: str, **args: str) -> Told:
        return Told(head.id, refused=words.told(code, **args))

    case = library.get(head.id).case
    if act == "approve":
        standing: Sequence[str] = words.lines(review.obstacles(library, case, why))
        if head.status == "approved":
            return refused("bulk.already", state="approved")
        return Told(head.id, refused="; ".join(standing)) if standing else done("bulk.done", what="approved")
    if act == "looked-at":
        hits = unseen(library, case)
        told = "; ".join(str(hit) for hit in hits)
        if not hits:
            return refused("bulk.nothing")
        return done("bulk.looked", hits=told)
    if act == "redact":
        there = any(field in dict(texts(documents.as_data(one.case))) for one in library.history(head.id))
        if not there:
            return refused("bulk.no_text", field=repr(field))
        return done("bulk.redacted", field=field)
    wanted = {"retire": "retired", "reopen": "draft"}.get(act)
    if wanted == head.status:
        return refused("bulk.already", state=wanted)
    return done("bulk.deleted") if wanted is None else done("bulk.done", what=wanted)


def _does(library: Library, act: str, head: Head, who: str, why: str, field: str) -> None:
    opened = head.revision
    acts: dict[str, Callable[[], object]] = {
        "approve": lambda: review.approve(library, head.id, who=who, reason=why, opened=opened),
        "looked-at": lambda: look_at(library, head.id, who=who, note=why),
        "redact": lambda: redact(library, head.id, field, who=who, why=why),
        "retire": lambda: review.retire(library, head.id, who=who, reason=why, opened=opened),
        "reopen": lambda: review.reopen(library, head.id, who=who, reason=why, opened=opened),
        "delete": lambda: delete(library, head.id, who=who, why=why, opened=opened),
    }
    acts[act]()


def delete(library: Library, case_id: str, *, who: str, why: str, opened: int) -> None:
    """Takes a case out for good, with its history and what its source said. Who took it out, when and why stays
    (``traces``), its number only where that identifies nobody. Backups made before still hold it. Raises
    ``LibraryError``."""
    held = library.get(case_id)
    if held.revision != opened:
        raise LibraryError(f"case {case_id}: changed by somebody else meanwhile; nothing was deleted")
    reason, name = checked_reason(why), library.named(who)
    trace = {"case": _shown(case_id), "who": name, "at": now(), "why": reason, "revisions": held.revision,
             "checksum": held.checksum}  # fmt: skip
    with library.writing("delete") as connection:
        if library.person is not None:  # the database does it as one act, and says itself who and when
            connection.execute(select(func.team_delete(case_id, opened, reason, _may_stay(case_id))))
        else:
            _take_out(connection, case_id, trace)
    forget(DatabaseSource(library))


def _take_out(connection: Connection, case_id: str, trace: Mapping[str, object]) -> None:
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("PRAGMA secure_delete=ON")
    put_setting(connection, _key(case_id), dict(trace))
    for table in (imported, looked, versions):
        connection.execute(deleting(table).where(table.c.case_id == case_id))
    connection.execute(deleting(cases).where(cases.c.id == case_id))


def _key(case_id: str) -> str:
    whole = f"{_DELETED}{_shown(case_id)}"
    return whole if len(whole) <= _KEY else f"{whole[: _KEY - 17]}{_digest(case_id)}"


def _may_stay(case_id: str) -> bool:
    """Whether the number of a deleted case identifies nobody."""
    return not look_at_name(case_id)


def _shown(case_id: str) -> str:
    return case_id if _may_stay(case_id) else _digest(case_id)


def _digest(case_id: str) -> str:
    return f":{hashlib.sha256(case_id.encode()).hexdigest()[:16]}"


@dataclass(frozen=True, slots=True)
class Trace:
    """What stays of a deleted case: who took it out, when (UTC) and why, and how many versions it had. ``case_id`` is
    its number, or a colon and a digest where the number may have identified somebody."""

    case_id: str
    who: str
    at: str
    why: str
    revisions: int


def traces(library: Library) -> list[Trace]:
    """What was deleted from a library, the latest first."""
    query = select(settings.c.key, settings.c.value).where(settings.c.key.startswith(_DELETED))
    with library.reading() as connection:
        kept = [
            {"case": key.removeprefix(_DELETED), **orjson.loads(value)}
            for key, value in connection.execute(query)
        ]
    found = [Trace(*(one[name] for name in ("case", "who", "at", "why", "revisions"))) for one in kept]
    return sorted(found, key=lambda one: (one.at, one.case_id), reverse=True)


def trace_of(library: Library, case_id: str) -> Trace | None:
    """What stays of one deleted case."""
    return next((one for one in traces(library) if one.case_id in (case_id, _digest(case_id))), None)
