"""What the dentist has to do before the impression, for one framework and nothing beside it, in the order in
which it is done.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace

from recommender.advice.frameworks.parts import Choice
from recommender.advice.frameworks.seats import sites_of
from recommender.advice.model import OptionResult, PreparationStep


def preparation_of(choice: Choice, rests: Mapping[int, str]) -> tuple[PreparationStep, ...]:
    """The steps of the parts chosen, and a seat for every rest that has none yet or too little room over it."""
    steps: dict[tuple[int, str, str], PreparationStep] = {}
    for step in _of_parts(choice):
        key = (step.tooth, step.surface, step.action)
        before = steps.get(key)
        # What one part asks for as routine and another cannot do without is not routine.
        steps[key] = step if before is None or before.routine else before
    stock = choice.stock
    for tooth, rest in rests.items():
        site, part = stock.teeth[tooth], choice.retainers.get(tooth)
        for place in sites_of(rest, part):
            room = site.rooms[place].high
            tight = room is not None and room < stock.figures.room.least_mm
            if tight or (rest != "onlay" and (site.seats is None or place not in site.seats)):
                step = PreparationStep(
                    tooth, place, "rest_seat", True, site.leave["rest_seat"], (f"rests.{tooth}.{rest}",)
                )
                steps.setdefault((tooth, place, "rest_seat"), step)
    for part in choice.retainers.values():
        for side in part.build.cuts:
            path = f"retainers.{part.tooth}.{part.option.id}"
            leave = stock.teeth[part.tooth].leave["rest_seat"]
            steps[part.tooth, side, "rest_seat"] = PreparationStep(
                part.tooth, side, "rest_seat", False, leave, (path,)
            )
    order: list[str] = [*stock.figures.preparation_order]
    return tuple(sorted(steps.values(), key=lambda s: (order.index(s.action), s.tooth, s.surface)))


def _of_parts(choice: Choice) -> Iterable[PreparationStep]:
    for part in choice.retainers.values():
        if part.option.id == "none":
            continue
        for step in _asked(part.result):
            if step.action != "create_undercut":
                yield step
            elif part.build.made and part.build.zone is not None:
                # the undercut is made where the tip will lie
                yield replace(step, tooth=part.grips, surface=part.build.zone)
    for result in (choice.connector_result, *choice.stock.replacements.values()):
        yield from _asked(result)


def _asked(result: OptionResult) -> Iterable[PreparationStep]:
    return (step for step in (*result.unlocked_by, *result.preparation) if step.action != "rest_seat")
