"""Results of learners, under an alias, and which principles are due to be met again."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import orjson
from sqlalchemy import Connection, delete, insert, select

from recommender.advice.recommend import Recommender
from recommender.curation.teaching.exercises import (
    STANDINGS,
    Exercise,
    Feedback,
    Figures,
    Standing,
    exercise,
    figures,
)
from recommender.curation.teaching.items import RIGHT, Known, Reply, information
from recommender.curation.teaching.items import known as rated
from recommender.curation.teaching.spacing import after
from recommender.precedents.store.errors import LibraryError
from recommender.precedents.store.gate import checked_alias, checked_who
from recommender.precedents.store.library import Library
from recommender.precedents.store.records import now
from recommender.precedents.store.schema import principles, results


@dataclass(frozen=True, slots=True)
class Principle:
    """A rule that a learner missed: ``box`` counts from 1 how often it was met in a row since, ``due`` says when it
    is to be met again, then how often it was missed and met; ``card`` is what the spacing rests on."""

    id: str
    box: int
    due: str
    missed: int
    met: int
    card: str | None = None

    def is_due(self, at: str) -> bool:
        """Whether it should be met again by then."""
        return self.due <= at


@dataclass(frozen=True, slots=True)
class Answered:
    """One stored answer."""

    exercise: str
    case_id: str
    revision: int
    decision: str
    answer: str
    standing: str
    at: str


@dataclass(frozen=True, slots=True)
class Progress:
    """What a learner has done: answers by standing, and the principles missed, those due first."""

    learner: str
    answers: int
    by_standing: dict[Standing, int]
    principles: tuple[Principle, ...]
    answered: tuple[Answered, ...]


def record(
    library: Library, learner: str, done: Exercise, said: Iterable[Feedback], *, at: str | None = None,
    known: Figures | None = None,
) -> None:  # fmt: skip
    """Stores the answers and moves the principles; all of it or, on an error, nothing.

    A principle missed is due again soon; one that was missed before, was due and in play and is not missed now, is due
    again after a longer time, and leaves once that time is long enough.
    """
    alias, given, when = checked_alias(library.named(learner)), known or figures(), at or now()
    feedbacks = list(said)
    rows = [
        {
            "learner": alias,
            "exercise": done.id,
            "case_id": done.case_id,
            "revision": done.revision,
            "decision": feedback.decision.key,
            "answer": feedback.answer,
            "verdict": feedback.standing,
            "principles": orjson.dumps(feedback.missed).decode(),
            "at": when,
        }
        for feedback in feedbacks
    ]
    missed = {principle for feedback in feedbacks for principle in feedback.missed}
    played = {principle for feedback in feedbacks for principle in feedback.in_play} - missed
    with library.writing("practise") as connection:
        if rows:
            connection.execute(insert(results), rows)
        held = {principle.id: principle for principle in _principles(connection, alias)}
        moved = [_down(held.get(name), name, when, given) for name in sorted(missed)]
        moved += [
            _up(held[name], when, given) for name in sorted(played & set(held)) if held[name].is_due(when)
        ]
        for principle, days in moved:
            _put(connection, alias, principle, keep=days < given.leaves)


def _down(held: Principle | None, name: str, at: str, known: Figures) -> tuple[Principle, int]:
    spaced = after(held.card if held else None, at, known.recall, known.leaves, met=False)
    missed, met = (held.missed if held else 0) + 1, held.met if held else 0
    return Principle(name, 1, spaced.due, missed, met, spaced.card), spaced.days


def _up(held: Principle, at: str, known: Figures) -> tuple[Principle, int]:
    spaced = after(held.card, at, known.recall, known.leaves, met=True)
    return Principle(held.id, held.box + 1, spaced.due, held.missed, held.met + 1, spaced.card), spaced.days


def _put(connection: Connection, alias: str, principle: Principle, *, keep: bool) -> None:
    connection.execute(
        delete(principles).where(principles.c.learner == alias, principles.c.principle == principle.id)
    )
    if keep:
        connection.execute(
            insert(principles).values(
                learner=alias, principle=principle.id, box=principle.box, due=principle.due,
                missed=principle.missed, met=principle.met, card=principle.card,
            )
        )  # fmt: skip


def _principles(connection: Connection, alias: str) -> list[Principle]:
    columns = (
        principles.c.principle,
        principles.c.box,
        principles.c.due,
        principles.c.missed,
        principles.c.met,
        principles.c.card,
    )
    query = select(*columns).where(principles.c.learner == alias)
    return [
        Principle(*row)
        for row in connection.execute(query.order_by(principles.c.due, principles.c.principle))
    ]


def progress(library: Library, learner: str) -> Progress:
    """Everything stored of a learner; empty for an alias that never answered."""
    alias = checked_who(learner)
    done = answered(library, alias)
    with library.reading() as connection:
        held = tuple(_principles(connection, alias))
    counts = {standing: sum(one.standing == standing for one in done) for standing in STANDINGS}
    return Progress(alias, len(done), counts, held, done)


def answered(library: Library, learner: str | None = None) -> tuple[Answered, ...]:
    """Every stored answer of a learner, or of everybody, in the order in which they were given."""
    columns = ("exercise", "case_id", "revision", "decision", "answer", "verdict", "at")
    query = select(*(results.c[name] for name in columns))
    if learner is not None:
        query = query.where(results.c.learner == checked_who(learner))
    with library.reading() as connection:
        return tuple(Answered(*row) for row in connection.execute(query.order_by(results.c.seq)))


def learners(library: Library) -> list[str]:
    """Every alias that has answered."""
    with library.reading() as connection:
        return list(connection.scalars(select(results.c.learner).distinct().order_by(results.c.learner)))


def forget(library: Library, learner: str) -> int:
    """Takes out everything stored of a learner, who may ask for it; returns how many answers there were."""
    alias = checked_who(learner)
    with library.writing("practise") as connection:
        number = connection.execute(delete(results).where(results.c.learner == alias)).rowcount
        connection.execute(delete(principles).where(principles.c.learner == alias))
    return number


def replies(library: Library) -> list[Reply]:
    """Every stored answer of every learner, as right or not."""
    query = select(results.c.learner, results.c.case_id, results.c.decision, results.c.verdict).order_by(
        results.c.seq
    )
    with library.reading() as connection:
        rows = connection.execute(query)
        return [Reply(who, (case, decision), verdict in RIGHT) for who, case, decision, verdict in rows]


def next_exercise(
    library: Library,
    learner: str,
    recommender: Recommender,
    *,
    at: str | None = None,
    known: Figures | None = None,
) -> Exercise:
    """The exercise that suits the learner: one that turns on principles that are due, else the one whose answers would
    tell most of this learner, by how hard its decisions proved so far; among equals the one answered longest ago.
    Raises ``LibraryError`` if no case is approved."""
    given, when, done = known or figures(), at or now(), progress(library, learner)
    due = {principle.id for principle in done.principles if principle.is_due(when)}
    held_so_far: Known = rated(replies(library))
    best: tuple[tuple[float, float, str], Exercise] | None = None
    for case_id in _candidates(library, done, given.candidates):
        held = library.get(case_id)
        made = exercise(held.case, held.revision, recommender, given)
        key = (
            -float(len(due.intersection(made.principles))),
            -information(made, held_so_far, done.learner),
            case_id,
        )
        if best is None or key < best[0]:
            best = (key, made)
    if best is None:
        raise LibraryError(f"{library.where}: no approved case to set as an exercise")
    return best[1]


def _candidates(library: Library, done: Progress, number: int) -> Sequence[str]:
    last = {answer.case_id: answer.at for answer in done.answered}
    approved = [head.id for head in library.heads(status="approved")]
    # never answered first, then the longest ago; among equals an order that differs from learner to learner
    import hashlib

    def key(case_id: str) -> tuple[str, str]:
        return last.get(case_id, ""), hashlib.sha256(
            f"{done.learner}/{done.answers}/{case_id}".encode()
        ).hexdigest()

    return sorted(approved, key=key)[:number]
