"""Fields that were not recorded, and the decisions that they could change, in the order worth measuring."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from math import fsum
from typing import TYPE_CHECKING

from recommender.advice.decision import DecisionAnalysis
from recommender.advice.model import Decision, DecisionResult, Gap
from recommender.advice.scoring.judge import Judged
from recommender.domain.fields import asked_in_vain

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis


def gaps_of(analysis: "CaseAnalysis", results: Mapping[Decision, DecisionResult]) -> tuple[Gap, ...]:
    """Each unrecorded field with the decisions it could change, the one most worth measuring first.

    A field could change a decision when a rule waits for it that could block an option or move its score, when a
    criterion's weight waits for it, or when precedents are compared by it. What is excluded for good is left out.
    First come the fields that could bring another option to the front in most decisions; then those that could
    move scores further; what only makes precedents more or less alike comes later, and what was asked in vain last.
    """
    touched: dict[str, dict[str, None]] = {}
    leads: dict[str, list[str]] = defaultdict(list)
    moved: dict[str, list[float]] = defaultdict(list)
    for decision in results:
        examined = analysis.examine(decision)
        for field in dict.fromkeys(waited_for(examined)):
            touched.setdefault(field, {})[decision.path] = None
        for field, (could_lead, points) in stakes(examined).items():
            moved[field].append(points)
            if could_lead:
                leads[field].append(decision.path)

    in_vain = {field for field in touched if asked_in_vain(analysis.case, field)}

    def worth(field: str) -> tuple[bool, float, float, float, str]:
        moves = -round(fsum(moved[field]), 6)
        return field in in_vain, -len(leads[field]), moves, -len(touched[field]), field

    return tuple(
        Gap(field, tuple(touched[field]), tuple(leads[field]), field in in_vain)
        for field in sorted(touched, key=worth)
    )


def waited_for(examination: DecisionAnalysis) -> Iterator[str]:
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


def stakes(examination: DecisionAnalysis) -> dict[str, tuple[bool, float]]:
    """By field that rules or weights wait for: whether it could change what leads, and how far it could move a score.

    Reckoned from the rules and not tried out: each rule that waits for the field is taken at its worst for the leader
    and at its best for the option that would overtake it. An option can be overtaken by one of the same status, seen
    from any of its approaches, or by being blocked.
    """
    order = [name for name in examination.order() if examination.chosen[name].status != "excluded"]
    if not order:
        return {}
    lead = examination.chosen[order[0]]
    ways = [way for name in order for way in examination.judged[name] if way.status != "excluded"]
    shifts = _shifts(examination)
    moves = [_moves(examination, way, shifts) for way in ways]
    at = ways.index(lead)
    scores = [examination.score_of(way) for way in ways]
    found = {}
    for field in dict.fromkeys([*lead.unverified, *(name for move in moves for name in move)]):
        held = scores[at] + moves[at].get(field, _STILL)[0]
        overtaken = any(
            score + move.get(field, _STILL)[1] >= held
            for way, move, score in zip(ways, moves, scores, strict=True)
            if way.status == lead.status and way.option.id != lead.option.id
        )
        points = max(high - low for low, high in (move.get(field, _STILL) for move in moves))
        found[field] = (field in lead.unverified or overtaken, points)
    return found


_STILL = (0.0, 0.0)


Shift = tuple[str, str, float]
"""A field that a criterion's weight waits for: the field, the criterion, and how far its share would move."""


def _shifts(examination: DecisionAnalysis) -> list[Shift]:
    weights = examination.weights
    total = fsum(low for low, _ in weights.raw_bounds.values())
    return [
        (field, criterion, add / (total + add))
        for field, shifts in weights.gaps.items()
        for criterion, add in shifts
        if criterion in weights.raw_bounds
    ]


def _moves(examination: DecisionAnalysis, way: Judged, shifts: list[Shift]) -> dict[str, tuple[float, float]]:
    """By field, the most that it could take from the score (0 or less) and add to it, by the rules and the weights
    that wait for it."""
    share = examination.weights.share
    own = 1 - examination.evidence.weight
    sums: dict[str, list[float]] = {}
    for rule in way.undecided:
        points = own * rule.points * share.get(rule.criterion, 0.0)
        if points:
            for field in way.gaps_of(rule):
                sums.setdefault(field, [0.0, 0.0])[points > 0] += points
    for field, criterion, moved in shifts:
        points = own * moved * (way.rules.criteria[criterion] - way.rules.value)
        sums.setdefault(field, [0.0, 0.0])[points > 0] += points
    return {field: (low, high) for field, (low, high) in sums.items()}
