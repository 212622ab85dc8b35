"""The letter to the dentist: one page where the case allows, that proposes, gives reasons, and leaves each decision
where it belongs.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from recommender.advice.confidence.answers import Confidence
from recommender.advice.confidence.attach import with_standing
from recommender.advice.model import Decision, Recommendation
from recommender.advice.phone import note_answered
from recommender.advice.recommend import Recommender, recommendation
from recommender.documents import blocks
from recommender.documents.answers.fingerprint import fingerprint
from recommender.documents.answers.points import (
    Point,
    departure_points,
    preparation_points,
    printed,
    question_points,
)
from recommender.documents.answers.signature import signed_code
from recommender.documents.answers.signature import state as signature_state
from recommender.documents.argument import alternatives, because, cautions, earlier, remarks, standing
from recommender.documents.departures import departures
from recommender.documents.drawing import arch_drawing
from recommender.documents.no_framework import without_framework
from recommender.documents.proposal import Origin, Proposal, flagged, proposal_of
from recommender.documents.request import measured, requested
from recommender.documents.wording import SIGNATURE, foot, heading, subtitle
from recommender.domain.case import Case
from recommender.domain.statement import Choice, Name, Quantity, Said, Statement, say
from recommender.wording.words import Words, words_in

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis

# How far the drawing may shrink so that the letter stays on one page; below that its words are hard to read.
_SHRINK = (1.0, 0.9, 0.82, 0.76)


@dataclass(frozen=True, slots=True)
class Asked:
    """A proposal with what the dentist is asked to decide about it, for the letter, the form and the answer."""

    proposal: Proposal
    code: str
    departures: tuple[Point, ...]
    preparation: tuple[Point, ...]
    questions: tuple[Point, ...]

    @property
    def points(self) -> tuple[Point, ...]:
        """All of them, in the order of the letter."""
        return (*self.departures, *self.preparation, *self.questions)


def letter(
    recommender: "Recommender", case: Case, origin: Origin, *, words: Words | None = None, framework: int = 1
) -> blocks.Document:
    """The letter for a case, ready to be set.

    Raises ``NoAdviceError`` where nothing is to be replaced, ``NoDesignError`` for a framework that is not there; a
    case for which no framework at all could be assembled gets a letter that says so and why.
    """
    analysis, answer = worked_out(recommender, case, framework)
    return letter_about(analysis, answer, origin, words=words, framework=framework)


def worked_out(
    recommender: "Recommender", case: Case, framework: int = 1
) -> tuple["CaseAnalysis", Recommendation]:
    """The answer for a case with its first frameworks, how sure they are, and what comes before metal."""
    analysis = recommender.work(case)
    return analysis, with_standing(recommendation(analysis, max(framework, 3)), Confidence(analysis))


def asked_of(
    analysis: "CaseAnalysis",
    answer: Recommendation,
    framework: int = 1,
    said: Mapping[Decision, str] | None = None,
) -> Asked:
    """What a framework of an answer asks of the dentist. ``said`` as for :func:`letter_about`."""
    proposal = flagged(analysis, proposal_of(answer, framework), asked_too=True)
    found = tuple(
        replace(item, why=(say("letter.own_words", words=Said(said[item.decision])),))
        if said and said.get(item.decision)
        else item
        for item in departures(analysis, proposal)
    )
    return Asked(
        proposal,
        fingerprint(answer.case, proposal.design, proposal.preparation),
        departure_points(found),
        preparation_points(proposal.preparation),
        question_points(proposal.before_metal),
    )


def letter_about(
    analysis: "CaseAnalysis",
    answer: Recommendation,
    origin: Origin,
    *,
    words: Words | None = None,
    framework: int = 1,
    said: Mapping[Decision, str] | None = None,
) -> blocks.Document:
    """The letter for an answer that is worked out already, whose frameworks a designer may have changed.

    ``said`` puts the designer's own words in place of the reasons for a departure.
    """
    words = words or words_in()
    if not answer.frameworks:
        return without_framework(answer, origin, words)
    asked = asked_of(analysis, answer, framework, said)
    proposal = asked.proposal
    body = [
        *_opening(asked, words),
        *requested(answer.case, words),
        *_wishes(analysis, answer, proposal, words),
    ]
    body += _proposed(proposal, words)
    body += _departures(analysis, asked, words)
    body += _preparation(asked, words)
    body += _questions(asked, words)
    body += _notes(answer, proposal, words, framework, origin)
    body += _closing(asked.code, words)
    return blocks.Document(
        words.text(say("letter.title")),
        subtitle(answer, asked.code, words),
        words.language,
        words.text(foot(answer.case, origin, asked.code, "letter.who")),
        tuple(body),
        _SHRINK,
    )


def _opening(asked: Asked, words: Words) -> list[blocks.Block]:
    case = asked.proposal.case
    found = []
    if signature_state(case, asked.code) == "signed_void":
        signed = signed_code(case)
        void = say("letter.signed_void", signed=Name(signed or ""), design=Name(asked.code))
        found.append(blocks.banner(words.text(void)))
    opening = "letter.opening" if case.prescription else "letter.opening_no_prescription"
    found.append(blocks.paragraph(words.text(say(opening))))
    return found


def _wishes(
    analysis: "CaseAnalysis", answer: Recommendation, proposal: Proposal, words: Words
) -> list[blocks.Block]:
    """The wishes of the note, each answered, without points; what only a person can answer is left to the cover."""
    told = [
        line for line in note_answered(analysis, answer, proposal.framework) if line.code != "phone.note_open"
    ]
    plain = [_wish(line, analysis.engine.knowledge.scoring.near_tie) for line in told]
    return [blocks.paragraph(" ".join(words.lines(plain)), small=True)] if plain else []


def _wish(told: Statement, near_tie: float) -> Statement:
    points = told.arg("points") if told.code == "phone.wish_better" else None
    better = isinstance(points, Quantity) and (points.low or 0.0) > near_tie
    words, criterion = told.arg("words"), told.arg("criterion")
    if better:
        return say("letter.wish_better", words=words, criterion=criterion, other=told.arg("other"))
    return say("letter.wish_met", words=words, criterion=criterion)


def _proposed(proposal: Proposal, words: Words) -> list[blocks.Block]:
    design = proposal.design
    drawing = arch_drawing(
        proposal.case, design, numbering=words.numbering, language=words.language,
        provisional=proposal.provisional, with_legend=False, with_undercuts=False, faults=proposal.faults,
    )  # fmt: skip
    alloy = Choice("alloy", design.alloy) if design.alloy else None
    said = (
        say("letter.proposed", connector=Choice("connector", design.connector), alloy=alloy)
        if design.connector
        else say("letter.proposed_no_connector", alloy=alloy)
    )
    why = [words.text(line) for line in because(proposal)]
    return [
        blocks.paragraph(words.text(said), strong=True),
        blocks.figure(drawing.svg, drawing.alt_text, 0.97),
        # where each departure has its own reason, these are left out before the letter takes a second page
        *([blocks.items(why, spare=2 if proposal.case.prescription is not None else 0)] if why else []),
    ]


def ticks(
    points: tuple[Point, ...], head: tuple[str, ...], widths: tuple[float, ...], words: Words
) -> blocks.Block:
    """Points as a table with boxes to tick in its last column."""
    return blocks.ticks(
        [words.text(say(f"letter.head.{name}")) for name in head],
        [[words.text(say("papers.titled", what=cell)) for cell in printed(point)] for point in points],
        [[words.text(say(f"letter.tick.{tick}")) for tick in point.ticks] for point in points],
        widths,
    )


def _departures(analysis: "CaseAnalysis", asked: Asked, words: Words) -> list[blocks.Block]:
    if asked.proposal.case.prescription is None:
        return []
    found = []
    if asked.departures:
        head, widths = ("item", "asked", "proposed", "why"), (1.1, 1.2, 1.2, 2.8, 1.7)
        found = [heading("letter.section.departures", words), ticks(asked.departures, head, widths, words)]
    elif asked.proposal.case.prescription.model_dump(exclude_none=True, exclude={"note", "not"}):
        found = [blocks.paragraph(words.text(say("letter.follows")))]
    lines = words.lines(remarks(departures(analysis, asked.proposal)))
    return [*found, *([blocks.items(lines, small=True)] if lines else [])]


def _preparation(asked: Asked, words: Words) -> list[blocks.Block]:
    headed = heading("letter.section.preparation", words)
    if not asked.preparation:
        return [headed, blocks.paragraph(words.text(say("letter.no_preparation")))]
    return [headed, ticks(asked.preparation, (), (4.6, 3.0), words)]


def _questions(asked: Asked, words: Words) -> list[blocks.Block]:
    if not asked.questions:
        return []
    return [heading("letter.section.before_metal", words), ticks(asked.questions, (), (5.2, 3.0), words)]


def _notes(
    answer: Recommendation, proposal: Proposal, words: Words, framework: int, origin: Origin
) -> list[blocks.Block]:
    """How sure it is, then what this case asks to be careful of, then what else was looked at."""
    told = [*standing(proposal), *measured(answer.case), *cautions(answer, proposal)]
    lines = words.lines([say("papers.ended", what=line) for line in told])
    more = words.lines([*alternatives(answer, framework), *earlier(proposal, origin)])
    found = [blocks.items(lines, small=True)] if lines else []
    return [heading("letter.section.cautions", words), *found, blocks.items(more, small=True, spare=1)]


def _closing(code: str, words: Words) -> list[blocks.Block]:
    return [
        blocks.answer(
            words.text(say("letter.signing", design=Name(code))),
            (),
            words.text(say("letter.changes")),
            [words.text(say(f"letter.signature.{name}")) for name in SIGNATURE],
        ),
        blocks.paragraph(words.text(say("papers.safety")), small=True),
    ]
