"""The metal of a framework as a graph: bodies, and what joins them.

Nodes are ``(kind, tooth, place)``: ``("major connector", 0, "")``, ``("base", first tooth, "")``, ``("rest",
14, "mesial")``, ``("minor connector", 14, "mesial")``, ``("plate", 14, "distal")``, ``("plating", 33, "")``,
``("arm", 14, "retentive")``, ``("arm", 14, "bracing")``, ``("housing", 14, "")`` (of an attachment, a double
crown, a stud). An edge joins metal that is one piece. Nodes carry ``arcs``, the contacts with the crown in
anatomical degrees (mesial 0, facial 90, distal 180, lingual 270), so that a drawing may use them as well as a
check.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import networkx as nx

from recommender.advice.frameworks.building import clasp_of, seat_sites
from recommender.advice.frameworks.crown import FULL, Arc, Clasp, arcs
from recommender.domain.dentition import side_facing
from recommender.domain.designs import Design, DesignRetainer
from recommender.domain.options import Catalogue
from recommender.facts.option import anatomical
from recommender.knowledge.figures.frameworks import CrownFigures

Node = tuple[str, int, str]
CONNECTOR: Node = ("major connector", 0, "")
_ENDS = ("mesial", "distal")


@dataclass(frozen=True, slots=True)
class Mouth:
    """What the metal of a design meets: standing teeth, and at which sides of a tooth each space begins.

    ``spaces`` maps tooth and side to the teeth of the space there.
    """

    arch: str
    standing: tuple[int, ...]
    spaces: Mapping[tuple[int, str], tuple[int, ...]]


class Metal:
    """The graph of one design, and its clasps as they lie round their teeth."""

    def __init__(self, design: Design, mouth: Mouth, catalogue: Catalogue, figures: CrownFigures) -> None:
        self.design = design
        self.mouth = mouth
        self.figures = figures
        self.graph: nx.Graph[Any] = nx.Graph()
        self.options = catalogue.options["retainer"]
        connector = catalogue.options["connector"].get(design.connector or "")
        self.covering = connector is not None and "plate_on_teeth" in connector.parts
        self.clasps: dict[int, Clasp] = {}
        self._frame()
        for tooth, rest in (design.rests or {}).items():
            nodes: list[Node] = [("rest", tooth, site) for site in self.sites(tooth, str(rest))]
            self.graph.add_nodes_from(nodes)
            if rest == "onlay":  # one casting over the whole tooth
                nx.add_path(self.graph, nodes)
        for retainer in design.retainers or ():
            self._retainer(retainer)
        self._hang()

    def _frame(self) -> None:
        graph, design = self.graph, self.design
        if design.connector is not None:
            graph.add_node(CONNECTOR)
        for base in design.bases or ():
            graph.add_edge(("base", base.teeth[0], ""), CONNECTOR)
        for upright in design.minor_connectors or ():
            graph.add_edge(("minor connector", upright.tooth, str(upright.site)), CONNECTOR)
        for plating in design.plating or ():
            for tooth in plating.teeth:
                graph.add_edge(("plating", tooth, ""), CONNECTOR)
        for plate in design.proximal_plates or ():
            node = ("plate", plate.tooth, str(plate.surface))
            graph.add_node(node)
            beside = self.base_at(plate.tooth, str(plate.surface))
            if beside is not None:
                graph.add_edge(node, beside)

    def base_at(self, tooth: int, side: str) -> Node | None:
        """The base that adjoins a tooth on one side."""
        space = self.mouth.spaces.get((tooth, side), ())
        found = next((b for b in self.design.bases or () if set(b.teeth) & set(space)), None)
        return ("base", found.teeth[0], "") if found else None

    def bases_at(self, tooth: int) -> frozenset[str]:
        """The sides of a tooth at which a base adjoins."""
        return frozenset(side for side in _ENDS if self.base_at(tooth, side) is not None)

    def sites(self, tooth: int, rest: str) -> tuple[str, ...]:
        """The places that a rest of the design takes."""
        held = next((r for r in self.design.retainers or () if r.tooth == tooth), None)
        toward = side_facing(tooth, held.partner) if held is not None and held.partner is not None else None
        return seat_sites(rest, str(held.approach) if held is not None and held.approach else None, toward)

    def places(self, kind: str, tooth: int) -> list[str]:
        """The places of one kind of body at a tooth."""
        return [place for known, at, place in self.graph.nodes if known == kind and at == tooth]

    def _retainer(self, retainer: DesignRetainer) -> None:
        option = self.options.get(str(retainer.assembly))
        tooth = retainer.tooth
        if option is None or option.id in ("none", "rest_only"):
            return
        if option.arm is None:
            self.graph.add_node(("housing", tooth, ""))
            return
        near = str(retainer.approach or "mesial")
        zone = retainer.undercut.zone if retainer.undercut else None
        word = next(
            (w for w in (option.tip.zones if option.tip else ()) if anatomical(w, near) == zone), None
        )
        if word is None and zone is None and option.tip is not None:
            word = option.tip.zones[0]  # an older design names no zone: the usual one
        clasp = clasp_of(
            option, near, word, self.places("rest", tooth), self.places("minor connector", tooth),
            self.places("plate", tooth), self.bases_at(tooth), self.covering or bool(self.places("plating", tooth)),
        )  # fmt: skip
        self.clasps[tooth] = clasp
        found = [_anatomical(arc, near) for arc in arcs(clasp, self.figures)]
        self._arm(tooth, near, clasp, "retentive", [a for a in found if a.part in ("arm", "tip")])
        if any(arc.part == "bracing arm" for arc in found):
            self._arm(tooth, near, clasp, "bracing", [a for a in found if a.part == "bracing arm"])

    def _arm(self, tooth: int, near: str, clasp: Clasp, role: str, contacts: list[Arc]) -> None:
        node: Node = ("arm", tooth, role)
        self.graph.add_node(node, arcs=tuple(contacts))
        ends = {"near": near, "far": "distal" if near == "mesial" else "mesial"}
        if clasp.bar and role == "retentive":
            bases = [self.base_at(tooth, side) for side in (near, ends["far"])]
            for base in [one for one in bases if one is not None][:1]:
                self.graph.add_edge(node, base)
            return
        start = ends.get(clasp.start or "near", near)
        if role == "bracing" and "second_rest" in clasp.option.parts:
            start = next(end for end in _ENDS if end != start)
        for body in self.bodies(tooth, start, anywhere=role == "bracing"):
            self.graph.add_edge(node, body)
            break

    def bodies(self, tooth: int, end: str, *, anywhere: bool) -> Iterable[Node]:
        """Rigid metal at one end of a tooth, the base first; ``anywhere``: at the tooth at all."""
        base = self.base_at(tooth, end)
        if base is not None:
            yield base
        for kind in ("plate", "rest", "minor connector"):
            if (kind, tooth, end) in self.graph:
                yield (kind, tooth, end)
        if anywhere:
            for kind in ("plate", "rest", "minor connector", "plating"):
                yield from ((kind, tooth, place) for place in self.places(kind, tooth))

    def _hang(self) -> None:
        """Joins every rest and housing to what carries it."""
        for node in list(self.graph.nodes):
            kind, tooth, place = node
            if kind == "housing":
                joins = [self._base_over(tooth)] if tooth not in self.mouth.standing else []
                joins += [self.base_at(tooth, side) for side in _ENDS]
                joins += [("minor connector", tooth, site) for site in self.places("minor connector", tooth)]
            elif kind == "rest":
                joins = [
                    self.base_at(tooth, place),
                    ("minor connector", tooth, place),
                    ("plate", tooth, place),
                ]
                if place in ("cingulum", "incisal"):
                    joins += [("plating", tooth, ""), ("minor connector", tooth, "lingual")]
                    joins += [("plate", tooth, side) for side in self.places("plate", tooth)]
                    joins += [CONNECTOR] if self.covering and self.mouth.arch == "maxilla" else []
            else:
                continue
            for body in joins:
                if body is not None and body in self.graph:
                    self.graph.add_edge(node, body)

    def _base_over(self, tooth: int) -> Node | None:
        found = next((b for b in self.design.bases or () if tooth in b.teeth), None)
        return ("base", found.teeth[0], "") if found else None

    def loose(self) -> list[Node]:
        """Metal that does not reach the major connector; every node where there is none."""
        if CONNECTOR not in self.graph:
            return sorted(self.graph.nodes)
        return sorted(set(self.graph.nodes) - set(nx.bfs_tree(self.graph, CONNECTOR)))


def _anatomical(arc: Arc, near: str) -> Arc:
    """An arc told from the near end, in anatomical degrees."""
    if near == "mesial":
        return arc
    return Arc(arc.part, (180.0 - arc.end) % FULL, arc.sweep, arc.rigid)
