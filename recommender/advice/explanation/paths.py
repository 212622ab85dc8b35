"""The way through the concept graph behind one sentence: facts, condition, rule, criterion, option, sources."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from recommender.knowledge.graph import concept_graph, option_node
from recommender.knowledge.model import Knowledge
from recommender.knowledge.queries import facts_read

if TYPE_CHECKING:
    from recommender.knowledge.graph import Graph, Node


@dataclass(frozen=True, slots=True)
class SentencePath:
    """How a sentence follows: every step is an edge of the graph.

    ``facts`` are those that decided the condition here (all that it reads where that is not told), as (name,
    label). ``rule`` is ``None`` for a starting value, which the option itself carries.
    """

    facts: tuple[tuple[str, str], ...]
    condition: str | None
    rule: str | None
    effect: str | None
    criterion: str | None
    option: str
    sources: tuple[str, ...]

    @property
    def nodes(self) -> tuple["Node", ...]:
        """The path as graph nodes, facts first, sources last."""
        found: list[Node] = [("fact", name) for name, _ in self.facts]
        found += [("condition", self.condition)] if self.condition is not None else []
        found += [("rule", self.rule)] if self.rule is not None else []
        found += [("criterion", self.criterion)] if self.criterion else []
        found.append(("option", self.option))
        return (*found, *(("source", source) for source in self.sources))


def path_of(
    base: Knowledge,
    decision: str,
    option: str,
    rule: str | None = None,
    criterion: str | None = None,
    deciding: Iterable[str] | None = None,
) -> SentencePath:
    """The path behind a rule line (or, without a rule, a starting value) of an option.

    Raises ``KeyError`` for a rule that the graph does not know or that does not speak of the option.
    """
    graph = concept_graph(base)
    here = option_node(decision, option)
    if rule is None:
        return SentencePath((), None, None, None, criterion, here[1], _sources(graph, here))
    node = ("rule", rule)
    effect = str(graph.nodes[node]["effect"])
    if not graph.has_edge(node, here, key=effect):
        raise KeyError(f"{rule} does not speak of {here[1]}")
    read = facts_read(graph, node)
    names = [name for name in deciding if name in read] if deciding is not None else sorted(read)
    return SentencePath(
        tuple((name, str(graph.nodes["fact", name]["label"] or name)) for name in names),
        _only(graph, node, "fires_when"),
        rule,
        effect,
        _only(graph, node, "on_criterion"),
        here[1],
        _sources(graph, node),
    )


def _only(graph: "Graph", start: "Node", says: str) -> str | None:
    return next((end[1] for _, end, key in graph.out_edges(start, keys=True) if key == says), None)


def _sources(graph: "Graph", start: "Node") -> tuple[str, ...]:
    return tuple(end[1] for _, end, key in graph.out_edges(start, keys=True) if key == "cites")
