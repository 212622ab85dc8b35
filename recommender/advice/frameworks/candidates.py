"""What goes into a whole framework: candidate retainers tooth by tooth, connectors, teeth, seats, alloy.

Everything that the choice between parts needs is gathered here as plain values, so that the solver
(``assembly_solve``) and the checks (``assembly_checks``) read the same parts.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import yaml

from recommender.advice.frameworks.replacements import replacements_of
from recommender.advice.model import Decision, DecisionResult, OptionResult, Seat
from recommender.domain.dentition import opposite, position, side_of
from recommender.domain.options import Option
from recommender.domain.statement import Statement
from recommender.facts.values import Scope, known
from recommender.resources import shared

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis

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

    ``force_n`` is the middle of the computed band, ``None`` where none was computed. ``crosses`` are the
    proximal sides over whose embrasure its metal passes. ``partner`` is the other tooth of an embrasure clasp,
    ``grips`` the tooth on which its tip lies. ``further`` marks a tooth that the case does not consider.
    """

    tooth: int
    option: Option
    result: OptionResult
    beside_extension: bool
    force_n: float | None
    crosses: tuple[str, ...]
    partner: int | None
    further: bool
    grips: int

    @property
    def key(self) -> tuple[int, str, int]:
        """What tells it from every other part: tooth, assembly, and the partner (0 for none)."""
        return self.tooth, self.option.id, self.partner or 0

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
        """Whether it lets go or bends beside an extension, or does not hold at all.

        A flexing arm lets go whose tip stays where it is or goes down with the base: it lies on the axis or behind it.
        A stub in the face toward the space is locked there and does not.
        """
        if not self.retentive or "stress_releasing" in self.option.families:
            return True
        if "flexing_arm" not in self.option.families or "retentive_proximal" in self.option.parts:
            return False
        travel = self.result.facts.get("arm.tip_travel_mm")
        most = travel[-1] if isinstance(travel, list) else travel
        return isinstance(most, (int, float)) and most <= 0

    @property
    def advised_against(self) -> bool:
        """Whether accepted practice speaks against it."""
        return self.result.status not in USABLE

    @property
    def rotated_end(self) -> str | None:
        """``front`` or ``rear`` for a rigid retainer that is rotated in first, by the end at which it stands."""
        if not {"retentive_proximal", "rigid"} <= set(self.option.parts):
            return None
        return "front" if position(self.tooth) <= 3 or self.result.approach == "distal" else "rear"

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
    """All that one framework of a case can be made of.

    ``seats`` are the indirect retainers that it takes, ``other_seats`` every usable seat, best first. ``matching``
    pairs teeth of the two sides that should carry the same kind. ``touching`` pairs neighbours in contact.
    """

    retainers: Mapping[int, tuple[Part, ...]]
    connectors: tuple[tuple[Option, OptionResult], ...]
    replacements: Mapping[int, OptionResult]
    seats: tuple[Seat, ...]
    alloy: str | None
    alloy_blocks: Mapping[str, Statement]
    other_seats: tuple[Seat, ...] = ()
    matching: tuple[tuple[int, int], ...] = ()
    touching: frozenset[frozenset[int]] = frozenset()


def gather(analysis: "CaseAnalysis", results: Mapping[Decision, DecisionResult], seats: tuple[Seat, ...]) -> Parts:
    """Candidates for every place of the framework.

    Options that are open, or open after preparation. What accepted practice advises against comes in only where
    nothing else would do: a retainer where a side has nothing to hold by or a base nothing to stand on, a
    connector where none is usable. Excluded options never come in.
    """
    retainers: dict[int, tuple[Part, ...]] = {}
    for decision, result in results.items():
        if decision.kind == "retainer":
            retainers[decision.tooth] = _candidates(analysis, decision.tooth, result, further=False)
    for tooth in _further_teeth(analysis, retainers):
        result = analysis.decide(Decision("retainer", tooth))
        drawn = _candidates(analysis, tooth, result, further=True)
        if drawn:
            retainers[tooth] = drawn
    _add_advised_against(analysis, results, retainers)
    alloy, blocks = frame_alloy(analysis)
    teeth = list(retainers)
    beside = [
        frozenset((tooth, other))
        for tooth in teeth
        for side in ("mesial", "distal")
        if (other := analysis.facts.touching(tooth, side)) in retainers and other is not None
    ]
    return Parts(
        retainers, _connectors(analysis, results), replacements_of(analysis, results),
        chosen_seats(analysis, seats), alloy, blocks, seats, _matching(analysis, teeth), frozenset(beside),
    )  # fmt: skip


