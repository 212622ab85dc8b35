"""Cases as linked data (RDF): each with its query columns and its choices, and the lists of options in SKOS.

Written as Turtle or JSON-LD. The document of a case goes along whole as a JSON literal, so reading back is exact.
Needs the extra ``rdf``.
"""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import orjson

from recommender.domain.case import Case
from recommender.domain.designs import Design
from recommender.precedents.store import documents
from recommender.precedents.store.errors import LibraryError
from recommender.precedents.store.exporting.export import Progress, replacing

if TYPE_CHECKING:
    from rdflib import Graph

VOCABULARY = "urn:rpd-casebook:vocabulary:"
CASE = "urn:rpd-casebook:case:"
FORMATS = {"turtle": "turtle", "json-ld": "json-ld"}


def _rdflib() -> Any:
    try:
        import rdflib
    except ModuleNotFoundError:
        raise LibraryError("linked data needs the extra 'rdf': pip install 'rpd-casebook[rdf]'") from None
    return rdflib


def choices(design: Design) -> Iterator[tuple[str, str]]:
    """Every option that a design uses, as (decision, option), each once."""
    found: set[tuple[str, str | None]] = {("connector", design.connector), ("alloy", design.alloy)}
    found |= {("retainer", part.assembly) for part in design.retainers or ()}
    found |= {("rest", part.rest) for part in design.retainers or ()}
    found |= {("rest", rest) for rest in (design.rests or {}).values()}
    found |= {("replacement", option) for option in (design.replacements or {}).values()}
    return iter(sorted((kind, option) for kind, option in found if option is not None))


def graph(cases: Iterable[Case], progress: Progress = lambda _done: None) -> "Graph":
    """The cases and the option lists as an ``rdflib.Graph``."""
    rdf = _rdflib()
    made = rdf.Graph()
    own, skos, terms = rdf.Namespace(VOCABULARY), rdf.namespace.SKOS, rdf.namespace.DCTERMS
    made.bind("rpd", own)
    made.bind("skos", skos)
    made.bind("dcterms", terms)
    _lists(made, rdf)
    for count, case in enumerate(cases, start=1):
        node = rdf.URIRef(CASE + case.id)
        columns = documents.columns(case)
        made.add((node, rdf.RDF.type, own.Case))
        made.add((node, terms.identifier, rdf.Literal(case.id)))
        made.add((node, own.arch, rdf.Literal(case.arch)))
        made.add((node, own.status, rdf.Literal(columns.status)))
        made.add((node, own.outcomeKnown, rdf.Literal(columns.outcome_known)))
        if columns.kennedy is not None:
            made.add((node, own.kennedy, rdf.Literal(columns.kennedy)))
        for tooth in case.missing:
            made.add((node, own.missing, rdf.Literal(tooth)))
        for kind, option in choices(case.design) if case.design else ():
            made.add((node, own.uses, own[f"{kind}:{option}"]))
        made.add(
            (node, own.document, rdf.Literal(documents.dump(case), datatype=rdf.RDF.JSON, normalize=False))
        )
        progress(count)
    return made  # type: ignore[no-any-return]


def _lists(made: "Graph", rdf: Any) -> None:
    from recommender.domain.catalogue import load

    own, skos = rdf.Namespace(VOCABULARY), rdf.namespace.SKOS
    for kind, options in load().options.items():
        scheme = own[kind]
        made.add((scheme, rdf.RDF.type, skos.ConceptScheme))
        for option in options.values():
            concept = own[f"{kind}:{option.id}"]
            made.add((concept, rdf.RDF.type, skos.Concept))
            made.add((concept, skos.inScheme, scheme))
            made.add((concept, skos.notation, rdf.Literal(option.id)))
            made.add((concept, skos.prefLabel, rdf.Literal(option.label, lang="en")))
            made.add((concept, skos.definition, rdf.Literal(option.definition, lang="en")))
            for word in option.synonyms:
                made.add((concept, skos.altLabel, rdf.Literal(word, lang="en")))


def write(cases: Iterable[Case], path: Path, form: str, progress: Progress = lambda _done: None) -> int:
    """Writes cases and option lists as ``turtle`` or ``json-ld``; returns how many cases there were."""
    count = 0

    def counted(done: int) -> None:
        nonlocal count
        count = done
        progress(done)

    made = graph(cases, counted)
    with replacing(path) as part:
        made.serialize(destination=str(part), format=FORMATS[form], encoding="utf-8")
    return count


def read(path: Path, form: str) -> Iterator[Case]:
    """The cases of a file that ``write`` made, by id."""
    rdf = _rdflib()
    found = rdf.Graph()
    found.parse(str(path), format=FORMATS[form])
    own = rdf.Namespace(VOCABULARY)
    for node in sorted(found.subjects(rdf.RDF.type, own.Case)):
        literal = str(found.value(node, own.document))
        yield Case.model_validate(orjson.loads(literal))
