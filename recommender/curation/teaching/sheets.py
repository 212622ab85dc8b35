"""A printable sheet of exercises, and its key on a paper of its own: self-contained HTML."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from recommender.advice.model import Decision, DecisionResult
from recommender.advice.recommend import Recommender
from recommender.curation.contradictions import chosen
from recommender.curation.teaching.exercises import Exercise, Question, feedback
from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER
from recommender.domain.labels import field_unit
from recommender.domain.measures import is_number
from recommender.domain.statement import Choice, quantity, several
from recommender.precedents.store.documents import as_data, flatten
from recommender.wording.words import Words

KEY = "Key to the exercises"
NOTICE = (
    "For teaching. A proposal on paper decides nothing: the prescribing dentist decides, and local regulation and "
    "the licensed technician stand above anything printed here. Demo cases are invented; no patient is meant."
)
_NO_FINDING = frozenset({"format", "id", "arch", "missing", "absent"})
_TOLD = 4


@dataclass(frozen=True, slots=True)
class _Asked:
    label: str
    options: tuple[str, ...]
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Shown:
    id: str
    kennedy: str
    arch: str
    teeth: list[tuple[str, str]]
    findings: list[tuple[str, str]]
    questions: list[_Asked]


def arch_marks(case: Case) -> list[tuple[int, str]]:
    """Every tooth of the arch from the patient's right, with ``x`` to be replaced, ``–`` absent, ``|``
    standing.
    """
    missing, absent = set(case.missing), set(case.absent or ())
    return [
        (tooth, "x" if tooth in missing else "–" if tooth in absent else "|")
        for tooth in ARCH_ORDER[case.arch]
    ]


def findings(case: Case) -> list[tuple[str, str]]:
    """What was recorded, as (field, value) in the order of the format; which tooth or space it is of, its path says."""
    return [
        (path, f"{_plain(value)} {field_unit(path)}".strip() if is_number(value) else _plain(value))
        for path, value in flatten(as_data(case))
        if path.split(".")[0] not in _NO_FINDING and not path.endswith(("].tooth", "].teeth"))
    ]


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (list, dict)):
        return ", ".join(str(item) for item in value) if value else "none"
    return f"{value:g}" if isinstance(value, float) else str(value)


def sheet(exercises: Sequence[Exercise], words: Words, title: str = "Exercises") -> str:
    """The sheet for learners: cases and decisions, nothing that tells the answer."""
    shown = [
        _shown(
            one,
            one.case,
            [_Asked(words.choice(q.decision), _names(q, words), ()) for q in one.questions],
            words,
        )
        for one in exercises
    ]
    return _render(title, shown, key=False)


def _names(question: Question, words: Words) -> tuple[str, ...]:
    return tuple(words.option(question.decision.kind, option) for option in question.options)


def key(
    pairs: Iterable[tuple[Exercise, Case]], recommender: Recommender, words: Words, title: str = KEY
) -> str:
    """The key: for each decision what stands how, what the case did and what the precedents did."""
    shown = []
    for made, case in pairs:
        analysis = recommender.work(case)
        did = {decision: option for decision, option, _ in chosen(analysis)}
        said = {line.decision: line for line in feedback(case, _answers(did, made), recommender)}
        asked = []
        for question in made.questions:
            kind = question.decision.kind
            lines = standing_lines(analysis.decide(question.decision), words)
            told = said.get(question.decision)
            if told is not None:
                name, standing = words.option(kind, told.answer), words.term("standing", told.standing)
                lines.append(words.told("exercise.library_did", option=name, standing=standing))
                if told.precedents:
                    counted = (f"{words.option(kind, option)} {number}" for option, number in told.precedents)
                    lines.append(words.told("exercise.precedents", listed=", ".join(counted)))
            asked.append(_Asked(words.choice(question.decision), (), tuple(lines)))
        shown.append(_shown(made, made.case, asked, words))
    return _render(title, shown, key=True)


def _answers(did: dict[Decision, str], made: Exercise) -> dict[str, str]:
    asked = {question.decision: question.options for question in made.questions}
    return {decision.key: option for decision, option in did.items() if option in asked.get(decision, ())}


def standing_lines(result: DecisionResult, words: Words) -> list[str]:
    """Where every option stands, in words: the leading ones with their scores, then what is barred and why."""
    kind = result.decision.kind
    open_ones = [option for option in result.ranked if option.status == "open"]
    lines = [
        words.told(
            "exercise.points", option=Choice(kind, option.option), points=quantity(option.score, "points", 0)
        )
        for option in open_ones[:_TOLD]
    ]
    if len(open_ones) > _TOLD:
        names = several((Choice(kind, option.option) for option in open_ones[_TOLD:]), "comma")
        lines.append(words.told("exercise.also_open", options=names))
    for option in result.ranked:
        if option.status != "open":
            why = "; ".join(words.lines(block.statement for block in option.blocked_by[:2]))
            name, status = words.option(kind, option.option), words.term("status", option.status)
            lines.append(f"{name}: {status}" + (f" ({why})" if why else ""))
    return lines


def _shown(made: Exercise, case: Case, asked: list[_Asked], words: Words) -> _Shown:
    marks = [(words.tooth(tooth), mark) for tooth, mark in arch_marks(case)]
    found = [(words.path(field), value) for field, value in findings(case)]
    return _Shown(made.id, made.kennedy, case.arch, marks, found, asked)


def _render(title: str, shown: list[_Shown], *, key: bool) -> str:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
    )
    template = environment.get_template("exercises.html.j2")
    return template.render(title=title, notice=NOTICE, exercises=shown, key=key)
