"""Options judged by hand, from the catalogue's starts and the rules that fire, without precedents (w = 0)."""

from collections.abc import Mapping
from math import fsum
from typing import Any

from recommender.domain.case import Case
from recommender.domain.vocabulary import REPLACEMENTS, connectors
from recommender.facts.derive import CaseFacts, derive
from recommender.facts.option import connector_layer, replacement_layer
from recommender.facts.values import Scope
from recommender.knowledge.in_force import knowledge


class Judged:
    """One option worked out by hand: worst block, R, and the rules that fired."""

    def __init__(self, scope: Scope, kind: str, identifier: str) -> None:
        data = knowledge()
        self.fired = [
            rule
            for rule in data.rules
            if rule.decision == kind
            and rule.stage == "option"
            and (not rule.options or identifier in rule.options)
            and rule.when.evaluate(scope) is True
        ]
        blocks = {rule.block for rule in self.fired if rule.effect == "blocks"}
        self.status = 2 if blocks & {"impossible", "safety"} else 1 if blocks else 0
        starts = data.catalogue.option(kind, identifier).starts
        raw = dict(data.criteria.base[kind])
        for shift in data.criteria.shifts:
            if raw.get(shift.criterion) and shift.when.evaluate(scope) is True:
                raw[shift.criterion] += shift.add
        raw = {name: max(0.0, weight) for name, weight in raw.items()}
        self.score = fsum(
            weight * min(100.0, max(0.0, starts[name] + self._points(name))) for name, weight in raw.items()
        ) / fsum(raw.values())

    def _points(self, criterion: str) -> float:
        return fsum(rule.points for rule in self.fired if rule.criterion == criterion)

    def names(self) -> set[str]:
        return {rule.id for rule in self.fired}


def case_of(arch: str, missing: list[int], **more: Any) -> CaseFacts:
    return derive(Case.model_validate({"format": 1, "id": "t", "arch": arch, "missing": missing, **more}))


def judged_connectors(facts: CaseFacts) -> dict[str, Judged]:
    catalogue = knowledge().catalogue
    return {
        name: Judged(
            facts.case_scope.extended(connector_layer(facts, catalogue.option("connector", name))),
            "connector",
            name,
        )
        for name in connectors(facts.case.arch)
    }


def judged_replacements(facts: CaseFacts, tooth: int) -> dict[str, Judged]:
    catalogue = knowledge().catalogue
    return {
        name: Judged(
            facts.space(tooth).extended(
                replacement_layer(facts, tooth, catalogue.option("replacement", name))
            ),
            "replacement",
            name,
        )
        for name in REPLACEMENTS
    }


def ranked(judged: Mapping[str, Judged]) -> list[str]:
    return sorted(judged, key=lambda name: (judged[name].status, -judged[name].score, name))


def one_space(teeth: list[int], **fields: Any) -> list[dict[str, Any]]:
    return [{"teeth": teeth, **fields}]
