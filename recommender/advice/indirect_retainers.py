"""Seats for indirect retainers: every tooth on the far side of the axis that could bear one, ranked."""

import math

from recommender.advice.decision import Engine
from recommender.advice.model import STATUS_ORDER, Seat
from recommender.advice.scoring.judge import judge
from recommender.advice.scoring.score import criterion_weights
from recommender.domain.dentition import tooth_type
from recommender.facts.axis import terminal_pair
from recommender.facts.derive import CaseFacts
from recommender.facts.option import seat_layer


def indirect_seats(engine: Engine, facts: CaseFacts) -> tuple[Seat, ...]:
    """Usable seats, best first; empty where the class wants none or no tooth lies beyond the axis.

    Drawn for the provisional axis through the terminal abutments; a framework works its own axis out anew.
    """
    pair = terminal_pair(facts.classification, facts.standing)
    if pair is None:
        return ()
    catalogue = engine.knowledge.catalogue.options["indirect_retainer"]
    figures = engine.knowledge.figures.frameworks
    sites: dict[str, list[str]] = {kind: [*rests] for kind, rests in figures.indirect_seats.items()}
    rules = engine.rule_set("indirect_retainer")
    found: list[tuple[int, Seat]] = []
    for tooth in facts.standing:
        if tooth in pair:
            continue
        side = facts.approaches(tooth)[0]
        scope = facts.toward(tooth, side)
        weights = criterion_weights(engine.knowledge.criteria, "indirect_retainer", scope)
        layers = {
            rest: seat_layer(facts, tooth, rest, pair)
            for rest in sites[tooth_type(tooth)]
            if rest in catalogue
        }
        layers = {rest: layer for rest, layer in layers.items() if (layer["lever.arm_mm"].high or 0.0) > 0}
        for rest, outcome in rules.evaluate(scope, layers).items():
            judged = judge(
                catalogue[rest], side, scope.extended(layers[rest]), outcome, weights, tooth,
                facts.surveyed.get(tooth), f"indirect_retainers.{tooth}.{rest}",
            )  # fmt: skip
            if judged.status in ("excluded", "advised_against"):
                continue
            reasons = tuple(rule.statement for rule in judged.fired if rule.points)
            lever = layers[rest]["lever.arm_mm"]
            seat = Seat(
                tooth, rest, _middle(lever.low, lever.high), judged.rules.value, reasons, judged.provisional
            )
            found.append((STATUS_ORDER.index(judged.status), seat))
    found.sort(
        key=lambda item: (
            item[0],
            -round(item[1].score, 9),
            -round(item[1].lever_mm, 9),
            item[1].tooth,
            item[1].rest,
        )
    )
    return tuple(seat for _, seat in found)


def _middle(low: float | None, high: float | None) -> float:
    """The lever at the mean arch size, which the bounds straddle evenly in ratio."""
    return math.sqrt((low or 0.0) * (high or 0.0))
