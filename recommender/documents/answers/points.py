"""What the dentist is asked to decide: each departure, each preparation, each question that comes before metal.

Letter, form and returned answer are made from the same points, so that nothing is asked on one and lost on another.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from recommender.advice.confidence.values import BeforeMetal
from recommender.advice.model import Decision, PreparationStep
from recommender.documents.departures import Departure
from recommender.domain.dentition import is_tooth
from recommender.domain.statement import Arg, Choice, Field, Said, Several, Statement, say, several, teeth
from recommender.wording.templates import DEFAULT, language

Kind = Literal["departure", "preparation", "question"]
TICKS: Mapping[Kind, tuple[str, ...]] = {
    "departure": ("agree", "keep", "call"),
    "preparation": ("will_do", "not_done", "call"),
    "question": ("no", "yes", "not_known"),
}
_SOME = ("none", "some", "not_known")  # where "yes" wants to know which
_SITE = re.compile(r"\[(\d+)\]")
_LISTS = ("patient.allergy",)


@dataclass(frozen=True, slots=True)
class Point:
    """One thing to decide.

    ``key`` names it in the answer: a decision (``retainer:14``), ``preparation:14:distal:guiding_plane``, or the field
    that is asked for. ``offered`` is what is proposed there, in identifiers; ``fields`` are the fields of the case that
    a question is about. ``cells`` is what is printed, ``ticks`` are the words to choose from.
    """

    key: str
    kind: Kind
    offered: str
    cells: tuple[Arg, ...]
    ticks: tuple[str, ...]
    fields: tuple[str, ...] = ()


def departure_points(found: tuple[Departure, ...]) -> tuple[Point, ...]:
    """The items of the prescription that are not followed."""
    return tuple(
        Point(
            item.decision.key,
            "departure",
            item.proposed or "none",
            (
                item.decision,
                _option(item.decision, item.asked),
                _option(item.decision, item.proposed),
                _why(item),
            ),
            TICKS["departure"],
        )
        for item in found
        if item.departs
    )


def _option(decision: Decision, option: str | None) -> Arg:
    return Choice(decision.kind, option or "none")


def _why(item: Departure) -> Arg:
    return several(item.why, "space") or say("review.scores_higher")


def preparation_points(steps: tuple[PreparationStep, ...]) -> tuple[Point, ...]:
    """Work on teeth, in the order in which it is done."""
    found = []
    for step in steps:
        code = "planned"
        if step.permitted is False:
            code = "forbidden"
        elif not step.routine and step.permitted is None:
            code = "leave"
        key = f"preparation:{step.tooth}:{step.surface}:{step.action}"
        said = say(f"letter.{code}", work=step.work)
        found.append(Point(key, "preparation", step.action, (said,), TICKS["preparation"]))
    return tuple(found)


def question_points(waiting: tuple[BeforeMetal, ...]) -> tuple[Point, ...]:
    """Dangerous questions without an answer; the same question of several teeth is asked once."""
    grouped: dict[str, list[BeforeMetal]] = {}
    for each in waiting:
        grouped.setdefault(_SITE.sub("", each.field), []).append(each)
    return tuple(_question(plain, asked) for plain, asked in grouped.items())


def _question(plain: str, asked: list[BeforeMetal]) -> Point:
    sites = [int(site) for each in asked for site in _SITE.findall(each.field)]
    at = teeth(site for site in sites if is_tooth(site)) if sites else None
    known = f"letter.ask.{plain}"
    told = say("letter.asked_not_known") if all(each.asked for each in asked) else None
    if known in language(DEFAULT).templates:
        said: Statement = say(known, teeth=at, asked=told)
    else:
        why, field = Said(asked[0].why), Field(plain)
        code = "letter.ask_teeth" if at is not None else "letter.ask"
        said = say(code, field=field, teeth=at, why=why, asked=told)
    ticks = _SOME if sites or plain in _LISTS else TICKS["question"]
    return Point(plain, "question", "", (said,), ticks, tuple(each.field for each in asked))


def printed(point: Point) -> tuple[Arg, ...]:
    """The cells of a point; a reason of several sentences ends each of them."""
    return tuple(
        Several(tuple(say("papers.ended", what=each) for each in cell.items), cell.joint)
        if isinstance(cell, Several)
        else cell
        for cell in point.cells
    )
