"""What goes into a whole framework: candidate retainers tooth by tooth, connectors, teeth, seats, alloy.

Everything that the choice between parts needs is gathered here as plain values, so that the solver
(``assembly_solve``) and the checks (``assembly_checks``) read the same parts.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import yaml

from recommender.advice.model import Decision, DecisionResult, OptionResult, Seat
from recommender.domain.dentition import opposite, position, side_of
from recommender.domain.options import Option
from recommender.facts.values import Scope, known
from recommender.resources import shared

if TYPE_CHECKING:
    from recommender.advice.recommend import Working

USABLE = ("open", "needs_preparation")


@cache
def figures() -> dict[str, Any]:
    """The figures and sentences of ``shared/frameworks.yaml``."""
    with shared("frameworks.yaml").open(encoding="utf-8") as stream:
        loaded: dict[str, Any] = yaml.load(stream, yaml.CSafeLoader)
    return loaded


@dataclass(frozen=True, slots=True)
class Part:
    """One retainer on one tooth as a framework may carry it.

    ``force_n`` is the middle of the computed band, ``None`` where the undercut was not recorded. ``crosses``
    are the proximal sides over whose embrasure its metal passes. ``further`` marks a tooth that the case does
    not consider.
    """

    tooth: int
    option: Option
    result: OptionResult
    beside_extension: bool
    force_n: float | None
    crosses: tuple[str, ...]
    partner: int | None
    further: bool

    @property
    def retentive(self) -> bool:
        """Whether it holds the denture in."""
        return any(word.startswith("retentive") for word in self.option.parts)

    @property
    def rested(self) -> bool:
        """Whether it carries a rest."""
        return "rest" in self.option.parts

    @property
    def releasing(self) -> bool:
        """Whether it lets go or bends beside an extension, or does not hold at all."""
        return not self.retentive or "stress_releasing" in self.option.families

    @property
    def value(self) -> float:
        """Its score, less the price of preparation that it waits for."""
        return self.result.score - price_of_waiting(self.result)

    @property
    def kind(self) -> str:
        """Its kind, for telling frameworks apart."""
        return next((name for name in figures()["retainer_kinds"] if name in self.option.families), "other")


def price_of_waiting(result: OptionResult) -> float:
    """Points taken from an option that opens only after preparation."""
    return float(figures()["after_preparation"]) if result.status == "needs_preparation" else 0.0


@dataclass(frozen=True, slots=True)
class Parts:
    """All that one framework of a case can be made of."""

    retainers: Mapping[int, tuple[Part, ...]]
    connectors: tuple[tuple[Option, OptionResult], ...]
    replacements: Mapping[int, OptionResult]
    seats: tuple[Seat, ...]
    alloy: str | None
    alloy_blocks: Mapping[str, str]


def gather(working: "Working", results: Mapping[Decision, DecisionResult], seats: tuple[Seat, ...]) -> Parts:
    """Candidates for every place of the framework; only options that are open, or open after preparation."""
    catalogue = working.engine.knowledge.catalogue.options
    retainers: dict[int, tuple[Part, ...]] = {}
    for decision, result in results.items():
        if decision.kind == "retainer":
            retainers[decision.tooth] = _candidates(working, decision.tooth, result, further=False)
    for tooth in _further_teeth(working, retainers):
        result = working.decide(Decision("retainer", tooth))
        retainers[tooth] = _candidates(working, tooth, result, further=True)
    connectors = tuple(
        (catalogue["connector"][option.option], option)
        for option in results[Decision("connector")].ranked
        if option.status in USABLE
    )
    replacements = {
        decision.tooth: result.ranked[0]
        for decision, result in results.items()
        if decision.kind == "replacement" and result.ranked[0].status in USABLE
    }
    alloy, blocks = frame_alloy(working)
    return Parts(retainers, connectors, replacements, chosen_seats(working, seats), alloy, blocks)


def _candidates(working: "Working", tooth: int, result: DecisionResult, *, further: bool) -> tuple[Part, ...]:
    catalogue = working.engine.knowledge.catalogue.options["retainer"]
    parts: list[Part] = []
    for option in result.ranked:
        # A further tooth that carries nothing is simply not drawn in.
        if option.status not in USABLE or (further and option.option == "none"):
            continue
        made = catalogue[option.option]
        if "partner" in made.parts:
            side = option.approach or "mesial"
            partner = working.facts.touching(tooth, side)
            if partner is None:
                continue
        else:
            partner = None
        parts.append(
            Part(
                tooth,
                made,
                option,
                _beside_extension(working, tooth),
                _force(option),
                _crosses(working, tooth, made, option.approach),
                partner,
                further,
            )
        )
    return tuple(parts)


def _beside_extension(working: "Working", tooth: int) -> bool:
    spaces = [working.facts.space_beside(tooth, side) for side in working.facts.sides(tooth)]
    return any(space is not None and space.support == "extension" for space in spaces)


def _force(option: OptionResult) -> float | None:
    force = option.facts.get("arm.force_n")
    if isinstance(force, (int, float)):
        return float(force)
    if isinstance(force, list) and force[0] and force[1]:
        return float((force[0] * force[1]) ** 0.5)
    return None


def _crosses(working: "Working", tooth: int, option: Option, approach: str | None) -> tuple[str, ...]:
    """The proximal sides, with a standing neighbour, over which metal passes."""
    if "crosses_embrasure" not in option.parts or approach is None:
        return ()
    through = approach if "partner" in option.parts else opposite(approach)
    return (through,) if working.facts.touching(tooth, through) else ()


def _further_teeth(working: "Working", retainers: Mapping[int, tuple[Part, ...]]) -> list[int]:
    """Teeth to draw in: partners through an embrasure, and the rearmost teeth of a side that holds too little."""
    facts = working.facts
    wanted: dict[int, None] = {}
    for parts in retainers.values():
        for part in parts:
            if part.partner is not None and part.partner not in retainers:
                wanted[part.partner] = None
    for side in ("right", "left"):
        holding = [
            tooth
            for tooth, parts in retainers.items()
            if side_of(tooth) == side and any(p.retentive for p in parts)
        ]
        if len(holding) >= 2:
            continue
        free = [t for t in facts.standing if side_of(t) == side and t not in retainers and position(t) >= 4]
        free.sort(key=lambda t: (position(t) == 8, abs(position(t) - 6), position(t)))
        wanted.update(dict.fromkeys(free[:3]))
    # An embrasure clasp on a further tooth needs its neighbour too; the nearest molars and premolars are both there.
    return list(wanted)[: int(figures()["further_tooth"]["most"])]


def chosen_seats(working: "Working", seats: tuple[Seat, ...]) -> tuple[Seat, ...]:
    """The seats that a framework takes: the best on each side for Class I and IV, the best one for Class II.

    For Class II the seat lies on the side away from the extension, where the lever is longest.
    """
    number = working.facts.classification.number
    if not seats:
        return ()
    if number == "II":
        return (seats[0],)
    best: dict[str, Seat] = {}
    for seat in seats:
        best.setdefault(side_of(seat.tooth), seat)
    return tuple(best[side] for side in ("right", "left") if side in best)


def frame_alloy(working: "Working") -> tuple[str | None, dict[str, str]]:
    """The alloy of the frame: the prescribed one, else the first that no rule blocks; and what blocks the others."""
    prescription = working.case.prescription
    order = list(figures()["frame_alloys"])
    if prescription and prescription.alloy in [*order, "nickel_chromium"]:
        order.insert(0, prescription.alloy)
    blocks: dict[str, str] = {}
    for alloy in order:
        scope = framework_scope(working, {"framework.alloy": alloy})
        held = [
            rule
            for rule in working.engine.rule_set("framework").rules
            if rule.effect == "blocks" and "framework.alloy" in rule.when.facts and rule.when.evaluate(scope)
        ]
        if not held:
            return alloy, blocks
        blocks[alloy] = held[0].why
    return None, blocks


def framework_scope(working: "Working", values: Mapping[str, bool | int | float | str]) -> Scope:
    """The scope of framework rules: the case, and facts of the framework in hand."""
    layer = {name: known(value, "design") for name, value in values.items()}
    return working.facts.case_scope.extended(layer)
