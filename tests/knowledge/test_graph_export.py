"""The graph written in open formats and read back."""

from pathlib import Path
from typing import Any
from urllib.parse import unquote

import networkx as nx
import orjson
import pytest

from recommender.knowledge import export
from recommender.knowledge.graph import EFFECTS, Node, concept_graph

from .small import CATALOGUE, small

GRAPH = concept_graph(small())


def node_of(key: str) -> Node:
    kind, _, name = key.partition(":")
    return kind, name


def from_node_link(document: dict[str, Any]) -> nx.MultiDiGraph:
    """The graph again (lists come back as tuples)."""
    graph = nx.MultiDiGraph()
    for entry in document["nodes"]:
        items = ((key, value) for key, value in entry.items() if key != "id")
        about = {key: tuple(value) if isinstance(value, list) else value for key, value in items}
        graph.add_node(node_of(entry["id"]), **about)
    for entry in document["links"]:
        about = dict(entry)
        graph.add_edge(node_of(about.pop("source")), node_of(about.pop("target")), key=about["type"], **about)
    return graph


def from_graphml(text: str) -> nx.MultiDiGraph:
    """The graph again."""
    read = nx.parse_graphml(text, force_multigraph=True)
    graph = nx.MultiDiGraph()
    for node, about in read.nodes(data=True):
        lists = {key: tuple(orjson.loads(about[key])) for key in export._LISTS if key in about}
        graph.add_node(node_of(node), **{**about, **lists})
    for start, end, about in read.edges(data=True):
        kept = {key: value for key, value in about.items() if key != "id"}
        graph.add_edge(node_of(start), node_of(end), key=kept["type"], **kept)
    return graph


def rule_edges(triples: Any) -> set[tuple[str, str, str]]:
    """(rule id, effect, ``decision/option``) of every rule in RDF, as read back."""
    from rdflib import URIRef

    found: set[tuple[str, str, str]] = set()
    for effect in EFFECTS:
        for start, end in triples.subject_objects(URIRef(f"{export.NAMESPACE}property:{effect}")):
            rule, option = (
                unquote(str(each).removeprefix(export.NAMESPACE).partition(":")[2]) for each in (start, end)
            )
            found.add((rule, effect, option))
    return found


def test_node_link_json_comes_back_whole() -> None:
    again = from_node_link(orjson.loads(export.text_of(GRAPH, "json")))
    assert nx.utils.graphs_equal(again, GRAPH)


def test_node_link_json_is_read_by_networkx_itself() -> None:
    document = orjson.loads(export.text_of(GRAPH, "json"))
    again = nx.node_link_graph(document, edges="links")
    assert (again.number_of_nodes(), again.number_of_edges()) == (
        GRAPH.number_of_nodes(),
        GRAPH.number_of_edges(),
    )


def test_graphml_comes_back_whole(tmp_path: Path) -> None:
    again = from_graphml(export.text_of(GRAPH, "graphml"))
    assert nx.utils.graphs_equal(again, GRAPH)
    export.write(GRAPH, "graphml", tmp_path / "graph.graphml")
    assert nx.read_graphml(tmp_path / "graph.graphml", force_multigraph=True).number_of_edges() == (
        GRAPH.number_of_edges()
    )
    assert [path.name for path in tmp_path.iterdir()] == ["graph.graphml"]


@pytest.mark.parametrize(("form", "parser"), [("turtle", "turtle"), ("jsonld", "json-ld")])
def test_rdf_comes_back_the_same(form: str, parser: str) -> None:
    rdflib = pytest.importorskip("rdflib")
    from rdflib.compare import isomorphic

    again = rdflib.Graph().parse(data=export.text_of(GRAPH, form), format=parser)
    assert isomorphic(again, export.rdf(GRAPH))
    effects = {
        (a[1], says, b[1]) for a, b, says in GRAPH.edges(keys=True) if a[0] == "rule" and says in EFFECTS
    }
    assert rule_edges(again) == effects


def test_skos_holds_labels_and_families() -> None:
    """Terms after the SKOS Reference, W3C Recommendation, 18 August 2009."""
    pytest.importorskip("rdflib")
    from rdflib import RDF, Literal, URIRef
    from rdflib.namespace import DCTERMS, SKOS

    triples = export.rdf(GRAPH)
    ring = URIRef("urn:rpd-casebook:option:retainer/ring")
    assert (ring, RDF.type, SKOS.Concept) in triples
    assert (ring, SKOS.prefLabel, Literal("ring", lang="en")) in triples
    assert (ring, SKOS.broader, URIRef("urn:rpd-casebook:family:suprabulge")) in triples
    assert (ring, SKOS.inScheme, URIRef("urn:rpd-casebook:decision:retainer")) in triples
    assert (URIRef("urn:rpd-casebook:decision:retainer"), RDF.type, SKOS.ConceptScheme) in triples
    assert (ring, DCTERMS.source, URIRef(export.resource(("source", "Book A")))) in triples
    options = sum(len(known) for known in CATALOGUE.options.values())
    assert len(set(triples.subjects(RDF.type, SKOS.Concept))) == options + len(CATALOGUE.families)
    # SKOS integrity condition S14: no more than one prefLabel per language
    labels = [(s, label.language) for s, label in triples.subject_objects(SKOS.prefLabel)]
    assert len(labels) == len(set(labels))


def test_an_unknown_format_is_refused() -> None:
    with pytest.raises(ValueError, match="one of json, graphml"):
        export.text_of(GRAPH, "pickle")