def _connectors(
    analysis: "CaseAnalysis", results: Mapping[Decision, DecisionResult]
) -> tuple[tuple[Option, OptionResult], ...]:
    catalogue = analysis.engine.knowledge.catalogue.options["connector"]
    ranked = results[Decision("connector")].ranked
    usable = [option for option in ranked if option.status in USABLE]
    left = usable or [option for option in ranked if option.status != "excluded"]
    return tuple((catalogue[option.option], option) for option in left)


def _candidates(
    analysis: "CaseAnalysis",
    tooth: int,
    result: DecisionResult,
    *,
    further: bool,
    statuses: tuple[str, ...] = USABLE,
) -> tuple[Part, ...]:
    catalogue = analysis.engine.knowledge.catalogue.options["retainer"]
    parts: list[Part] = []
    for option in _every_way(analysis, tooth, result):
        # A further tooth that carries nothing is simply not drawn in.
        if option.status not in statuses or (further and option.option == "none"):
            continue
        made = catalogue[option.option]
        side = option.approach or "mesial"
        partner = analysis.facts.touching(tooth, side) if "partner" in made.parts else None
        beyond = analysis.facts.touching(tooth, opposite(side)) if "tip_on_neighbour" in made.parts else tooth
        if ("partner" in made.parts and partner is None) or beyond is None:
            continue
        if beyond != tooth and bears_nothing(analysis, beyond):
            continue
        # fmt: off
        parts.append(
            Part(
                tooth, made, option, _beside_extension(analysis, tooth), _force(option),
                _crosses(analysis, tooth, made, option.approach), partner, further, beyond,
            )
        )
        # fmt: on
    return tuple(parts)


def _every_way(analysis: "CaseAnalysis", tooth: int, result: DecisionResult) -> list[OptionResult]:
    """The ranked options; one that needs its neighbour also through the other embrasure of its tooth."""
    catalogue = analysis.engine.knowledge.catalogue.options["retainer"]
    found: list[OptionResult] = []
    for option in result.ranked:
        found.append(option)
        if "partner" in catalogue[option.option].parts and option.approach is not None:
            through = opposite(option.approach)
            if analysis.facts.touching(tooth, through) is not None:
                examination = analysis.examine(Decision("retainer", tooth))
                other = examination.seen_from(option.option, through)
                found += [other] if other is not None else []
    return found


def bears_nothing(analysis: "CaseAnalysis", tooth: int) -> bool:
    """Whether a recorded finding (mobility 3, untreated disease) bars every part from a tooth."""
    if tooth not in analysis.facts.surveyed:
        return False
    chosen = analysis.examine(Decision("retainer", tooth)).chosen
    return all(judged.status == "excluded" for name, judged in chosen.items() if name != "none")


def _add_advised_against(
    analysis: "CaseAnalysis",
    results: Mapping[Decision, DecisionResult],
    retainers: dict[int, tuple[Part, ...]],
) -> None:
    lacking = [
        side
        for side in ("right", "left")
        if not any(p.retentive for t, parts in retainers.items() if side_of(t) == side for p in parts)
    ]
    ends = {tooth for space in analysis.facts.spaces for tooth in space.borders}
    for decision, result in results.items():
        tooth = decision.tooth
        if decision.kind != "retainer":
            continue
        unrested = tooth in ends and not any(part.rested for part in retainers[tooth])
        if unrested or side_of(tooth) in lacking:
            extra = _candidates(analysis, tooth, result, further=False, statuses=("advised_against",))
            retainers[tooth] += tuple(part for part in extra if part.retentive or (unrested and part.rested))


def _beside_extension(analysis: "CaseAnalysis", tooth: int) -> bool:
    spaces = [analysis.facts.space_beside(tooth, side) for side in analysis.facts.sides(tooth)]
    return any(space is not None and space.support == "extension" for space in spaces)


def _force(option: OptionResult) -> float | None:
    force = option.facts.get("arm.force_n")
    if isinstance(force, (int, float)):
        return float(force)
    if isinstance(force, list) and force[0] and force[1]:
        return float((force[0] * force[1]) ** 0.5)
    return None


