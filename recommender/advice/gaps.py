"""Fields that were not recorded, and the decisions that they could change."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

from recommender.advice.model import Decision, DecisionResult, Gap

if TYPE_CHECKING:
    from recommender.advice.recommend import Working


def gaps_of(working: "Working", results: Mapping[Decision, DecisionResult]) -> tuple[Gap, ...]:
    """Each unrecorded field with the decisions it could change, the most decisions first.

    A field could change a decision when a rule that waits for it could block an option, or could move an
    option that is still possible past the leader: the upper bound of one reaches the lower bound of the other.
    """
    touched: dict[str, dict[str, None]] = {}
    for decision, result in results.items():
        examination = working.examine(decision)
        leader = result.ranked[0]
        for option in result.ranked:
            if option.status == "excluded" or option.high < leader.low:
                continue
            for judged in examination.judged[option.option]:
                for rule in judged.undecided:
                    if rule.effect != "blocks" and not rule.points:
                        continue
                    for field in rule.when.gaps(judged.scope):
                        touched.setdefault(field, {})[decision.path] = None
    ordered = sorted(touched.items(), key=lambda item: (-len(item[1]), item[0]))
    return tuple(Gap(field, tuple(paths)) for field, paths in ordered)
