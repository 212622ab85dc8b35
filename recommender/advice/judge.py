"""One option seen from one approach: what fired, what blocks it, what would unlock it, and its rule score."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from recommender.advice.model import BlockedBy, PreparationStep, Status
from recommender.advice.preparations import best_tip_zone, resolve
from recommender.advice.score import RuleScore, Weights, rule_score
from recommender.domain.case import Abutment
from recommender.domain.options import Option
from recommender.facts.option import tip_zone_facts
from recommender.facts.values import Scope
from recommender.knowledge.evidence import Outcome
from recommender.knowledge.model import Rule


@dataclass(frozen=True, slots=True)
class Judged:
    """An option from one approach, before precedents are heard.

    ``scope`` is the full scope (decision and option layer) in which the rules were evaluated. ``unverified``
    are the gaps of blocks that are neither true nor false.
    """

    option: Option
    approach: str | None
    scope: Scope
    status: Status
    fired: tuple[Rule, ...]
    undecided: tuple[Rule, ...]
    blocks: tuple[BlockedBy, ...]
    unlocked_by: tuple[PreparationStep, ...]
    preparation: tuple[PreparationStep, ...]
    unverified: tuple[str, ...]
    rules: RuleScore

    @property
    def provisional(self) -> bool:
        """Whether an unrecorded fact could still block it."""
        return bool(self.unverified) and self.status != "excluded"


def judge(
    option: Option,
    approach: str | None,
    scope: Scope,
    outcome: Outcome,
    weights: Weights,
    tooth: int,
    abutment: Abutment | None,
    path: str,
) -> Judged:
    """Judge one option: status from its blocks, preparation, and ``R`` from the rules that fired."""
    tip = best_tip_zone(tip_zone_facts(option, scope))
    blocks: list[BlockedBy] = []
    preparation: list[PreparationStep] = []
    for rule in outcome.fired:
        if rule.effect == "blocks" and rule.block is not None:
            steps = resolve(rule.unlocked_by, tooth, approach, abutment, tip, unlocks=(path,))
            blocks.append(BlockedBy(rule.id, rule.block, rule.why, rule.source, steps))
        elif rule.effect == "prepares":
            preparation += resolve(
                rule.unlocked_by, tooth, approach, abutment, tip, routine=True, unlocks=(path,)
            )
    status, unlocked_by = _status(blocks)
    unverified: dict[str, None] = {}
    for rule in outcome.undecided:
        if rule.effect == "blocks":
            unverified.update(dict.fromkeys(rule.when.gaps(scope)))
    return Judged(
        option, approach, scope, status, outcome.fired, outcome.undecided, tuple(blocks), unlocked_by,
        tuple(dict.fromkeys(preparation)), tuple(unverified),
        rule_score(option.starts, outcome.fired, outcome.undecided, weights),
    )  # fmt: skip


def removable(block: BlockedBy) -> bool:
    """Whether a preparation that the dentist has not forbidden removes the block."""
    return bool(block.unlocked_by) and all(step.permitted is not False for step in block.unlocked_by)


def _status(blocks: Sequence[BlockedBy]) -> tuple[Status, tuple[PreparationStep, ...]]:
    """The worst of what remains once permitted preparation is done, and that preparation."""
    standing = [block for block in blocks if not removable(block)]
    steps = tuple(dict.fromkeys(step for block in blocks if removable(block) for step in block.unlocked_by))
    if any(block.kind in ("impossible", "safety") for block in standing):
        return "excluded", ()
    if standing:
        return "advised_against", steps
    return ("needs_preparation", steps) if steps else ("open", ())


def option_rank(status_index: int, score: float, identifier: str) -> tuple[int, float, str]:
    """Sort key of the result format: status, then higher score, then identifier."""
    return status_index, -score, identifier


def by_option(judged: Mapping[tuple[str, str | None], Judged]) -> dict[str, list[Judged]]:
    """Group the approaches of each option."""
    grouped: dict[str, list[Judged]] = {}
    for (identifier, _), item in judged.items():
        grouped.setdefault(identifier, []).append(item)
    return grouped
