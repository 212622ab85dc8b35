"""Fields that were not recorded, and the decisions that they could change."""

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from recommender.advice.engine import Examination
from recommender.advice.model import Decision, DecisionResult, Gap

if TYPE_CHECKING:
    from recommender.advice.recommend import Working


def gaps_of(working: "Working", results: Mapping[Decision, DecisionResult]) -> tuple[Gap, ...]:
    """Each unrecorded field with the decisions it could change, the most decisions first.

    A field could change a decision when a rule waits for it that could block an option or move its score, when a
    criterion's weight waits for it, or when precedents are compared by it. What is excluded for good is left out.
    """
    touched: dict[str, dict[str, None]] = {}
    for decision in results:
        for field in dict.fromkeys(waited_for(working.examine(decision))):
            touched.setdefault(field, {})[decision.path] = None
    ordered = sorted(touched.items(), key=lambda item: (-len(item[1]), item[0]))
    return tuple(Gap(field, tuple(paths)) for field, paths in ordered)


def waited_for(examination: Examination) -> Iterator[str]:
    """Paths of the unrecorded fields on which one decision waits, repeats included."""
    yield from examination.weights.gaps
    yield from examination.engine.unrecorded_features(
        examination.facts, examination.decision, examination.given
    )
    for ways in examination.judged.values():
        for judged in ways:
            if judged.status == "excluded":
                continue
            yield from judged.unverified
            for rule in judged.undecided:
                if rule.points:
                    yield from judged.gaps_of(rule)
