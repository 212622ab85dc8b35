"""A rule, and what stands beside the rules: criteria, sources, scoring figures.

Everything here is data from ``shared/``: an educator changes a YAML file, never this code. See
``shared/rules/README.md`` for how a rule is written.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

from recommender.domain.options import Catalogue
from recommender.domain.statement import Choice, Said, Several, Statement, say
from recommender.facts.figures import ModelFigures
from recommender.knowledge.conditions import Condition
from recommender.knowledge.figures.files import Figures
from recommender.knowledge.registry import Registry

NO_SOURCE = "common practice, no source"
HOUSE = "house"
"""The criterion on which a house's own habits count, the source of its lines, and the head of their ids."""

Stage = Literal["case", "option", "framework"]
DecisionKind = Literal[
    "retainer", "rest", "connector", "replacement", "indirect_retainer", "framework", "case"
]
Effect = Literal["favours", "discourages", "blocks", "prepares", "step", "caution", "question"]
BlockKind = Literal["impossible", "safety", "advised_against"]


@dataclass(frozen=True, slots=True)
class PreparationTemplate:
    """A preparation near to or far from the space; it becomes a tooth and surface once the approach is known.

    ``surface`` is one of ``near far near_facial mid_facial far_facial near_lingual mid_lingual far_lingual
    near_proximal far_proximal facial lingual near_occlusal far_occlusal cingulum incisal crown
    tip`` (tip = the zone that the tip engages).
    """

    action: str
    surface: str


@dataclass(frozen=True)
class Rule:
    """One rule as data.

    ``options`` is empty where the rule speaks of every option of its decision. ``points`` are on the 0-100
    scale of its criterion, positive for ``favours``, negative for ``discourages`` and for the price of a
    routine preparation (``prepares``), 0 otherwise. ``block`` is set for ``blocks`` only; ``unlocked_by``
    holds the preparation that removes the block. ``source`` is a full citation or exactly
    ``common practice, no source``. ``families`` are the families by which a rule named its options, and
    ``preparation`` is the routine work that a ``prepares`` rule asks for. ``place`` is ``file:line`` where it
    is known, else the file.
    """

    id: str
    stage: Stage
    decision: DecisionKind
    options: tuple[str, ...]
    when: Condition
    effect: Effect
    criterion: str
    points: float
    why: str
    source: str
    found: str
    block: BlockKind | None = None
    unlocked_by: tuple[PreparationTemplate, ...] = ()
    disputed: str | None = None
    place: str = ""
    families: tuple[str, ...] = ()
    preparation: PreparationTemplate | None = None

    @cached_property
    def statement(self) -> Statement:
        """What the rule says, in its own words; it names no tooth."""
        if self.criterion == HOUSE:
            return self._habit
        return Statement("rule", (("why", Said(self.why)),), self.id, self.source)

    @property
    def _habit(self) -> Statement:
        """What a house favours or passes over, and where."""
        options = Several(tuple(Choice(self.decision, option) for option in self.options), "or")
        code = "house.favours" if self.points > 0 else "house.passes_over"
        where = Said(self.why) if self.why else None
        return say(code, rule=self.id, source=self.source, options=options, where=where)

    def speaks_of(self, option: str) -> bool:
        """Whether the rule is about this option of its decision."""
        return not self.options or option in self.options


@dataclass(frozen=True, slots=True)
class CriterionShift:
    """Adds to a criterion's weight when a condition over the case holds."""

    criterion: str
    when: Condition
    add: float
    why: str
    source: str = NO_SOURCE


@dataclass(frozen=True, slots=True)
class Criteria:
    """Base weight of each criterion at each decision, and how the case moves them.

    The weights of one decision are normalised to sum to 1 after the shifts; none falls below zero.
    """

    labels: Mapping[str, str]
    base: Mapping[str, Mapping[str, float]]
    shifts: tuple[CriterionShift, ...]
    definitions: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ScoringFigures:
    """The figures of the blend: ``neighbours`` k, ``lambda_`` (shrinks thin evidence), ``kappa`` (how much
    likeness makes precedents count half), and how much each kind of outcome is worth (-1 to 1).

    ``near_tie``: options nearer than this on 0-100 are shown as a near tie. ``event_speaks_to``: which kinds
    of event say something about which decision.
    """

    neighbours: int
    lambda_: float
    kappa: float
    outcome_values: Mapping[str, float]
    near_tie: float = 0.0
    event_speaks_to: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class House:
    """The part of a house profile that is no rule: its digest, and by kind of decision the figures of the blend, the
    weights of features, and what it adds to the published base weights of criteria."""

    digest: str
    scoring: Mapping[str, ScoringFigures]
    features: Mapping[str, Mapping[str, float]]
    departures: Mapping[str, Mapping[str, float]]


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Everything that the packaged data teaches, or a draft of it. ``catalogue`` holds the options and their families,
    ``figures`` every file of figures as its model. ``models`` are the figures of the computing models where they are
    not the packaged ones, ``house`` what a house profile adds beside rules and weights."""

    rules: tuple[Rule, ...]
    catalogue: Catalogue
    criteria: Criteria
    scoring: ScoringFigures
    registry: Registry
    figures: Figures
    by_decision: Mapping[str, tuple[Rule, ...]] = field(default_factory=dict)
    models: ModelFigures | None = None
    house: House | None = None

    def scoring_of(self, decision: str) -> ScoringFigures:
        """The figures of the blend at one kind of decision: the house's own where a profile has some."""
        return self.house.scoring.get(decision, self.scoring) if self.house else self.scoring

    def departures(self, decision: str) -> Mapping[str, float]:
        """What the house adds to the published weights of criteria."""
        return self.house.departures.get(decision, {}) if self.house else {}

    def rule(self, identifier: str) -> Rule:
        """The rule of that id; ``KeyError`` if there is none."""
        for rule in self.rules:
            if rule.id == identifier:
                return rule
        raise KeyError(identifier)

    @property
    def sources(self) -> tuple[str, ...]:
        """Every source that a rule, a shift or an option rests on, in alphabetical order, each once."""
        options = (option for known in self.catalogue.options.values() for option in known.values())
        found = {rule.source for rule in self.rules} | {shift.source for shift in self.criteria.shifts}
        return tuple(sorted(found | {option.source for option in options} - {""}))
