"""One option seen from one approach: what fired, what blocks it, what would unlock it, and its rule score."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

from recommender.advice.model import BlockedBy, PreparationStep, Status
from recommender.advice.preparations import best_tip_zone, resolve
from recommender.advice.scoring.score import RuleScore, Weights, rule_score
from recommender.domain.findings import Abutment
from recommender.domain.options import Option
from recommender.facts.option import tip_zone_facts
from recommender.facts.values import Scope
from recommender.knowledge.evidence import Outcome
from recommender.knowledge.model import Rule


@dataclass(frozen=True)
class Judged:
    """An option from one approach, before precedents are weighed.

    ``scope`` is the full scope (decision and option layer) in which the rules were evaluated.
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
    rules: RuleScore
    # gaps of rules that do not look at the option, shared by all options of one approach
    read: dict[str, tuple[str, ...]] = field(default_factory=dict, compare=False, repr=False)
    # gaps of rules that do look at it, each read once
    own: dict[str, tuple[str, ...]] = field(default_factory=dict, compare=False, repr=False)

    def gaps_of(self, rule: Rule) -> tuple[str, ...]:
        """Paths of the unrecorded fields that leave a rule undecided."""
        known = self.own.get(rule.id)
        if known is None:
            looks = not rule.when.facts.isdisjoint(self.scope.layers[-1])
            known = None if looks else self.read.get(rule.id)
            if known is None:
                known = rule.when.gaps(self.scope)
                if not looks:
                    self.read[rule.id] = known
            self.own[rule.id] = known
        return known

    @cached_property
    def unverified(self) -> tuple[str, ...]:
        """Gaps of blocks that are neither true nor false, and leave to prepare that a block waits for."""
        gaps = {
            f"abutments[{step.tooth}].permitted": None for step in self.unlocked_by if step.permitted is None
        }
        for rule in self.undecided:
            if rule.effect == "blocks":
                gaps.update(dict.fromkeys(self.gaps_of(rule)))
        return tuple(gaps)

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
    read: dict[str, tuple[str, ...]] | None = None,
) -> Judged:
    """Judge one option: status from its blocks, preparation, and ``R`` from the rules that fired.

    ``read`` is shared by the options that are judged in the same scope, from the same approach.
    """
    tip: tuple[str, ...] | None = None  # worked out where a preparation is spoken of
    blocks: list[BlockedBy] = []
    preparation: list[PreparationStep] = []
    for rule in outcome.fired:
        if tip is None and rule.effect in ("blocks", "prepares"):
            tip = best_tip_zone(tip_zone_facts(option, scope))
        if rule.effect == "blocks" and rule.block is not None:
            steps = resolve(rule.unlocked_by, tooth, approach, abutment, tip or (), unlocks=(path,))
            blocks.append(BlockedBy(rule.id, rule.block, rule.statement, rule.source, steps))
        elif rule.effect == "prepares" and rule.preparation is not None:
            preparation += resolve(
                (rule.preparation,), tooth, approach, abutment, tip or (), routine=True, unlocks=(path,)
            )
    status, unlocked_by = _status(blocks)
    if status == "excluded":  # what is never made asks for no work on a tooth
        preparation = []
    return Judged(
        option, approach, scope, status, outcome.fired, outcome.undecided, tuple(blocks), unlocked_by,
        tuple(dict.fromkeys(preparation)),
        rule_score(option.starts, outcome.fired, outcome.undecided, weights),
        {} if read is None else read,
    )  # fmt: skip


def removable(block: BlockedBy) -> bool:
    """Whether a preparation that the dentist has not forbidden removes the block."""
    return bool(block.unlocked_by) and all(step.permitted is not False for step in block.unlocked_by)


def _status(blocks: Sequence[BlockedBy]) -> tuple[Status, tuple[PreparationStep, ...]]:
    """The worst of what remains once permitted preparation is done, and that preparation."""
    if not blocks:
        return "open", ()
    standing = [block for block in blocks if not removable(block)]
    steps = tuple(dict.fromkeys(step for block in blocks if removable(block) for step in block.unlocked_by))
    if any(block.kind in ("impossible", "safety") for block in standing):
        return "excluded", ()
    if standing:
        return "advised_against", steps
    return ("needs_preparation", steps) if steps else ("open", ())
