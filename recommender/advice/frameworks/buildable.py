"""Whether a design can be made in metal: what is loose, what grows from nothing, where a tip lies, what
opposes it, what has no room.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from recommender.advice.frameworks.crown import arcs as contacts
from recommender.advice.frameworks.crown import grows, opposed, widest_gap
from recommender.advice.frameworks.metal import CONNECTOR, Metal, Mouth
from recommender.advice.frameworks.seating import touches_late
from recommender.advice.frameworks.tooth_site import ToothSite
from recommender.domain.dentition import ARCH_ORDER, opposite, side_facing
from recommender.domain.designs import DesignRetainer
from recommender.domain.kennedy import Space
from recommender.domain.statement import Arg, Choice, Statement, Word, quantity, say, tooth
from recommender.facts.option import anatomical
from recommender.knowledge.figures.frameworks import FrameworkFigures

Kind = Literal[
    "one_piece", "grown_arms", "tip_in_undercut", "encirclement", "reciprocated", "least_thickness"
]


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that cannot be made: the rule that it breaks, the tooth (0 for the frame), and what there is
    to say.
    """

    kind: Kind
    tooth: int
    said: Statement


def mouth_of(arch: str, standing: tuple[int, ...], spaces: tuple[Space, ...]) -> Mouth:
    """The mouth that a design's metal meets."""
    order = ARCH_ORDER[arch]
    beside: dict[tuple[int, str], tuple[int, ...]] = {}
    for space in spaces:
        for border in space.borders:
            at = order.index(border)
            nearest = min(space.teeth, key=lambda one, at=at: abs(order.index(one) - at))  # type: ignore[misc]
            beside[border, side_facing(border, nearest)] = space.teeth
    return Mouth(arch, standing, beside)


def metal_faults(
    metal: Metal, sites: Mapping[int, ToothSite], figures: FrameworkFigures
) -> tuple[Fault, ...]:
    """Everything about a design that cannot be made, in the order of the teeth."""
    found = [*_loose(metal)]
    for retainer in metal.design.retainers or ():
        found += _of_clasp(metal, retainer, sites, figures)
    found += _thin(metal, sites, figures)
    return tuple(sorted(found, key=lambda fault: fault.tooth))


def _loose(metal: Metal) -> Iterator[Fault]:
    if CONNECTOR not in metal.graph:
        yield Fault("one_piece", 0, say("metal.no_connector"))
        return
    for kind, number, place in metal.loose():
        if kind == "arm":
            option = next(r.assembly for r in metal.design.retainers or () if r.tooth == number)
            yield Fault(
                "grown_arms", number,
                say(f"metal.{place}_arm_from_nothing", tooth=tooth(number), option=Choice("retainer", str(option))),
            )  # fmt: skip
        else:
            where = Word("surface", place) if place else None
            yield Fault(
                "one_piece",
                number,
                say("metal.loose", part=Word("metal", kind), tooth=tooth(number), place=where),
            )


def _of_clasp(
    metal: Metal, retainer: DesignRetainer, sites: Mapping[int, ToothSite], figures: FrameworkFigures
) -> Iterator[Fault]:
    number = retainer.tooth
    clasp, site = metal.clasps.get(number), sites.get(number)
    if clasp is None or site is None:
        return
    assembly = clasp.option.id
    yield from _tip(metal, retainer, _gripped(metal, retainer, sites))
    if not clasp.flexing:
        return
    if not grows(clasp) and not any(node == ("arm", number, "retentive") for node in metal.loose()):
        yield Fault("grown_arms", number, _of("metal.retentive_arm_from_nothing", number, assembly))
    gap = widest_gap(contacts(clasp, figures.crown))
    if gap >= figures.crown.gap_below:
        yield Fault(
            "encirclement", number, _of("metal.gap", number, assembly, gap=quantity(gap, "degrees", 0))
        )
    if not opposed(clasp, figures.crown):
        yield Fault("reciprocated", number, _of("metal.unopposed", number, assembly))
    work = {(p.surface or "", str(p.action)) for p in metal.design.preparation or () if p.tooth == number}
    depth = retainer.undercut.mm if retainer.undercut is not None else None
    if touches_late(clasp, site, str(retainer.approach or "mesial"), depth, work, figures):
        yield Fault("reciprocated", number, _of("metal.touches_late", number, assembly))


