"""The rests of a tooth for another assembly than one for which they are worked out already.

Assemblies differ for a rest only by ``rest.assembly``: an option whose rules answer alike under both is judged alike.
"""

from collections.abc import Iterable
from dataclasses import replace
from functools import cached_property

from recommender.advice.decision import DecisionAnalysis
from recommender.advice.scoring.judge import Judged, judge
from recommender.advice.scoring.score import Weights
from recommender.advice.scoring.views import View
from recommender.facts.case_fields import Layer
from recommender.facts.values import known
from recommender.knowledge.comparisons import Get
from recommender.knowledge.evidence import Prepared
from recommender.knowledge.model import Rule

_ASSEMBLY = "rest.assembly"


class OtherRests(DecisionAnalysis):
    """As ``DecisionAnalysis``, taking over from ``first`` what does not look at the assembly."""

    def __init__(self, first: DecisionAnalysis, given: str) -> None:
        super().__init__(first.engine, first.facts, first.decision, given)
        self._first = first

    @cached_property
    def weights(self) -> Weights:
        return self._first.weights

    @cached_property
    def views(self) -> list[View]:
        given = known(self.given or "none", "missing")
        return [
            View(
                view.approach,
                view.scope,
                {name: {**layer, _ASSEMBLY: given} for name, layer in view.layers.items()},
            )
            for view in self._first.views
        ]

    @cached_property
    def judged(self) -> dict[str, list[Judged]]:
        rules = self.engine.rule_set(self.decision.kind)
        found: dict[str, list[Judged]] = {}
        for view in self.views:
            prepared = rules.prepare(view.scope)
            read: dict[str, tuple[str, ...]] = {}
            for identifier, layer in view.layers.items():
                was = next(each for each in self._first.judged[identifier] if each.approach == view.approach)
                if self._alike(was, rules.reading(_ASSEMBLY, identifier), {**prepared.flat, **layer}.get):
                    told = replace(was, scope=view.scope.extended(layer))
                else:
                    told = self._anew(was, view, layer, prepared, read)
                found.setdefault(identifier, []).append(told)
        return found

    @staticmethod
    def _alike(was: Judged, rules: Iterable[Rule], get: Get) -> bool:
        """Whether these rules answer as they did."""
        fired, undecided = set(map(id, was.fired)), set(map(id, was.undecided))
        for rule in rules:
            told = True if id(rule) in fired else None if id(rule) in undecided else False
            if rule.when.run(get, was.scope.groups) is not told:
                return False
        return True

    def _anew(
        self, was: Judged, view: View, layer: Layer, prepared: Prepared, read: dict[str, tuple[str, ...]]
    ) -> Judged:
        identifier, tooth = was.option.id, self.decision.tooth
        return judge(
            was.option, view.approach, view.scope.extended(layer), prepared.option(identifier, layer), self.weights,
            tooth, self.facts.surveyed.get(tooth), f"{self.decision.path}.{identifier}", read,
        )  # fmt: skip
