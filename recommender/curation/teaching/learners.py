"""Results of learners, under an alias, and which principles are due to be met again."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

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
from recommender.precedents.store.errors import LibraryError
from recommender.precedents.store.gate import checked_alias, checked_who
from recommender.precedents.store.library import Library
from recommender.precedents.store.records import now
from recommender.precedents.store.schema import principles, results


@dataclass(frozen=True, slots=True)
class Principle:
    """A rule that a learner missed: in which box it lies, when it is due, how often missed and met since."""

    id: str
    box: int
    due: str
    missed: int
    met: int

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

    A principle missed goes to the first box; one that was missed before, was in play and is not missed now,
    moves up a box, and leaves with the last.
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
        for principle in moved:
            _put(connection, alias, principle, keep=principle.box <= len(given.boxes))


def _down(held: Principle | None, name: str, at: str, known: Figures) -> Principle:
    return Principle(
        name, 1, _later(at, known.boxes[0]), (held.missed if held else 0) + 1, held.met if held else 0
    )


def _up(held: Principle, at: str, known: Figures) -> Principle:
    box = held.box + 1
    days = known.boxes[min(box, len(known.boxes)) - 1]
    return Principle(held.id, box, _later(at, days), held.missed, held.met + 1)


def _later(at: str, days: int) -> str:
    moment = datetime.fromisoformat(at.replace("Z", "+00:00")) + timedelta(days=days)
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _put(connection: Connection, alias: str, principle: Principle, *, keep: bool) -> None:
    connection.execute(
        delete(principles).where(principles.c.learner == alias, principles.c.principle == principle.id)
    )
    if keep:
        connection.execute(
            insert(principles).values(
                learner=alias, principle=principle.id, box=principle.box, due=principle.due,
                missed=principle.missed, met=principle.met,
            )
        )  # fmt: skip


def _principles(connection: Connection, alias: str) -> list[Principle]:
    columns = (
        principles.c.principle,
        principles.c.box,
        principles.c.due,
        principles.c.missed,
        principles.c.met,
    )
    query = select(*columns).where(principles.c.learner == alias)
    return [
        Principle(*row)
        for row in connection.execute(query.order_by(principles.c.due, principles.c.principle))
    ]


def progress(library: Library, learner: str) -> Progress:
    """Everything stored of a learner; empty for an alias that never answered."""
    alias = checked_who(learner)
    columns = ("exercise", "case_id", "revision", "decision", "answer", "verdict", "at")
    query = select(*(results.c[name] for name in columns)).where(results.c.learner == alias)
    with library.reading() as connection:
        answered = tuple(Answered(*row) for row in connection.execute(query.order_by(results.c.seq)))
        held = tuple(_principles(connection, alias))
    counts = {standing: sum(one.standing == standing for one in answered) for standing in STANDINGS}
    return Progress(alias, len(answered), counts, held, answered)


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


def wanted_difficulty(done: Progress, known: Figures | None = None) -> float:
    """How hard the next exercise should be (0-1): it follows the share of favoured answers among the last
    ones.
    """
    given = known or figures()
    recent = done.answered[-given.recent :]
    if not recent:
        return given.easiest
    share = sum(one.standing == "favoured" for one in recent) / len(recent)
    return given.easiest + (given.hardest - given.easiest) * share


def next_exercise(
    library: Library,
    learner: str,
    recommender: Recommender,
    *,
    at: str | None = None,
    known: Figures | None = None,
) -> Exercise:
    """The exercise that suits the learner: one that turns on principles that are due, else one of the wanted
    difficulty, else the one answered longest ago. Raises ``LibraryError`` if no case is approved."""
    given, when, done = known or figures(), at or now(), progress(library, learner)
    due = {principle.id for principle in done.principles if principle.is_due(when)}
    wanted = wanted_difficulty(done, given)
    best: tuple[tuple[float, float, str], Exercise] | None = None
    for case_id in _candidates(library, done, given.candidates):
        held = library.get(case_id)
        made = exercise(held.case, held.revision, recommender, given)
        key = (-float(len(due.intersection(made.principles))), abs(made.difficulty - wanted), case_id)
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
