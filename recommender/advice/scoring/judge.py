"""One option seen from one approach: what fired, what blocks it, what would unlock it, and its rule score."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

from recommender.advice.model import BlockedBy, PreparationStep, Status
from recommender.advice.preparations import best_tip_zone, permitted, resolve
from recommender.advice.scoring.score import RuleScore, Weights, rule_score
from recommender.domain.findings import Abutment
from recommender.domain.options import Option
from recommender.facts.option import tip_zone_facts
from recommender.facts.values import Scope
from recommender.knowledge.evidence import Outcome
from recommender.knowledge.model import PreparationTemplate, Rule


@dataclass(eq=False)  # frozen it would take three times as long to fill, some 200 times a case
class Judged:
    """An option from one approach, before precedents are weighed. Never changed once made.

    ``scope`` is the full scope (decision and option layer) in which the rules were evaluated; ``path`` names the
    option in its case. What only an explanation asks for is worked out when it is asked for.
    """

    option: Option
    approach: str | None
    scope: Scope
    tooth: int
    abutment: Abutment | None
    path: str
    fired: tuple[Rule, ...]
    undecided: tuple[Rule, ...]
    status: Status
    rules: RuleScore
    # gaps of rules that do not look at the option, shared by all options of one approach
    read: dict[str, tuple[str, ...]] = field(default_factory=dict, repr=False)
    # gaps of rules that do look at it, each read once
    own: dict[str, tuple[str, ...]] = field(default_factory=dict, repr=False)

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
    def _tip(self) -> tuple[str, ...]:
        return best_tip_zone(tip_zone_facts(self.option, self.scope))

    def _steps(
        self, templates: tuple[PreparationTemplate, ...], *, routine: bool = False
    ) -> tuple[PreparationStep, ...]:
        return resolve(
            templates,
            self.tooth,
            self.approach,
            self.abutment,
            self._tip,
            routine=routine,
            unlocks=(self.path,),
        )

    @cached_property
    def blocks(self) -> tuple[BlockedBy, ...]:
        """What blocks it, each with the work that would remove the block."""
        return tuple(
            BlockedBy(rule.id, rule.block, rule.statement, rule.source, self._steps(rule.unlocked_by))
            for rule in self.fired
            if rule.block
        )

    @cached_property
    def unlocked_by(self) -> tuple[PreparationStep, ...]:
        """The work that removes the blocks which need not stand; what is never made asks for none."""
        if self.status == "excluded":
            return ()
        return _each_once(
            step
            for rule in self.fired
            if rule.block and _removable(rule, self.abutment)
            for step in self._steps(rule.unlocked_by)
        )

    @cached_property
    def preparation(self) -> tuple[PreparationStep, ...]:
        """The work that any such design needs; what is never made asks for none."""
        if self.status == "excluded":
            return ()
        return _each_once(
            step
            for rule in self.fired
            if rule.effect == "prepares" and rule.preparation is not None
            for step in self._steps((rule.preparation,), routine=True)
        )

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
    """Judge one option: status from its blocks, and ``R`` from the rules that fired.

    ``read`` is shared by the options that are judged in the same scope, from the same approach.
    """
    fired, undecided = outcome.fired, outcome.undecided
    return Judged(
        option, approach, scope, tooth, abutment, path, fired, undecided, _status(fired, abutment),
        rule_score(option.starts, fired, undecided, weights), {} if read is None else read,
    )  # fmt: skip


def _removable(rule: Rule, abutment: Abutment | None) -> bool:
    """Whether a preparation that the dentist has not forbidden removes the block."""
    return bool(rule.unlocked_by) and all(
        permitted(abutment, template.action) is not False for template in rule.unlocked_by
    )


def _status(fired: Iterable[Rule], abutment: Abutment | None) -> Status:
    """The worst of what remains once permitted preparation is done."""
    status: Status = "open"
    for rule in fired:
        if not rule.block:
            continue
        if _removable(rule, abutment):
            status = "needs_preparation" if status == "open" else status
        elif rule.block != "advised_against":
            return "excluded"
        else:
            status = "advised_against"
    return status


def _each_once(steps: Iterable[PreparationStep]) -> tuple[PreparationStep, ...]:
    return tuple(dict.fromkeys(steps))
