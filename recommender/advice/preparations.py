"""From a preparation told near and far to a tooth, a surface and whether the dentist permits it."""

from collections.abc import Iterable, Mapping, Sequence

from recommender.advice.model import DecisionResult, PreparationStep
from recommender.domain.dentition import opposite
from recommender.domain.findings import Abutment
from recommender.facts.option import anatomical
from recommender.facts.values import Fact
from recommender.knowledge.model import PreparationTemplate

_SURFACES = ("facial", "lingual")


def permitted(abutment: Abutment | None, action: str) -> bool | None:
    """Whether the dentist will prepare this tooth in this way; ``None`` where that was not recorded.

    ``preparable: false`` forbids every action; a ``permitted`` list allows exactly what it names.
    """
    if abutment is None:
        return None
    if abutment.preparable is False:
        return False
    if abutment.permitted is not None:
        return action in abutment.permitted
    return abutment.preparable


def surface_name(template: str, near: str | None, tip: Sequence[str] = ()) -> str:
    """The anatomical surface of a near/far word, e.g. ``far_facial`` seen from distal is ``mesiofacial``.

    ``tip`` stands for the zone that the tip engages: the first of ``tip``.
    """
    if template == "tip":
        return surface_name(tip[0], near) if tip else "facial"
    if near is None:
        return template
    word, _, surface = template.partition("_")
    if word not in ("near", "mid", "far"):
        return template
    if surface in ("", "occlusal"):
        return near if word == "near" else opposite(near)
    return anatomical(template, near)


def resolve(
    templates: Sequence[PreparationTemplate],
    tooth: int,
    near: str | None,
    abutment: Abutment | None,
    tip: Sequence[str] = (),
    *,
    routine: bool = False,
    unlocks: tuple[str, ...] = (),
) -> tuple[PreparationStep, ...]:
    """The steps on one tooth, in the order given."""
    return tuple(
        PreparationStep(
            tooth,
            surface_name(template.surface, near, tip),
            template.action,
            routine,
            permitted(abutment, template.action),
            unlocks,
        )
        for template in templates
    )


def best_tip_zone(zones: Mapping[str, Fact]) -> tuple[str, ...]:
    """The tip zones, the deepest measured first: where an undercut is nearest to being enough."""
    return tuple(sorted(zones, key=lambda zone: -(zones[zone].low or 0.0)))


def union_of_preparation(results: Iterable[DecisionResult]) -> tuple[PreparationStep, ...]:
    """Every preparation that any option would need, each once, with all that it unlocks.

    What no preparation opens asks for none; what only the dentist's "no" closes is told, as the dentist may reconsider.
    """
    merged: dict[tuple[int, str, str], PreparationStep] = {}
    for result in results:
        for option in result.ranked:
            if option.status == "excluded" and not all(block.unlocked_by for block in option.blocked_by):
                continue
            needed = [*option.unlocked_by, *option.preparation]
            needed += [step for block in option.blocked_by for step in block.unlocked_by]
            for step in needed:
                key = (step.tooth, step.surface, step.action)
                before = merged.get(key)
                if before is None:
                    merged[key] = step
                else:
                    unlocks = tuple(dict.fromkeys((*before.unlocks, *step.unlocks)))
                    merged[key] = PreparationStep(
                        *key, before.routine and step.routine, before.permitted, unlocks
                    )
    return tuple(merged[key] for key in sorted(merged))
