"""What a returned answer does to the case: answers item by item, facts that were asked for, and the signature.

Consent is what was ticked, and only for the design that was shown: an empty box is none, and an answer to another
design than the one in hand records nothing.
"""

import re
from dataclasses import dataclass

from recommender.documents.answers import signature
from recommender.documents.answers.in_words import noted, taken
from recommender.documents.answers.points import Point
from recommender.documents.answers.returned import PointAnswer, Returned, foreign
from recommender.documents.letter import Asked
from recommender.domain import lexicon
from recommender.domain.case import Case, DentistAnswer
from recommender.domain.decision import Decision
from recommender.domain.dentition import is_tooth
from recommender.domain.fields import asked_in_vain, get_field, with_field
from recommender.domain.statement import Arg, Choice, Field, Name, Said, Statement, Word, Work, say, several

_CONSENT = {"departure": ("agree",), "preparation": ("will_do",), "question": ("no", "none")}
_ANSWERS = {"agree": "accepted", "will_do": "accepted", "keep": "declined", "not_done": "declined"}
# What an answer records, by the last name of the field; a mobility that is not 3 is still not measured.
_FACTS: dict[tuple[str, str], object] = {
    ("allergy", "none"): [],
    ("disease", "none"): "none",
    ("swallowing_risk", "no"): False,
    ("swallowing_risk", "yes"): True,
    ("antiresorptive", "no"): False,
    ("antiresorptive", "yes"): True,
    ("jaw_radiotherapy", "no"): False,
    ("jaw_radiotherapy", "yes"): True,
}


_PLAIN = ("no", "none")  # words beside them are told and change nothing that was signed


@dataclass(frozen=True, slots=True)
class Recorded:
    """The case with the answer in it, what there is to say, and whether the design is signed as it stands.

    ``void``: the answer is to another design; the case is as it was.
    """

    case: Case
    lines: tuple[Statement, ...]
    signed: bool
    void: bool = False


def recorded(case: Case, asked: Asked, returned: Returned) -> Recorded:
    """A returned answer taken into the case.

    Raises :class:`AnswerError` for an answer about another case, or one whose points are none of this design's.
    """
    if returned.case != case.id:
        raise foreign(say("answer.other_case", theirs=Said(returned.case), ours=Name(case.id)))
    if returned.design != asked.code:
        void = say("answer.void", signed=Name(returned.design), design=Name(asked.code))
        return Recorded(case, (void, *_changed(asked, returned)), signed=False, void=True)
    given = {point.key: point for point in returned.points}
    points = {point.key: point for point in asked.points}
    if given.keys() - points.keys() or any(
        one.answer not in ("", *points[one.key].ticks) for one in returned.points
    ):
        raise foreign(say("answer.other_points"))
    lines = [_line(point, given.get(point.key)) for point in asked.points]
    answered = _answers(case, asked, given)
    case, facts, told = _facts(answered, asked, given)
    lines += facts
    if returned.changes.strip():
        lines.append(say("answer.changes", words=Said(returned.changes.strip())))
    why = _why_not(asked, given, returned, told)
    if why is not None:
        return Recorded(case, (*lines, say("answer.unsigned", why=why)), signed=False)
    kept = [*(case.dentist_answer or ()), signature.entry(asked.code)]
    done = say(
        "answer.signed", name=Said(returned.signed.name.strip()), date=Said(returned.signed.date.strip()),
        design=Name(asked.code),
    )  # fmt: skip
    return Recorded(case.model_copy(update={"dentist_answer": kept}), (*lines, done), signed=True)


def named(point: Point) -> Arg:
    """What a point is about, in a few words."""
    if point.kind != "departure":
        return point.cells[0]
    item, wanted, proposed, _ = point.cells
    return say("answer.departure", item=item, asked=wanted, proposed=proposed)


def _line(point: Point, given: PointAnswer | None) -> Statement:
    tick = given.answer if given is not None else ""
    keeps = point.cells[1] if tick == "keep" else None
    answer = say(f"answer.{tick or 'empty'}", keeps=keeps)
    words = given.words.strip() if given is not None else ""
    return say("answer.item", what=named(point), answer=answer, reason=Said(words) if words else None)


