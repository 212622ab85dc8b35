"""The rests of one tooth in order, by the rules alone, for any assembly that might stand on it.

Assemblies differ for a rest only by ``rest.assembly``: what does not look at it is found out once for the tooth, and
an option is judged once for each answer of the rules that do.
"""

from collections.abc import Mapping
from typing import TYPE_CHECKING

from recommender.advice.model import STATUS_ORDER, USABLE, Decision, Status
from recommender.advice.scoring.judge import judge
from recommender.advice.scoring.score import criterion_weights
from recommender.advice.scoring.views import View, scope_of, views_of
from recommender.facts.derive import CaseFacts
from recommender.facts.values import Fact, known
from recommender.knowledge.comparisons import Truth
from recommender.knowledge.evidence import Outcome, flattened
from recommender.knowledge.model import Rule

if TYPE_CHECKING:
    from recommender.advice.decision import Engine

_ASSEMBLY = "rest.assembly"


class RestOrder:
    """One tooth of one case."""

    def __init__(self, engine: "Engine", facts: CaseFacts, tooth: int) -> None:
        decision = Decision("rest", tooth)
        self.tooth = tooth
        self._rules = engine.rule_set("rest")
        self._catalogue = engine.knowledge.catalogue.options["rest"]
        self._abutment = facts.surveyed.get(tooth)
        self._weights = criterion_weights(engine.knowledge.criteria, "rest", scope_of(facts, decision))
        self._ways: list[_Way] = []
        for view in views_of(self._catalogue, facts, decision, None):
            flat, shared = flattened(view.scope), dict[str, Truth]()
            self._ways += [_Way(self, view, flat, shared, one, layer) for one, layer in view.layers.items()]

    def usable(self, assembly: str) -> tuple[str, ...]:
        """Rests that are open, or open after preparation, best first."""
        given = known(assembly, "missing")
        best: dict[str, tuple[int, float, str]] = {}
        for way in self._ways:
            status, value = way.judged(given)
            seen = (STATUS_ORDER.index(status), -value, way.view.approach or "")
            best[way.option] = min(seen, best.get(way.option, seen))
        order = sorted(best, key=lambda rest: (best[rest][0], best[rest][1], rest))
        return tuple(rest for rest in order if rest != "none" and STATUS_ORDER[best[rest][0]] in USABLE)


class _Way:
    """One rest seen from one approach."""

    def __init__(
        self,
        order: RestOrder,
        view: View,
        flat: Mapping[str, Fact],
        shared: dict[str, Truth],
        option: str,
        layer: Mapping[str, Fact],
    ) -> None:
        self.order, self.view, self.option, self.layer = order, view, option, layer
        self._facts = {**flat, **layer}
        # None: it looks at the assembly, and is asked for each.
        self._settled: list[tuple[Rule, Truth] | None] = []
        self._asked: list[Rule] = []
        for rule in (order._rules.rules[place] for place in order._rules.naming(option)):
            if _ASSEMBLY in rule.when.facts:
                self._asked.append(rule)
                self._settled.append(None)
            elif rule.when.own_facts.isdisjoint(layer):
                if rule.id not in shared:
                    shared[rule.id] = rule.when.run(flat.get, view.scope.groups)
                self._settled.append((rule, shared[rule.id]))
            else:
                self._settled.append((rule, rule.when.run(self._facts.get, view.scope.groups)))
        self._known: dict[tuple[Truth, ...], tuple[Status, float]] = {}

    def judged(self, assembly: Fact) -> tuple[Status, float]:
        """Status and rule score under an assembly."""
        self._facts[_ASSEMBLY] = assembly
        groups = self.view.scope.groups
        answers = tuple(rule.when.run(self._facts.get, groups) for rule in self._asked)
        if answers not in self._known:
            scope = self.view.scope.extended({**self.layer, _ASSEMBLY: assembly})
            asked = iter(zip(self._asked, answers, strict=True))
            told = [one if one is not None else next(asked) for one in self._settled]
            outcome = Outcome(
                tuple(rule for rule, truth in told if truth),
                tuple(rule for rule, truth in told if truth is None),
            )
            order = self.order
            found = judge(
                order._catalogue[self.option], self.view.approach, scope, outcome, order._weights, order.tooth,
                order._abutment, f"rests.{order.tooth}.{self.option}",
            )  # fmt: skip
            self._known[answers] = found.status, found.rules.value
        return self._known[answers]
