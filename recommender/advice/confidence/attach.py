"""The standing of every choice put on an answer: what is not firm is provisional, and names what could change it.

An option that is not the choice is provisional where what was not recorded could bring it to the front, in at least the
share of worlds that ``could_change`` names.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from recommender.advice.confidence.answers import Confidence
from recommender.advice.model import DecisionResult, OptionResult, Recommendation
from recommender.advice.review import ReviewItem


def with_standing(answer: Recommendation, confidence: Confidence) -> Recommendation:
    """The answer with ``provisional`` and ``unverified`` of every option and framework as its standing has it."""

    def of_kind(results: Mapping[int, DecisionResult]) -> dict[int, DecisionResult]:
        return {tooth: marked(result, confidence) for tooth, result in results.items()}

    whole = confidence.frameworks(answer.frameworks)
    frameworks = tuple(
        replace(
            framework, provisional=not own.standing.firm, standing=own.standing, unverified=own.unverified
        )
        for framework, own in zip(answer.frameworks, whole, strict=True)
    )
    firm = (
        whole[0].standing.firm if whole else all(own.standing.firm for own in confidence.decisions.values())
    )
    return replace(
        answer,
        frameworks=frameworks,
        connector=marked(answer.connector, confidence),
        retainers=of_kind(answer.retainers),
        replacements=of_kind(answer.replacements),
        rests=of_kind(answer.rests),
        provisional=not firm,
        before_metal=confidence.before_metal,
    )


def marked(result: DecisionResult, confidence: Confidence) -> DecisionResult:
    """A decision whose options say whether they are provisional."""
    return replace(
        result, ranked=tuple(marked_option(result, option, confidence) for option in result.ranked)
    )


def marked_option(result: DecisionResult, option: OptionResult, confidence: Confidence) -> OptionResult:
    """One option of a decision that says whether it is provisional, and what could change that."""
    own = confidence.decision(result.decision)
    if option.option == own.choice:
        return replace(option, provisional=not own.standing.firm, unverified=own.unverified)
    may_lead = _may_lead(confidence, result, option.option)
    return replace(option, provisional=may_lead, unverified=own.unverified if may_lead else ())


def reviewed(items: Sequence[ReviewItem], confidence: Confidence) -> tuple[ReviewItem, ...]:
    """Items of a review that say whether what was not recorded could turn them."""
    return tuple(_reviewed(item, confidence) for item in items)


def _reviewed(item: ReviewItem, confidence: Confidence) -> ReviewItem:
    analysis = confidence.analysis
    if item.decision not in analysis.decisions():
        return item
    result = analysis.decide(item.decision)
    subject = item.asked or item.lead
    known = next((option for option in result.ranked if option.option == subject), None)
    if known is None or result.given != item.given:
        return item
    return replace(item, provisional=marked_option(result, known, confidence).provisional)


def _may_lead(confidence: Confidence, result: DecisionResult, option: str) -> bool:
    firsts = confidence.world_case.ranked(result.decision).first()
    return firsts.get(option, 0.0) >= confidence.worlds.known.standing.could_change
