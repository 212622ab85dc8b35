"""What the concept graph answers: why, why not, what unlocks, which facts count, what rests on a source.

Every answer is read from the graph alone, so that what is drawn and what is said cannot differ.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

from recommender.knowledge.graph import EFFECTS, Node

if TYPE_CHECKING:
    import networkx as nx

    from recommender.knowledge.graph import Graph

# Edges along which a fact bears on an option, and whether they are walked from end to start.
_INFLUENCE = {"reads": True, "part_of": False, "fires_when": True, "moves": False, "weighs": True}
_WAYS: "WeakKeyDictionary[Graph, nx.DiGraph[Node]]" = WeakKeyDictionary()


@dataclass(frozen=True, slots=True)
class RuleLine:
    """One rule as an answer. ``named`` is false where the rule speaks of every option of its decision."""

    id: str
    effect: str
    criterion: str
    points: float
    condition: str
    why: str
    source: str
    block: str = ""
    disputed: str = ""
    named: bool = True


@dataclass(frozen=True, slots=True)
class Unlocking:
    """A block and the preparations that remove it, as (action, surface near or far)."""

    rule: RuleLine
    preparations: tuple[tuple[str, str], ...]


def options_named(graph: "Graph", option: str, decision: str | None = None) -> list[Node]:
    """Option nodes by ``retainer/i_bar`` or the bare identifier (which may answer several decisions)."""
    if "/" in option and ("option", option) in graph:
        return [("option", option)]
    return [
        node
        for node, about in graph.nodes(data=True)
        if about["kind"] == "option" and about["option"] == option and decision in (None, about["decision"])
    ]


def _line(graph: "Graph", rule: Node, named: bool) -> RuleLine:
    about: dict[str, Any] = graph.nodes[rule]
    return RuleLine(
        rule[1], about["effect"], about["criterion"], about["points"], about["condition"], about["why"],
        about["source"], about["block"], about["disputed"], named,
    )  # fmt: skip


def rules_about(graph: "Graph", option: Node, effects: Iterable[str] = EFFECTS) -> tuple[RuleLine, ...]:
    """Rules with one of these effects on an option: named ones first, then by points, then by id."""
    wanted = set(effects)
    found = [
        _line(graph, rule, bool(about["named"]))
        for rule, _, says, about in graph.in_edges(option, keys=True, data=True)
        if says in wanted and rule[0] == "rule"
    ]
    return tuple(sorted(found, key=lambda line: (not line.named, -abs(line.points), line.id)))


def why(graph: "Graph", option: Node) -> tuple[RuleLine, ...]:
    """What can speak for an option."""
    return rules_about(graph, option, ("favours",))


def why_not(graph: "Graph", option: Node) -> tuple[RuleLine, ...]:
    """What can speak against an option or take it out."""
    return rules_about(graph, option, ("discourages", "blocks"))


def what_unlocks(graph: "Graph", option: Node) -> tuple[Unlocking, ...]:
    """The blocks of an option that a preparation removes."""
    found = []
    for line in rules_about(graph, option, ("blocks",)):
        ends = graph.out_edges(("rule", line.id), keys=True)
        removing = sorted(
            (str(graph.nodes[end]["action"]), str(graph.nodes[end]["surface"]))
            for _, end, says in ends
            if says == "unlocked_by"
        )
        if removing:
            found.append(Unlocking(line, tuple(removing)))
    return tuple(found)


def influence(graph: "Graph") -> "nx.DiGraph[Node]":
    """The ways in which a fact can bear on an option: fact → atom → condition → rule → option, and
    fact → … → shift → criterion → decision → option. Worked out once for a graph."""
    import networkx as nx

    ready = _WAYS.get(graph)
    if ready is not None:
        return ready
    ways: nx.DiGraph[Node] = nx.DiGraph()
    for start, end, says in graph.edges(keys=True):
        if says in _INFLUENCE:
            ways.add_edge(*((end, start) if _INFLUENCE[says] else (start, end)))
        elif says in EFFECTS or (says == "answers" and start[0] == "rule"):
            ways.add_edge(start, end)
        elif says == "answers":  # a weight of the decision bears on each of its options
            ways.add_edge(end, start)
    # a rule bears on its decision, but only through its own options, not through the others of the decision
    ways.remove_edges_from([(a, b) for a, b in ways.edges if a[0] == "rule" and b[0] == "decision"])
    _WAYS[graph] = ways
    return ways


def facts_that_can_change(
    graph: "Graph", target: Node, through_weights: bool = True
) -> dict[str, tuple[str, ...]]:
    """Facts that can move an option (or any option of a decision), with the rules or shifts through which.

    ``target`` is an option or decision node. ``through_weights`` counts what shifts the weights too.
    """
    if target[0] == "decision":
        targets = [start for start, _, says in graph.in_edges(target, keys=True) if says == "answers"]
    else:
        targets = [target]
    carriers = {
        start
        for node in targets
        for start, _, says in graph.in_edges(node, keys=True)
        if start[0] == "rule" and says in EFFECTS
    } | {node for node in targets if node[0] == "rule"}
    if through_weights:
        decisions = {
            end for node in targets for _, end, says in graph.out_edges(node, keys=True) if says == "answers"
        }
        criteria = {
            end for node in decisions for _, end, says in graph.out_edges(node, keys=True) if says == "weighs"
        }
        carriers |= {
            start
            for node in criteria
            for start, _, says in graph.in_edges(node, keys=True)
            if says == "moves"
        }
    found: dict[str, list[str]] = {}
    for carrier in sorted(carriers):
        for name in sorted(_facts_read(graph, carrier)):
            found.setdefault(name, []).append(carrier[1])
    return {name: tuple(found[name]) for name in sorted(found)}


def facts_read(graph: "Graph", carrier: Node) -> set[str]:
    """Facts that the condition of a rule or shift reads."""
    return _facts_read(graph, carrier)


def _facts_read(graph: "Graph", carrier: Node) -> set[str]:
    waiting = [end for _, end, says in graph.out_edges(carrier, keys=True) if says == "fires_when"]
    seen: set[Node] = set(waiting)
    facts: set[str] = set()
    while waiting:
        node = waiting.pop()
        facts |= {end[1] for _, end, says in graph.out_edges(node, keys=True) if says == "reads"}
        for start, _, says in graph.in_edges(node, keys=True):
            if says == "part_of" and start not in seen:
                seen.add(start)
                waiting.append(start)
    return facts


def rules_reading(graph: "Graph", fact: str) -> tuple[str, ...]:
    """Ids of the rules whose condition reads a fact."""
    rules = [node for node, about in graph.nodes(data=True) if about["kind"] == "rule"]
    return tuple(sorted(node[1] for node in rules if fact in _facts_read(graph, node)))


def sources_like(graph: "Graph", text: str) -> tuple[str, ...]:
    """Sources that hold the text, capitals or not."""
    wanted = text.casefold()
    return tuple(sorted(node[1] for node in graph if node[0] == "source" and wanted in node[1].casefold()))


def rules_resting_on(graph: "Graph", source: str) -> tuple[str, ...]:
    """Ids of the rules that cite a source (exactly named, as :func:`sources_like` gives them)."""
    if ("source", source) not in graph:
        return ()
    citing = graph.in_edges(("source", source), keys=True)
    return tuple(sorted(start[1] for start, _, says in citing if says == "cites" and start[0] == "rule"))


def path_between(graph: "Graph", fact: str, option: Node) -> tuple[Node, ...]:
    """A shortest way in which the fact bears on the option; empty where it does not. Ties by name."""
    import networkx as nx

    ways = influence(graph)
    if ("fact", fact) not in ways or option not in ways:
        return ()
    try:
        paths = nx.all_shortest_paths(ways, ("fact", fact), option)
        return min(tuple(path) for path in paths)
    except nx.NetworkXNoPath:
        return ()


def families_of(graph: "Graph", option: Node) -> tuple[str, ...]:
    """Every family of an option, those above its own included, nearest first."""
    found: dict[Node, None] = {}
    level = [option]
    while level:
        above = [end for node in level for _, end, says in graph.out_edges(node, keys=True) if says == "is_a"]
        level = [node for node in dict.fromkeys(above) if node not in found]
        found.update(dict.fromkeys(level))
    return tuple(node[1] for node in found)


def related(graph: "Graph", option: Node) -> tuple[tuple[str, float, str], ...]:
    """Other options of the same decision that share a family: (identifier, share, family), closest first."""
    mine = set(families_of(graph, option))
    decision = graph.nodes[option]["decision"]
    found = []
    for node, about in graph.nodes(data=True):
        if about["kind"] != "option" or node == option or about["decision"] != decision:
            continue
        shared = [
            (float(graph.nodes["family", name]["share"]), name)
            for name in families_of(graph, node)
            if name in mine
        ]
        if shared:
            share, name = max(shared)
            found.append((str(about["option"]), share, name))
    return tuple(sorted(found, key=lambda each: (-each[1], each[0])))


def concepts(graph: "Graph", kind: str) -> Iterator[str]:
    """Names of all nodes of a kind."""
    return (node[1] for node in graph if node[0] == kind)
