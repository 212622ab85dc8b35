"""Four lines for the telephone: what was asked, what is proposed, the reason that matters, what keeping it costs."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from recommender.advice.model import WORTH_SAYING, Framework, Recommendation
from recommender.advice.review import ReviewItem
from recommender.advice.summary import by_criterion, design_sentence, otherwise, part_lines, taken_at
from recommender.advice.verdicts import Verdict
from recommender.domain.statement import Choice, Said, Statement, Word, quantity, say, several

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis

_WORST: tuple[Verdict, ...] = ("conflicts", "better_alternative", "acceptable", "agrees", "left_out")


def four_lines(
    analysis: "CaseAnalysis", framework: Framework | None, items: Sequence[ReviewItem]
) -> tuple[Statement, ...]:
    """What was asked, what is proposed, the one reason that matters most, and what it costs to keep what was asked."""
    asked = [item for item in items if item.asked is not None]
    departing = [item for item in asked if not _followed(framework, item)]
    chief = min(departing, key=lambda item: (_WORST.index(item.verdict), -item.points), default=None)
    carrying = part_lines(analysis, framework)[0].why if framework is not None else None
    return (
        _asked(analysis, asked),
        _proposed(analysis, framework, departing),
        *_why_and_price(chief, asked, carrying),
    )


def _followed(framework: Framework | None, item: ReviewItem) -> bool:
    if framework is None:
        return False
    if item.decision.kind == "alloy":
        return framework.design.alloy == item.asked
    if item.decision.kind not in ("retainer", "rest", "replacement", "connector"):
        return False
    return (taken_at(framework, item.decision) or "none") == item.asked


def _asked(analysis: "CaseAnalysis", asked: Sequence[ReviewItem]) -> Statement:
    told = several(
        say("phone.item", item=item.decision, option=Choice(item.decision.kind, item.asked))
        for item in asked
        if item.asked is not None
    )
    prescribed = analysis.case.prescription
    note = Said(prescribed.note) if prescribed is not None and prescribed.note else None
    return say("phone.asked" if told else "phone.asked_nothing", what=told, note=note)


def _proposed(
    analysis: "CaseAnalysis", framework: Framework | None, departing: Sequence[ReviewItem]
) -> Statement:
    if framework is None:
        return say("phone.nothing")
    at = several((item.decision for item in departing), "comma")
    return say("phone.proposed", design=design_sentence(analysis, framework), items=at)


def _why_and_price(
    chief: ReviewItem | None, asked: Sequence[ReviewItem], carrying: Statement | None
) -> Iterator[Statement]:
    if chief is None:
        if carrying is not None:
            yield say("phone.reason", why=carrying)
        yield say("phone.keeps" if asked else "phone.free")
        return
    if chief.reasons:
        yield say("phone.reason", why=chief.reasons[0])
    option = Choice(chief.decision.kind, chief.asked or "none")
    if chief.status == "excluded":
        yield say("phone.cannot", asked=option, item=chief.decision)
    elif chief.price_of_following:
        price = several(chief.price_of_following[:3])
        yield say("phone.costs", asked=option, item=chief.decision, price=price)
    else:
        yield say("phone.decide", asked=option, item=chief.decision)


def note_answered(
    analysis: "CaseAnalysis", answer: Recommendation, framework: Framework | None
) -> tuple[Statement, ...]:
    """What a note of the prescription wishes for, each wish answered by how the proposal does in it; a note in which
    no wish is known is left to a person, by name."""
    prescribed = analysis.case.prescription
    if prescribed is None or not prescribed.note:
        return ()
    wishes = list(wishes_in(analysis, prescribed.note))
    if not wishes or framework is None:
        return (say("phone.note_open", note=Said(prescribed.note)),)
    return tuple(_wish(analysis, answer, framework, criterion, phrase) for criterion, phrase in wishes)


def wishes_in(analysis: "CaseAnalysis", note: str) -> Iterator[tuple[str, str]]:
    """Criteria that a note wishes for, each with the longest phrase that says so."""
    import re

    text = note.casefold()
    for wish in analysis.engine.knowledge.figures.review.wishes:
        for phrase in sorted(wish.phrases, key=len, reverse=True):
            if re.search(rf"(?<!\w){re.escape(phrase)}(?!\w)", text):
                yield wish.criterion, phrase
                break


def _wish(
    analysis: "CaseAnalysis", answer: Recommendation, framework: Framework, criterion: str, phrase: str
) -> Statement:
    """The proposal beside the frameworks that were worked out with it, in the criterion of a wish."""
    here = by_criterion(analysis, framework).get(criterion, 0.0)
    others = [other for other in answer.frameworks if other is not framework]
    best = max(others, key=lambda other: by_criterion(analysis, other).get(criterion, 0.0), default=None)
    shown = framework.metal_on_show if criterion == "appearance" else None
    more = 0.0 if best is None else by_criterion(analysis, best).get(criterion, 0.0) - here
    word, shows = Word("criterion", criterion), None if shown is None else quantity(shown)
    if best is None or more < WORTH_SAYING:
        return say("phone.wish_met", words=Said(phrase), criterion=word, shown=shows)
    return say(
        "phone.wish_better",
        words=Said(phrase), criterion=word, shown=shows, points=quantity(more, "points"), other=otherwise(best),
    )  # fmt: skip
