"""The standing of every choice put on an answer: what is not firm is provisional, and names what could change it."""

from collections.abc import Mapping
from dataclasses import replace

from recommender.advice.confidence.answers import Confidence
from recommender.advice.model import DecisionResult, Recommendation


def with_standing(answer: Recommendation, confidence: Confidence) -> Recommendation:
    """The answer with ``provisional`` and ``unverified`` of every choice as its standing has it."""
    choices = confidence.decisions

    def marked(result: DecisionResult) -> DecisionResult:
        own = choices[result.decision]
        lead = result.ranked[0]
        lead = replace(lead, provisional=not own.standing.firm, unverified=own.unverified)
        return replace(result, ranked=(lead, *result.ranked[1:]))

    def of_kind(results: Mapping[int, DecisionResult]) -> dict[int, DecisionResult]:
        return {tooth: marked(result) for tooth, result in results.items()}

    whole = confidence.frameworks(answer.frameworks)
    frameworks = tuple(
        replace(
            framework, provisional=not own.standing.firm, standing=own.standing, unverified=own.unverified
        )
        for framework, own in zip(answer.frameworks, whole, strict=True)
    )
    firm = whole[0].standing.firm if whole else all(own.standing.firm for own in choices.values())
    return replace(
        answer,
        frameworks=frameworks,
        connector=marked(answer.connector),
        retainers=of_kind(answer.retainers),
        replacements=of_kind(answer.replacements),
        rests=of_kind(answer.rests),
        provisional=not firm,
        before_metal=confidence.before_metal,
    )
