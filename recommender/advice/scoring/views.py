"""From where a decision is looked at: the approach, the facts seen from there, the facts of each option."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from recommender.advice.model import Decision
from recommender.domain.options import Option
from recommender.domain.vocabulary import connectors
from recommender.facts.case_fields import Layer
from recommender.facts.derive import CaseFacts
from recommender.facts.option import connector_layer, replacement_layer, rest_layer, retainer_layer
from recommender.facts.values import Scope


@dataclass(frozen=True, slots=True)
class View:
    """One way of looking at a decision: the approach, its scope, and the layer of each option seen so."""

    approach: str | None
    scope: Scope
    layers: Mapping[str, Layer]


def views_of(
    catalogue: Mapping[str, Option], facts: CaseFacts, decision: Decision, given: str | None
) -> list[View]:
    """The approaches from which a decision is judged, with the layers of the options of the catalogue in each.

    ``given`` is the assembly for which rests are judged.
    """
    if decision.kind == "connector":
        allowed = connectors(facts.case.arch)
        layers = {o.id: connector_layer(facts, o) for o in catalogue.values() if o.id in allowed}
        return [View(None, facts.case_scope, layers)]
    if decision.kind == "replacement":
        tooth = decision.tooth
        return [
            View(
                None,
                facts.space(tooth),
                {o.id: replacement_layer(facts, tooth, o) for o in catalogue.values()},
            )
        ]
    if decision.kind == "rest":
        return _rest_views(facts, decision.tooth, given or "none", catalogue.values())
    return _retainer_views(facts, decision.tooth, catalogue.values())


def _retainer_views(facts: CaseFacts, tooth: int, options: Iterable[Option]) -> list[View]:
    views: list[View] = []
    beside = facts.approaches(tooth)
    for side in ("mesial", "distal"):
        scope = facts.toward(tooth, side)
        # An embrasure clasp is judged from the embrasure that it passes through, not from the space.
        through = bool(scope.fact("derived.near_neighbour").value)
        layers = {
            option.id: retainer_layer(facts, tooth, side, option)
            for option in options
            if (through if _through_embrasure(option) else side in beside)
        }
        if layers:
            views.append(View(side, scope, layers))
    return _complete(views, facts, tooth, options)


def _rest_views(facts: CaseFacts, tooth: int, assembly: str, options: Iterable[Option]) -> list[View]:
    return [
        View(
            side,
            facts.toward(tooth, side),
            {o.id: rest_layer(facts, tooth, side, o, assembly) for o in options},
        )
        for side in facts.approaches(tooth)
    ]


def _through_embrasure(option: Option) -> bool:
    return option.extra.get("near_without_space") == "embrasure"


def _complete(views: list[View], facts: CaseFacts, tooth: int, options: Iterable[Option]) -> list[View]:
    """Every option must be judged somewhere: one that fits no approach is judged from the first."""
    seen = {identifier for view in views for identifier in view.layers}
    side = facts.approaches(tooth)[0]
    left = [option for option in options if option.id not in seen]
    if not left:
        return views
    extra = {option.id: retainer_layer(facts, tooth, side, option) for option in left}
    merged = [
        View(view.approach, view.scope, {**view.layers, **extra}) if view.approach == side else view
        for view in views
    ]
    if not any(view.approach == side for view in views):
        merged.append(View(side, facts.toward(tooth, side), extra))
    return merged


def scope_of(facts: CaseFacts, decision: Decision) -> Scope:
    """The facts by which criteria are weighed and precedents compared: the same for every approach."""
    if decision.kind == "connector":
        return facts.case_scope
    if decision.kind == "replacement":
        return facts.space(decision.tooth)
    return facts.toward(decision.tooth, main_side(facts, decision) or "mesial")


def main_side(facts: CaseFacts, decision: Decision) -> str | None:
    """The side from which a tooth's situation is compared with precedents.

    It depends on the dentition alone (an extension before a bounded space, then the longer space, then mesial),
    so that recording a measurement never changes which precedents are asked.
    """
    if decision.kind not in ("retainer", "rest"):
        return None

    def order(side: str) -> tuple[int, int, int]:
        space = facts.space_beside(decision.tooth, side)
        extension = 0 if space and space.support == "extension" else 1
        return extension, -len(space.teeth) if space else 0, 0 if side == "mesial" else 1

    return min(facts.approaches(decision.tooth), key=order)
