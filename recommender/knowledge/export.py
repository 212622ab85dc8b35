"""The concept graph in open formats: node-link JSON, GraphML, and RDF (SKOS) as Turtle or JSON-LD.

SKOS after the W3C Recommendation "SKOS Simple Knowledge Organization System Reference", 18 August 2009: one
``ConceptScheme`` for each list of options; each option a ``Concept`` with ``prefLabel``, ``altLabel``,
``definition``, ``broader`` (its families) and ``dcterms:source``. Rules have no counterpart in SKOS and carry
the project's own properties. Names below ``urn:rpd-casebook:`` are identifiers only and lead nowhere.
"""

from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

import orjson

from recommender.knowledge.graph import Node

if TYPE_CHECKING:
    import networkx as nx
    import rdflib

    from recommender.knowledge.graph import Graph

FORMATS = ("json", "graphml", "turtle", "jsonld")
NAMESPACE = "urn:rpd-casebook:"
_LISTS = ("allowed", "synonyms")
_RULE_TEXTS = ("stage", "effect", "why", "condition", "found", "block", "disputed", "criterion")


def node_link(graph: "Graph") -> dict[str, Any]:
    """The graph as plain values: ``nodes`` (``id``: ``kind:name``), ``links`` (``source``, ``target``)."""
    nodes = [{"id": _key(node), **about} for node, about in graph.nodes(data=True)]
    links = [
        {"source": _key(start), "target": _key(end), **about} for start, end, about in graph.edges(data=True)
    ]
    return {"format": 1, "directed": True, "multigraph": True, "nodes": nodes, "links": links}


def _key(node: Node) -> str:
    return f"{node[0]}:{node[1]}"


def _flat(graph: "Graph") -> "nx.MultiDiGraph[str]":
    """A copy with text keys and attributes that GraphML can hold: lists as JSON text, no ``None``."""
    import networkx as nx

    flat: nx.MultiDiGraph[str] = nx.MultiDiGraph()
    for node, about in graph.nodes(data=True):
        flat.add_node(_key(node), **_attributes(about))
    for start, end, says, about in graph.edges(keys=True, data=True):
        flat.add_edge(_key(start), _key(end), key=says, **_attributes(about))
    return flat


def _attributes(about: dict[str, Any]) -> dict[str, Any]:
    return {
        key: orjson.dumps(value).decode() if isinstance(value, (list, tuple)) else value
        for key, value in about.items()
        if value is not None
    }


def graphml(graph: "Graph") -> str:
    """GraphML; lists are JSON text."""
    import networkx as nx

    return "\n".join(nx.generate_graphml(_flat(graph), named_key_ids=True)) + "\n"


def resource(node: Node) -> str:
    """The identifier of a node in RDF; what may not stand in one is percent-encoded."""
    return f"{NAMESPACE}{node[0]}:{quote(node[1], safe='/')}"


def rdf(graph: "Graph") -> "rdflib.Graph":
    """The graph as RDF: options and families in SKOS, the rest with the project's own properties."""
    from rdflib import Graph as Triples
    from rdflib import Literal, Namespace, URIRef
    from rdflib.namespace import DCTERMS, RDF, SKOS

    own = Namespace(NAMESPACE + "property:")
    kinds = Namespace(NAMESPACE + "kind:")
    triples = Triples()
    for prefix, space in (("skos", SKOS), ("dcterms", DCTERMS), ("own", own), ("kind", kinds)):
        triples.bind(prefix, space)

    def uri(node: Node) -> Any:
        return URIRef(resource(node))

    def say(start: Any, relation: Any, value: Any) -> None:
        triples.add((start, relation, value))

    def english(value: str) -> Any:
        return Literal(value, lang="en")

    for node, about in graph.nodes(data=True):
        here, kind = uri(node), about["kind"]
        say(here, RDF.type, kinds[kind])
        if kind == "decision":
            say(here, RDF.type, SKOS.ConceptScheme)
            say(here, SKOS.prefLabel, english(node[1].replace("_", " ")))
        if kind in ("option", "family"):
            say(here, RDF.type, SKOS.Concept)
            say(here, SKOS.inScheme, uri(("decision", about["decision"])))
            say(here, SKOS.notation, Literal(about.get("option", node[1])))
        if "label" in about:
            say(here, SKOS.prefLabel, english(about["label"]))
        if about.get("definition"):
            say(here, SKOS.definition, english(about["definition"]))
        for synonym in about.get("synonyms", ()):
            say(here, SKOS.altLabel, english(synonym))
        for word in about.get("allowed", ()):
            say(here, own.allowed, Literal(word))
        for key in (*_RULE_TEXTS, "unit", "scope", "type"):
            if about.get(key) and kind in ("rule", "fact"):
                say(here, own[key], Literal(about[key]))
        for key in ("points", "share", "add"):
            if key in about:
                say(here, own[key], Literal(float(about[key])))
        if kind in ("source", "condition", "atom"):
            say(here, DCTERMS.title, Literal(node[1]))
    for start, end, says in graph.edges(keys=True):
        if says == "is_a":
            say(uri(start), SKOS.broader, uri(end))
        elif says == "cites":
            say(uri(start), DCTERMS.source, uri(end))
        elif says == "answers" and start[0] == "option":
            if not any(kind == "is_a" for _, _, kind in graph.out_edges(start, keys=True)):
                say(uri(start), SKOS.topConceptOf, uri(end))
        else:
            say(uri(start), own[says], uri(end))
    return triples


def text_of(graph: "Graph", form: str) -> str:
    """The graph in one of ``FORMATS``; ``ValueError`` for another word."""
    if form == "json":
        return orjson.dumps(node_link(graph), option=orjson.OPT_INDENT_2).decode() + "\n"
    if form == "graphml":
        return graphml(graph)
    if form in ("turtle", "jsonld"):
        return str(rdf(graph).serialize(format="turtle" if form == "turtle" else "json-ld"))
    raise ValueError(f"unknown format {form}; one of {', '.join(FORMATS)}")


def write(graph: "Graph", form: str, path: Path) -> None:
    """Write the graph to a file, which appears whole or not at all."""
    text = text_of(graph, form)
    draft = path.with_name(path.name + ".new")
    draft.write_text(text, encoding="utf-8")
    draft.replace(path)