def _gripped(metal: Metal, retainer: DesignRetainer, sites: Mapping[int, ToothSite]) -> ToothSite:
    """The tooth on which the tip lies: beyond its own for an arm that is carried on."""
    site = sites[retainer.tooth]
    if "tip_on_neighbour" not in metal.clasps[retainer.tooth].option.parts:
        return site
    beyond = site.touching.get(opposite(str(retainer.approach or "mesial")))
    return sites[beyond] if beyond is not None else site


def _tip(metal: Metal, retainer: DesignRetainer, site: ToothSite) -> Iterator[Fault]:
    clasp = metal.clasps[retainer.tooth]
    if retainer.undercut is None or clasp.option.tip is None:
        return
    zone, near = retainer.undercut.zone, str(retainer.approach or "mesial")
    seen_from = near if site.tooth == retainer.tooth else side_facing(site.tooth, retainer.tooth)
    reach = [anatomical(word, seen_from) for word in clasp.option.tip.zones]
    fact, least = site.undercuts[zone], clasp.option.tip.least_mm
    if fact.high is None or fact.high >= least:
        return
    deeper = [z for z in reach if z != zone and (site.undercuts[z].low or 0.0) >= least]
    planned = any(
        p.tooth == site.tooth and p.surface == zone and p.action in ("create_undercut", "crown")
        for p in metal.design.preparation or ()
    )
    number, assembly, depth = retainer.tooth, clasp.option.id, quantity(fact.high, "mm", 2)
    if deeper:
        code, there = "metal.tip_shallow_deeper_there", Word("surface", deeper[0])
        said = _of(code, number, assembly, zone=Word("surface", zone), depth=depth, deeper=there)
        yield Fault("tip_in_undercut", number, said)
    elif not planned:
        said = _of("metal.tip_shallow", number, assembly, zone=Word("surface", zone), depth=depth)
        yield Fault("tip_in_undercut", number, said)


def _of(
    code: str,
    number: int,
    assembly: str,
    *,
    gap: Arg = None,
    zone: Arg = None,
    depth: Arg = None,
    deeper: Arg = None,
) -> Statement:
    option = Choice("retainer", assembly)
    return say(code, tooth=tooth(number), option=option, gap=gap, zone=zone, depth=depth, deeper=deeper)


def _thin(metal: Metal, sites: Mapping[int, ToothSite], figures: FrameworkFigures) -> Iterator[Fault]:
    """Rests and passages between teeth in recorded room that is too little, with no seat planned there."""
    cut = {(p.tooth, p.surface) for p in metal.design.preparation or () if p.action == "rest_seat"}
    least = figures.room.least_mm
    for kind, number, place in metal.graph.nodes:
        if kind != "rest" or number not in sites:
            continue
        room = sites[number].rooms[place]
        if room.high is not None and room.high < least and (number, place) not in cut:
            yield Fault("least_thickness", number, _no_room("metal.rest_thin", number, place, room.high))
    for number, clasp in metal.clasps.items():
        yield from _passage(metal, number, clasp.start, sites, cut, figures)


def _passage(
    metal: Metal,
    number: int,
    start: str | None,
    sites: Mapping[int, ToothSite],
    cut: set[tuple[int, str | None]],
    figures: FrameworkFigures,
) -> Iterator[Fault]:
    retainer = next(r for r in metal.design.retainers or () if r.tooth == number)
    near = str(retainer.approach or "mesial")
    side = {"near": near, "far": opposite(near)}.get(start or "")
    site = sites.get(number)
    if side is None or site is None or metal.base_at(number, side) is not None:
        return
    room = site.embrasures[side]
    if side not in site.touching:
        if room.low is None or room.low < figures.room.least_mm:
            yield Fault("least_thickness", number, say("metal.behind_without_room", tooth=tooth(number)))
        return
    shared = retainer.partner is not None
    least = figures.room.shared_embrasure_mm if shared else figures.room.least_mm
    if room.high is not None and room.high < least and (number, side) not in cut:
        yield Fault("least_thickness", number, _no_room("metal.passage_thin", number, side, room.high))


def _no_room(code: str, number: int, place: str, room: float) -> Statement:
    return say(code, tooth=tooth(number), place=Word("surface", place), room=quantity(room, "mm"))