def _crosses(analysis: "CaseAnalysis", tooth: int, option: Option, approach: str | None) -> tuple[str, ...]:
    """The proximal sides, with a standing neighbour, over which metal passes to the facial.

    An arm that starts near or far leaves its body at that end of the tooth; where a neighbour stands there, it
    passes through the embrasure. A bar comes from below and crosses none.
    """
    if approach is None or option.arm is None or "nothing_facial" in option.parts:
        return ()
    through = {"near": approach, "far": opposite(approach)}.get(option.arm.origin)
    return (through,) if through and analysis.facts.touching(tooth, through) else ()


def _further_teeth(analysis: "CaseAnalysis", retainers: Mapping[int, tuple[Part, ...]]) -> list[int]:
    """Teeth to draw in on a side that offers too little, and the partners through an embrasure there.

    The molars and premolars nearest to the first molar come first; a third molar only where nothing else stands.
    """
    facts = analysis.facts
    offers, drawn = figures()["offers_wanted"], figures()["further_tooth"]
    restored = {side_of(tooth) for space in facts.spaces for tooth in space.teeth}
    found: list[int] = []
    for side in ("right", "left"):
        here = {tooth: parts for tooth, parts in retainers.items() if side_of(tooth) == side}
        holding = [tooth for tooth, parts in here.items() if any(p.retentive for p in parts)]
        enough = offers["side_without_space" if side not in restored else "other_side"]
        if facts.classification.number == "IV":
            enough = offers["class_iv"]
        wanted = {
            part.partner: None
            for tooth, parts in here.items()
            for part in parts
            if part.partner is not None and part.partner not in retainers and not facts.sides(tooth)
        }
        if len(holding) < enough:
            free = [
                t for t in facts.standing if side_of(t) == side and t not in retainers and position(t) >= 4
            ]
            free.sort(key=lambda t: (position(t) == 8, abs(position(t) - 6), -position(t)))
            wanted.update(dict.fromkeys(free))
        found += list(wanted)[: int(drawn["each_side"])]
    return sorted(found)


def _matching(analysis: "CaseAnalysis", teeth: list[int]) -> tuple[tuple[int, int], ...]:
    """Teeth of the right side with the tooth of the left that should carry the same kind of retainer."""
    from recommender.domain.dentition import mirror
    from recommender.facts.axis import terminal_pair

    # A tooth beside an extension and one that is not are held differently by right.
    pairs = {
        tuple(sorted((t, mirror(t))))
        for t in teeth
        if mirror(t) in teeth and _beside_extension(analysis, t) == _beside_extension(analysis, mirror(t))
    }
    ends = terminal_pair(analysis.facts.classification, analysis.facts.standing)
    if analysis.facts.classification.number == "I" and ends and all(t in teeth for t in ends):
        matched = {tooth for pair in pairs for tooth in pair}
        if not matched & set(ends):
            pairs.add(tuple(sorted(ends)))
    return tuple(sorted((pair[0], pair[1]) for pair in pairs))


def chosen_seats(analysis: "CaseAnalysis", seats: tuple[Seat, ...]) -> tuple[Seat, ...]:
    """The seats that a framework takes: the best on each side for Class I and IV, the best one for Class II.

    For Class II the seat lies on the side away from the extension, where the lever is longest.
    """
    number = analysis.facts.classification.number
    if not seats:
        return ()
    if number == "II":
        return (seats[0],)
    best: dict[str, Seat] = {}
    for seat in seats:
        best.setdefault(side_of(seat.tooth), seat)
    return tuple(best[side] for side in ("right", "left") if side in best)


def frame_alloy(analysis: "CaseAnalysis") -> tuple[str | None, dict[str, Statement]]:
    """The alloy of the frame: the prescribed one, else the first that no rule blocks; and what blocks the others."""
    prescription = analysis.case.prescription
    order = list(figures()["frame_alloys"])
    if prescription and prescription.alloy in [*order, "nickel_chromium"]:
        order.insert(0, prescription.alloy)
    blocks: dict[str, Statement] = {}
    for alloy in order:
        scope = framework_scope(analysis, {"framework.alloy": alloy})
        held = [
            rule
            for rule in analysis.engine.rule_set("framework").rules
            if rule.effect == "blocks" and "framework.alloy" in rule.when.facts and rule.when.evaluate(scope)
        ]
        if not held:
            return alloy, blocks
        blocks[alloy] = held[0].statement
    return None, blocks


def framework_scope(analysis: "CaseAnalysis", values: Mapping[str, bool | int | float | str]) -> Scope:
    """The scope of framework rules: the case, and facts of the framework in hand."""
    layer = {name: known(value, "design") for name, value in values.items()}
    return analysis.facts.case_scope.extended(layer)
