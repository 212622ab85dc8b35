"""What stands around one option, rule, fact or source in the concept graph: two steps, at most some sixty nodes.

Conditions and their atoms are drawn together: a rule *reads* its facts. Everything is read from the graph, and
the picture (DOT, for Graphviz) and the table say the same.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from textwrap import wrap
from typing import TYPE_CHECKING

from recommender.knowledge.graph import EFFECTS, Node
from recommender.knowledge.queries import facts_read

if TYPE_CHECKING:
    from recommender.knowledge.graph import Graph

MOST = 60
_LONGEST, _MOST_LINES = 44, 3
# Told apart by shape as well as by ground; dark text on light grounds, on white paper in either theme.
_SHAPES = {
    "option": ("box", "#e3eef2", "bold"),
    "rule": ("box", "#ffffff", "rounded"),
    "fact": ("ellipse", "#f4f1e6", "solid"),
    "criterion": ("hexagon", "#eef3e6", "solid"),
    "family": ("folder", "#f3ebf2", "solid"),
    "source": ("note", "#ffffff", "solid"),
    "preparation": ("cds", "#f7ede3", "solid"),
    "decision": ("doubleoctagon", "#e3eef2", "solid"),
}


@dataclass(frozen=True, slots=True)
class Edge:
    """One line of the picture: from, what it says, to."""

    start: Node
    says: str
    end: Node


@dataclass(frozen=True, slots=True)
class Neighbourhood:
    """What is around ``middle``; ``left_out`` counts the nodes that did not fit."""

    middle: Node
    nodes: tuple[Node, ...]
    edges: tuple[Edge, ...]
    left_out: int


def neighbourhood(graph: "Graph", middle: Node, steps: int = 2, most: int = MOST) -> Neighbourhood:
    """The nodes at most ``steps`` away, nearest and weightiest first. ``KeyError`` for a node that is not there."""
    if middle not in graph:
        raise KeyError(middle)
    kept: dict[Node, int] = {middle: 0}
    edges: dict[Edge, None] = {}
    left_out: set[Node] = set()
    waiting = [middle]
    for step in range(1, steps + 1):
        # the first step leaves room for what stands behind it
        room = most if step == steps else max(2, round(most * 0.4))
        following: list[Node] = []
        for node in waiting:
            for edge, other in _around(graph, node, middle):
                if other not in kept:
                    if len(kept) >= room:
                        left_out.add(other)
                        continue
                    kept[other] = step
                    following.append(other)
                edges[edge] = None
        waiting = following
    return Neighbourhood(middle, tuple(kept), tuple(edges), len(left_out - set(kept)))


def _around(graph: "Graph", node: Node, middle: Node) -> Iterator[tuple[Edge, Node]]:
    kind = node[0]
    if kind == "rule":
        yield from _around_rule(graph, node, middle)
    elif kind == "option":
        yield from _rules_on(graph, node)
        for _, end, says in graph.out_edges(node, keys=True):
            if says in ("is_a", "cites") and (says == "is_a" or node == middle):
                yield Edge(node, says.replace("_", " "), end), end
    elif (
        node == middle
    ):  # a fact, source, family, criterion: seen from itself only, else everything hangs together
        if kind == "fact":
            for rule in (each for each in graph if each[0] == "rule"):
                if node[1] in facts_read(graph, rule):
                    yield Edge(rule, "reads", node), rule
        for start, _, says in graph.in_edges(node, keys=True):
            if start[0] in ("rule", "option", "family", "decision"):
                yield Edge(start, says.replace("_", " "), node), start


def _rules_on(graph: "Graph", option: Node) -> Iterator[tuple[Edge, Node]]:
    found = [
        (start, says, about)
        for start, _, says, about in graph.in_edges(option, keys=True, data=True)
        if says in EFFECTS
    ]
    found.sort(key=lambda each: (not each[2]["named"], -abs(each[2]["points"] or 0), each[0][1]))
    for start, says, about in found:
        yield Edge(start, _effect(says, about["points"]), option), start


def _around_rule(graph: "Graph", rule: Node, middle: Node) -> Iterator[tuple[Edge, Node]]:
    for name in sorted(facts_read(graph, rule)):
        yield Edge(rule, "reads", ("fact", name)), ("fact", name)
    for _, end, says, about in graph.out_edges(rule, keys=True, data=True):
        if says in ("on_criterion", "unlocked_by", "asks_for") or (
            says in ("cites", "names") and rule == middle
        ):
            yield Edge(rule, says.replace("_", " "), end), end
        elif says in EFFECTS and (rule == middle or end == middle):
            yield Edge(rule, _effect(says, about["points"]), end), end


def _effect(says: str, points: float) -> str:
    return f"{says} {points:+g}" if points else says


def label(graph: "Graph", node: Node) -> str:
    """A node in words; long names are cut. A rule is its sentence, on several lines."""
    about = graph.nodes[node]
    if node[0] == "rule":
        lines = wrap(str(about["why"]), _LONGEST)
        return "\n".join(lines[:_MOST_LINES]) + ("…" if len(lines) > _MOST_LINES else "")
    text = str(about.get("label") or "") if node[0] in ("option", "fact", "criterion", "family") else ""
    text = (text or node[1]).replace("_", " ") if node[0] != "source" else node[1]
    if node[0] == "preparation":
        text = text.replace("/", ", ")
    return text if len(text) <= _LONGEST else text[: _LONGEST - 1] + "…"


def dot(graph: "Graph", found: Neighbourhood) -> str:
    """The picture as a DOT document, on white paper."""
    ids = {node: f"n{number}" for number, node in enumerate(found.nodes)}
    lines = [
        "digraph why {",
        'bgcolor="#ffffff"; rankdir=LR; ranksep=0.7; nodesep=0.14; margin=0.1;',
        'node [fontname="Helvetica", fontsize=11, fontcolor="#1c2529", color="#4d5a63", margin="0.09,0.04"];',
        'edge [fontname="Helvetica", fontsize=9, fontcolor="#3a444a", color="#6b767d", arrowsize=0.6];',
    ]
    for node in found.nodes:
        shape, ground, style = _SHAPES.get(node[0], ("box", "#ffffff", "solid"))
        width = ", penwidth=2.6" if node == found.middle else ""
        lines.append(
            f'{ids[node]} [label="{_quoted(label(graph, node))}", shape={shape}, style="{style},filled", '
            f'fillcolor="{ground}"{width}];'
        )
    for edge in found.edges:
        against = edge.says.startswith(("blocks", "discourages"))
        style = ", style=dashed" if against else ""
        lines.append(f'{ids[edge.start]} -> {ids[edge.end]} [label="{_quoted(edge.says)}"{style}];')
    return "\n".join([*lines, "}"])


def _quoted(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
