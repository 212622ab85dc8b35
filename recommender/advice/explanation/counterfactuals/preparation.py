"""The smallest preparation that opens an option or brings it to the front, with its price in enamel and visits.

A preparation is simulated: its effects (``shared/preparation_costs.yaml``) are written into a copy of the case,
and the decision is worked out again.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from recommender.advice.explanation.counterfactuals.probe import Prober, Standing
from recommender.advice.explanation.counterfactuals.values import shape_of
from recommender.advice.model import OptionResult, PreparationStep, Status
from recommender.advice.preparations import surface_name
from recommender.domain.case import Case
from recommender.domain.fields import get_field, with_field
from recommender.domain.findings import Abutment, Undercuts
from recommender.domain.measures import Interval, expected
from recommender.domain.options import Option
from recommender.domain.vocabulary import ZONES
from recommender.knowledge.figures.preparation import Cost, Effect, PreparationFigures

_FACIAL = ("mesiofacial", "midfacial", "distofacial")
_LINGUAL = ("mesiolingual", "midlingual", "distolingual")
_SITES = ("mesial", "distal", "cingulum", "incisal")


@dataclass(frozen=True, slots=True)
class Price:
    """What preparation costs: the depths cut added up (mm), and visits beyond those for impressions."""

    enamel_mm: float
    visits: int

    @property
    def order(self) -> tuple[int, float]:
        """Sort key: visits, then enamel."""
        return self.visits, round(self.enamel_mm, 6)


@dataclass(frozen=True, slots=True)
class Plan:
    """A preparation, and how an option stands after it. ``goal``: ``open`` or ``lead``.

    ``reached`` is whether the goal is met by re-running with the preparation done. ``permitted``: ``False`` when
    the dentist has ruled a step out, ``None`` when a permission was not recorded.
    """

    option: str
    goal: str
    reached: bool
    steps: tuple[PreparationStep, ...]
    price: Price
    status: Status
    score: float
    leader: str
    permitted: bool | None


def apply_steps(
    case: Case,
    steps: Iterable[PreparationStep],
    option: Option | None,
    near: str | None,
    figures: PreparationFigures,
) -> Case:
    """The case as it would be recorded once the steps are done for this option, approached from ``near``."""
    for step in steps:
        for effect in _effects(step, figures):
            case = _applied(case, step, effect, option, near, figures.usual_undercut_mm)
    return case


def _effects(step: PreparationStep, figures: PreparationFigures) -> Iterator[Effect]:
    kinds = {kind for kind, members in figures.surfaces.items() if step.surface in members}
    cost: Cost = getattr(figures.actions, step.action)
    yield from (effect for effect in cost.effects if kinds & set(effect.at))


def _applied(
    case: Case,
    step: PreparationStep,
    effect: Effect,
    option: Option | None,
    near: str | None,
    usual_mm: float,
) -> Case:
    path = f"abutments[{step.tooth}]." + effect.field.format(surface=step.surface)
    case = _opened(case, path)
    now: Any = get_field(case, path)
    now = expected(now) if isinstance(now, Interval) else now
    if effect.add is not None:
        word = effect.add.format(surface=step.surface)
        return case if word in (now or ()) else with_field(case, path, [*(now or ()), word])
    if effect.at_least is not None:
        return with_field(case, path, max(effect.at_least, float(now or 0.0)))
    usual = option.tip.usual_mm if option is not None and option.tip is not None else usual_mm
    if effect.spare is not None:
        # Too deep for the arm that engages there: taken down to what it wants; otherwise in the way, and gone.
        tip = option.tip if option is not None else None
        engaged = tip is not None and any(surface_name(zone, near) == step.surface for zone in tip.zones)
        too_deep = engaged and tip is not None and float(now or 0.0) > tip.most_mm
        return with_field(case, path, usual if too_deep else 0.0)
    return with_field(case, path, usual if effect.set == "usual" else effect.set)


def _opened(case: Case, path: str) -> Case:
    """One word or figure for a whole surface written out by zone or site, so that one of them can change."""
    above, _, last = path.rpartition(".")
    held = get_field(case, above)
    if held is None or not isinstance(held, (str, int, float, Interval)):
        return case
    shape = shape_of(above, held)
    if shape is None or above.count(".") == 0:
        return case
    zones = _SITES if last in _SITES else _LINGUAL if last.endswith("lingual") else _FACIAL
    tooth = next(a for a in case.abutments or () if above.startswith(f"abutments[{a.tooth}]."))
    name = above.rpartition(".")[2]
    entry = Abutment.model_validate({**tooth.model_dump(exclude_none=True), name: dict.fromkeys(zones, held)})
    others = [entry if a.tooth == tooth.tooth else a for a in case.abutments or ()]
    return case.model_copy(update={"abutments": others})


def price_of(
    case: Case,
    steps: Sequence[PreparationStep],
    option: Option | None,
    near: str | None,
    figures: PreparationFigures,
) -> Price:
    """Enamel and visits of the steps together; steps that can share a visit are done in one."""
    enamel, visits, shared_visits = 0.0, 0, 0
    for step in steps:
        cost: Cost = getattr(figures.actions, step.action)
        if cost.enamel_mm == "change":
            enamel += _changed_undercut(case, step, option, near, figures)
        else:
            enamel += cost.enamel_mm
        if cost.shared:
            shared_visits = max(shared_visits, cost.visits)
        else:
            visits += cost.visits
    return Price(enamel, visits + shared_visits)


def _changed_undercut(
    case: Case, step: PreparationStep, option: Option | None, near: str | None, figures: PreparationFigures
) -> float:
    def depths(of: Case) -> dict[str, float]:
        held = get_field(of, f"abutments[{step.tooth}].undercuts_mm")
        if not isinstance(held, Undercuts):
            return {}
        return {zone: expected(found) for zone in ZONES if (found := getattr(held, zone)) is not None}

    before, after = depths(case), depths(apply_steps(case, [step], option, near, figures))
    return max((abs(after[zone] - before.get(zone, 0.0)) for zone in after), default=0.0)


def plans(prober: Prober, result: OptionResult) -> tuple[Plan, ...]:
    """The cheapest preparation after which the option is open, and that after which it leads.

    A goal that is met already gives no plan. Where no preparation of the option's own reaches a goal, the plan
    with everything done says how far that gets (``reached`` false); without any preparation there is none.
    """
    option = prober.analysis.engine.knowledge.catalogue.options[prober.decision.kind][result.option]
    most = prober.preparation.search
    own = _own_steps(result, most.looked_at)
    safety = any(block.kind == "safety" for block in result.blocked_by)
    if not own or safety:
        return ()
    goals = [("open", result.status != "open"), ("lead", result.rank != 1)]
    sets = [steps for size in range(1, min(most.steps, len(own)) + 1) for steps in combinations(own, size)]
    if len(own) > most.steps:
        sets.append(own)
    priced = sorted(
        (
            (price_of(prober.case, steps, option, result.approach, prober.preparation), steps)
            for steps in sets
        ),
        key=lambda item: (item[0].order, len(item[1]), [(s.surface, s.action) for s in item[1]]),
    )
    found: list[Plan] = []
    for goal, open_question in goals:
        if open_question:
            found += _cheapest(prober, result, option, goal, priced[: most.runs])
    return tuple(found)


def _own_steps(result: OptionResult, most: int) -> tuple[PreparationStep, ...]:
    """Every preparation that a block of the option names, and the routine work that it still needs."""
    steps = [step for block in result.blocked_by for step in block.unlocked_by]
    steps += [*result.unlocked_by, *result.preparation]
    unique: dict[tuple[int, str, str], PreparationStep] = {}
    for step in steps:
        unique.setdefault((step.tooth, step.surface, step.action), step)
    return tuple(unique.values())[:most]


def _cheapest(
    prober: Prober,
    result: OptionResult,
    option: Option,
    goal: str,
    priced: Sequence[tuple[Price, tuple[PreparationStep, ...]]],
) -> list[Plan]:
    last: Plan | None = None
    for price, steps in priced:
        there = _after(prober, steps, option, result.approach)
        if there is None:
            continue
        reached = there.leader == option.id if goal == "lead" else there.statuses[option.id] == "open"
        asked = [step.permitted for step in steps]
        permitted = False if False in asked else None if None in asked else True
        last = Plan(
            option.id, goal, reached, steps, price, there.statuses[option.id], there.scores[option.id],
            there.leader, permitted,
        )  # fmt: skip
        if reached:
            return [last]
    # Nothing reached it: what everything together comes to.
    return [last] if last is not None and goal == "open" else []


def _after(
    prober: Prober, steps: tuple[PreparationStep, ...], option: Option, near: str | None
) -> Standing | None:
    case = apply_steps(prober.case, steps, option, near, prober.preparation)
    return prober.once(case, f"{option.id}: {sorted((s.tooth, s.surface, s.action) for s in steps)}")