def _answers(case: Case, asked: Asked, given: dict[str, PointAnswer]) -> Case:
    """The case with an entry for each point that was agreed to or declined; a signature of before is taken out."""
    fresh: list[DentistAnswer] = []
    for point in (*asked.departures, *asked.preparation):
        one = given.get(point.key)
        answer = _ANSWERS.get(one.answer) if one is not None else None
        if one is not None and answer is not None:
            item = {"item": point.key, "answer": answer, "reason": one.words.strip() or None}
            fresh.append(DentistAnswer.model_validate(item))
    replaced = {point.key for point in asked.points}
    kept = [
        answer
        for answer in case.dentist_answer or ()
        if answer.item not in replaced and not answer.item.startswith(signature.PREFIX)
    ]
    return case.model_copy(update={"dentist_answer": [*kept, *fresh] or None})


def _facts(case: Case, asked: Asked, given: dict[str, PointAnswer]) -> tuple[Case, list[Statement], bool]:
    """The case with the facts that were answered, what was recorded, and whether any of them is cause for concern."""
    lines: list[Statement] = []
    concern = False
    for point in asked.questions:
        one = given.get(point.key)
        tick = one.answer if one is not None else ""
        concern = concern or tick in ("yes", "some")
        for path in point.fields:
            name = path.rpartition(".")[2]
            if (name, tick) in _FACTS and get_field(case, path) is None:
                value = _FACTS[(name, tick)]
                case = with_field(case, path, value)
                lines.append(say("answer.recorded", field=Field(path), value=say(f"answer.{tick}")))
            elif tick == "not_known":
                if not asked_in_vain(case, path):
                    case = case.model_copy(update={"asked": [*(case.asked or ()), path]})
                lines.append(say("answer.asked", field=Field(path)))
        if one is None or tick in _PLAIN:
            continue
        left = one.words.strip()
        if tick in ("yes", "some"):
            case, paths, left = taken(case, point, one.words)
            lines += [say("answer.recorded", field=Field(path), value=_value(case, path)) for path in paths]
        if left:
            case = noted(case, point, left)
            lines.append(say("answer.noted", what=named(point), words=Said(left)))
    return case, lines, concern


def _value(case: Case, path: str) -> Arg:
    """What a field holds now, in words."""
    value = get_field(case, path)
    name = lexicon.kind_of(path)
    if isinstance(value, list):
        return several([Word(name, str(one)) for one in value], "comma")
    return Word(name, value) if isinstance(value, str) else Said(str(value))


def _why_not(
    asked: Asked, given: dict[str, PointAnswer], returned: Returned, concern: bool
) -> Statement | None:
    """Why the design is not signed as it stands, or ``None`` where it is."""
    reasons = []
    if not returned.signed.given:
        reasons.append(say("answer.why_not_signed"))
    open_points = [
        point
        for point in asked.points
        if point.key not in given or given[point.key].answer not in (*_CONSENT[point.kind], "yes", "some")
    ]
    if open_points:
        reasons.append(say("answer.why_points"))
    if concern:
        reasons.append(say("answer.why_facts"))
    if returned.changes.strip():
        reasons.append(say("answer.why_changes"))
    return say("papers.row", parts=several(reasons)) if reasons else None


def _changed(asked: Asked, returned: Returned) -> list[Statement]:
    """What differs between the points that were answered and those of the design in hand."""
    then, now = {one.key: one for one in returned.points}, {point.key: point for point in asked.points}
    lines = [
        say("answer.changed", what=named(point), was=_offered(point, then[key].offered), now=_offered(point))
        for key, point in now.items()
        if key in then and then[key].offered != point.offered
    ]
    new = [point for key, point in now.items() if key not in then and point.kind != "question"]
    lines += [say("answer.changed_new", what=named(point)) for point in new]
    gone = [known for key in then if key not in now and (known := _named_key(key)) is not None]
    lines += [say("answer.changed_gone", what=what) for what in gone]
    return lines or [say("answer.changed_elsewhere")]


_DECISION = re.compile(r"(retainer|rest|replacement):(\d{2})|connector|alloy")
_WORK = re.compile(r"preparation:(\d{2}):([a-z]{0,20}):([a-z_]{1,40})")


def _named_key(key: str) -> Arg | None:
    """What a key of an answer is about; ``None`` for a question, and for one that no page of ours writes."""
    if (found := _DECISION.fullmatch(key)) is not None:
        number = int(found[2]) if found[2] else 0
        return Decision(found[1] or key, number) if not number or is_tooth(number) else None
    if (found := _WORK.fullmatch(key)) is not None and is_tooth(int(found[1])):
        return Work(int(found[1]), found[2], found[3])
    return None


def _offered(point: Point, option: str | None = None) -> Arg:
    """What is, or was, offered at a point."""
    found = point.offered if option is None else option
    if point.kind == "departure":
        return Choice(point.key.partition(":")[0], found)
    return Word("preparation_action", found)
