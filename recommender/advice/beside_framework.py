"""Items of a review held against a whole framework, which may carry at a place what does not lead there by itself."""

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from recommender.advice.explanation.contrast import contrast
from recommender.advice.model import Decision, DecisionResult, Framework
from recommender.advice.review import ReviewItem
from recommender.advice.schools import other_school
from recommender.advice.summary import result_in, taken_at, why_it_departs
from recommender.advice.verdicts import (
    Verdict,
    precedents_of,
    price_told,
    priced,
    reasons_against,
    worded,
    work_of,
)
from recommender.domain.statement import Statement

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


def carried(framework: Framework, decision: Decision) -> str | None:
    """What a framework carries at a decision of a prescription; a tooth without retainer or rest carries ``none``."""
    if decision.kind == "alloy":
        return framework.design.alloy
    if decision.kind not in ("retainer", "rest", "replacement", "connector"):
        return None
    taken = taken_at(framework, decision)
    return "none" if taken is None and decision.kind in ("retainer", "rest") else taken


def beside(
    analysis: "CaseAnalysis", framework: Framework | None, items: Iterable[ReviewItem]
) -> tuple[ReviewItem, ...]:
    """The items, each about what the framework carries there: its reason, its price, its precedents, its sentence.

    Unchanged stays what the framework follows, what was not asked for, and what has no ranking.
    """
    return tuple(item if framework is None else _beside(analysis, framework, item) for item in items)


def _beside(analysis: "CaseAnalysis", framework: Framework, item: ReviewItem) -> ReviewItem:
    decision, asked = item.decision, item.asked
    proposed = carried(framework, decision)
    if asked is None or proposed in (None, asked) or decision not in analysis.decisions():
        return item
    assert proposed is not None
    if proposed == item.lead:
        return replace(item, wording=_worded(item, proposed, item.reasons))
    result = result_in(analysis, framework, decision)
    if not {asked, proposed} <= {option.option for option in result.ranked}:
        return replace(item, lead=proposed, wording=_worded(item, proposed, item.reasons))
    return _instead(analysis, framework, item, result, asked, proposed)


def _instead(
    analysis: "CaseAnalysis",
    framework: Framework,
    item: ReviewItem,
    result: DecisionResult,
    asked: str,
    proposed: str,
) -> ReviewItem:
    """The item with the option that the framework carries in place of the one that leads."""
    known = analysis.engine.knowledge.figures.review
    wanted, taken = result.option(asked), result.option(proposed)
    difference = contrast(taken, wanted)
    own = why_it_departs(framework, item.decision)
    reasons = (
        *((own,) if own else ()),
        *reasons_against(item.decision.kind, wanted, taken, difference, known.reasons),
    )
    if item.verdict == "conflicts":
        reasons = item.reasons
    school = other_school(analysis, item.decision, asked, proposed) if item.school is not None else None
    to_follow, to_depart = work_of(wanted, blocks=True), work_of(taken)
    depart = priced(analysis, item.decision, taken, to_depart)
    following = item.price_of_following
    if following:  # else there is no price to tell, as for a safety block
        following = price_told(to_follow, item.follow, difference, known.reasons, ahead=True)
    changed = replace(
        item, lead=proposed, points=difference.points, reasons=tuple(dict.fromkeys(reasons))[: known.reasons],
        price_of_following=following, depart=depart, near_tie=False, school=school,
        price_of_departing=price_told(to_depart, depart, difference, known.reasons, ahead=False),
        precedents_for_lead=precedents_of(analysis, item.decision, result, proposed),
    )  # fmt: skip
    return replace(changed, wording=_worded(changed, proposed, changed.reasons))


def _worded(item: ReviewItem, proposed: str, reasons: tuple[Statement, ...]) -> Statement:
    """The sentence of an item that is not followed: also what could be followed is asked about."""
    verdict: Verdict = "conflicts" if item.verdict == "conflicts" else "better_alternative"
    return worded(verdict, item.decision, item.asked, proposed, reasons, item.school)
