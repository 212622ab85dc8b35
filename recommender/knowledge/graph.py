"""The concept graph: facts, conditions, rules, criteria, options, families, preparations and sources.

A ``networkx`` multi-digraph without any case in it. Node keys are ``(kind, name)``; edges are keyed by what
they say:

========================  =====================================================================
``reads``                 atom → fact
``part_of``               atom → condition, or atom → the group atom that it stands in
``fires_when``            rule or shift → condition
an effect                 rule → option (``favours``, ``discourages``, ``blocks``, ``prepares``, …)
``on_criterion``          rule → criterion; ``moves``: shift → criterion
``unlocked_by``           rule → preparation that removes its block; ``asks_for``: rule → routine preparation
``names``                 rule → family by which it named its options
``is_a``                  option → family, family → family above
``answers``               option or rule → decision; ``weighs``: decision → criterion
``cites``                 rule, shift or option → source
========================  =====================================================================
"""

from functools import lru_cache
from typing import TYPE_CHECKING, Any

from recommender.knowledge.atoms import Atom, walk
from recommender.knowledge.conditions import Condition
from recommender.knowledge.model import Knowledge, PreparationTemplate, Rule

if TYPE_CHECKING:
    import networkx as nx

    Graph = nx.MultiDiGraph[tuple[str, str]]

Node = tuple[str, str]
EFFECTS = ("favours", "discourages", "blocks", "prepares", "step", "caution", "question")


def option_node(decision: str, option: str) -> Node:
    return "option", f"{decision}/{option}"


def preparation_node(template: PreparationTemplate) -> Node:
    return "preparation", f"{template.action}/{template.surface}"


def citations(source: str) -> tuple[str, ...]:
    """The single sources of a source line, which parts them with a semicolon and a space."""
    return tuple(part.strip() for part in source.split("; ") if part.strip())


def options_of(knowledge: Knowledge, rule: Rule) -> list[Node]:
    """The options that a rule speaks of, as nodes; all of its decision where it names none."""
    known = knowledge.catalogue.options
    if not rule.options:
        return [option_node(rule.decision, name) for name in known.get(rule.decision, {})]
    if rule.decision in known:
        return [option_node(rule.decision, name) for name in rule.options]
    # a framework rule names options of other decisions
    return [
        option_node(decision, name) for decision in known for name in rule.options if name in known[decision]
    ]


def concept_graph(knowledge: Knowledge) -> "Graph":
    """The graph of all that the packaged data teaches. Read-only by agreement; built once per knowledge."""
    return _cached(id(knowledge), _Holder(knowledge))


class _Holder:
    """Keeps the knowledge alive beside its graph, and lets it be a cache key by identity."""

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Holder) and other.knowledge is self.knowledge

    def __hash__(self) -> int:
        return id(self.knowledge)


@lru_cache(maxsize=4)
def _cached(_: int, holder: _Holder) -> "Graph":
    return _Builder(holder.knowledge).graph


class _Builder:
    def __init__(self, knowledge: Knowledge) -> None:
        import networkx as nx

        self.knowledge = knowledge
        self.graph: Graph = nx.MultiDiGraph()
        self._facts()
        self._criteria()
        self._options()
        for rule in knowledge.rules:
            self._rule(rule)
        self._shifts()

    def node(self, kind: str, name: str, **about: Any) -> Node:
        key = (kind, name)
        self.graph.add_node(key, kind=kind, name=name, **about)
        return key

    def edge(self, start: Node, end: Node, says: str, **about: Any) -> None:
        self.graph.add_edge(start, end, key=says, type=says, **about)

    def _facts(self) -> None:
        for spec in self.knowledge.registry:
            self.node(
                "fact", spec.name, label=spec.label, scope=spec.scope, type=spec.type, unit=spec.unit,
                allowed=spec.values,
            )  # fmt: skip

    def _criteria(self) -> None:
        criteria = self.knowledge.criteria
        for name, label in criteria.labels.items():
            self.node("criterion", name, label=label, definition=criteria.definitions.get(name, ""))
        for decision, weights in criteria.base.items():
            here = self.node("decision", decision)
            for criterion, weight in weights.items():
                self.edge(here, ("criterion", criterion), "weighs", weight=float(weight))

    def _options(self) -> None:
        catalogue = self.knowledge.catalogue
        for family in catalogue.families.values():
            self.node("family", family.id, label=family.label, share=family.share, decision=family.decision)
        for family in catalogue.families.values():
            if family.is_a:
                self.edge(("family", family.id), ("family", family.is_a), "is_a")
        for decision, options in catalogue.options.items():
            self.node("decision", decision)
            for option in options.values():
                key = self.node(
                    *option_node(decision, option.id), label=option.label, definition=option.definition,
                    decision=decision, option=option.id, synonyms=option.synonyms,
                )  # fmt: skip
                self.edge(key, ("decision", decision), "answers")
                for name in option.families:
                    self.edge(key, ("family", name), "is_a")
                self._cite(key, option.source)

    def _cite(self, key: Node, source: str) -> None:
        for single in citations(source):
            self.edge(key, self.node("source", single), "cites")

    def _atom(self, atom: Atom) -> Node:
        key = self.node("atom", atom.text)
        if atom.inner is None:
            for name in atom.facts:
                self.edge(key, ("fact", name), "reads")
        return key

    def _condition(self, condition: Condition) -> Node:
        key = self.node("condition", condition.text)
        holder = key
        for atom, group in walk(condition.root):
            here = self._atom(atom)
            self.edge(here, holder if group else key, "part_of")
            if atom.inner is not None:
                holder = here
        return key

    def _rule(self, rule: Rule) -> None:
        key = self.node(
            "rule", rule.id, stage=rule.stage, decision=rule.decision, effect=rule.effect, why=rule.why,
            points=rule.points, criterion=rule.criterion, source=rule.source, found=rule.found,
            block=rule.block or "", disputed=rule.disputed or "", place=rule.place, condition=rule.when.text,
        )  # fmt: skip
        self.edge(key, self._condition(rule.when), "fires_when")
        self.edge(key, self.node("decision", rule.decision), "answers")
        for option in options_of(self.knowledge, rule):
            self.edge(key, option, rule.effect, points=rule.points, named=bool(rule.options))
        for family in rule.families:
            self.edge(key, ("family", family), "names")
        if rule.criterion:
            self.edge(key, ("criterion", rule.criterion), "on_criterion", points=rule.points)
        for template in rule.unlocked_by:
            self.edge(key, self._preparation(template), "unlocked_by")
        if rule.preparation is not None:
            self.edge(key, self._preparation(rule.preparation), "asks_for")
        self._cite(key, rule.source)

    def _preparation(self, template: PreparationTemplate) -> Node:
        return self.node(*preparation_node(template), action=template.action, surface=template.surface)

    def _shifts(self) -> None:
        for index, shift in enumerate(self.knowledge.criteria.shifts):
            key = self.node("shift", f"{shift.criterion}#{index + 1}", why=shift.why, add=shift.add)
            self.edge(key, self._condition(shift.when), "fires_when")
            self.edge(key, ("criterion", shift.criterion), "moves", add=shift.add)
            self._cite(key, shift.source)
