"""The neighbourhood that is drawn is the graph's own, cut to size, and says so."""

import shutil
import subprocess

import pytest

from recommender.knowledge.graph import concept_graph
from recommender.knowledge.load import packaged_knowledge
from recommender.knowledge.neighbourhood import dot, label, neighbourhood
from recommender.knowledge.queries import why, why_not

_KNOWN = packaged_knowledge()
_GRAPH = concept_graph(_KNOWN)
_MIDDLES = [
    ("option", "retainer/i_bar"), ("option", "connector/lingual_bar"), ("rule", _KNOWN.rules[0].id),
    ("fact", "derived.support"), ("criterion", "hygiene"), ("family", next(iter(_KNOWN.catalogue.families))),
    ("source", next(node[1] for node in _GRAPH if node[0] == "source")),
]  # fmt: skip


@pytest.mark.parametrize("middle", _MIDDLES, ids=lambda node: f"{node[0]} {node[1][:20]}")
def test_cut_to_size_and_joined(middle: tuple[str, str]) -> None:
    found = neighbourhood(_GRAPH, middle)
    assert found.nodes[0] == middle
    assert len(found.nodes) == len(set(found.nodes)) <= 60
    assert {node for edge in found.edges for node in (edge.start, edge.end)} == set(found.nodes)
    if found.left_out == 0:  # then everything beside the middle is there
        direct = {
            edge.end if edge.start == middle else edge.start
            for edge in found.edges
            if middle in (edge.start, edge.end)
        }
        assert direct <= set(found.nodes)
    else:
        assert len(found.nodes) >= 24


def test_an_option_shows_the_weightiest_that_speaks_for_and_against_it() -> None:
    option = ("option", "retainer/i_bar")
    shown = {edge.start[1]: edge.says for edge in neighbourhood(_GRAPH, option).edges if edge.end == option}
    named = [line for line in (*why(_GRAPH, option), *why_not(_GRAPH, option)) if line.named]
    heaviest = max(named, key=lambda line: abs(line.points))
    assert shown[heaviest.id] == f"{heaviest.effect} {heaviest.points:+g}"
    assert any(node[0] == "fact" for node in neighbourhood(_GRAPH, option).nodes), "two steps, not one"
    small = neighbourhood(_GRAPH, option, most=5)
    assert len(small.nodes) == 5
    assert small.left_out > 0


def test_a_rule_shows_what_it_reads_and_whom_it_concerns() -> None:
    rule = next(each for each in _KNOWN.rules if each.options and len(each.when.facts) > 1 and each.points)
    edges = neighbourhood(_GRAPH, ("rule", rule.id)).edges
    own = [edge for edge in edges if edge.start == ("rule", rule.id)]
    assert {edge.end[1] for edge in own if edge.says == "reads"} == set(rule.when.facts)
    assert {edge.end[1] for edge in own if edge.end[0] == "option"} == {
        f"{rule.decision}/{name}" for name in rule.options
    }


def test_unknown_middle() -> None:
    with pytest.raises(KeyError):
        neighbourhood(_GRAPH, ("option", "retainer/nothing"))


@pytest.mark.skipif(shutil.which("dot") is None, reason="Graphviz is not installed")
@pytest.mark.parametrize("middle", _MIDDLES, ids=lambda node: f"{node[0]} {node[1][:20]}")
def test_graphviz_reads_the_picture(middle: tuple[str, str]) -> None:
    """Held against Graphviz itself: as many nodes and edges come out as went in."""
    found = neighbourhood(_GRAPH, middle)
    out = subprocess.run(
        ["dot", "-Tplain"], input=dot(_GRAPH, found), capture_output=True, text=True, check=True, timeout=60
    ).stdout
    assert sum(line.startswith("node ") for line in out.splitlines()) == len(found.nodes)
    assert sum(line.startswith("edge ") for line in out.splitlines()) == len(found.edges)


def test_text_is_escaped() -> None:
    import networkx as nx

    graph: nx.MultiDiGraph[tuple[str, str]] = nx.MultiDiGraph()
    node = ("source", 'Say "no" \\ and\nrun')
    graph.add_node(node, kind="source", name=node[1])
    assert '"Say \\"no\\" \\\\ and\\nrun"' in dot(graph, neighbourhood(graph, node))
    assert label(graph, node) == node[1]
