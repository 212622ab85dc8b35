"""Bench instructions for a design: which lines of ``shared/documents.yaml`` apply, and the wax of each part."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from recommender.documents.content import content
from recommender.documents.drawing.layout import Layout
from recommender.documents.proposal import Proposal
from recommender.documents.wording import where
from recommender.domain.designs import DesignRetainer
from recommender.domain.statement import Arg, Choice, Said, Statement, Word, quantity, say, several
from recommender.wording.words import Words


@dataclass(frozen=True, slots=True)
class Instruction:
    """One line for the bench with its source."""

    text: str
    source: str


@dataclass(frozen=True, slots=True)
class WaxPart:
    """One row of the wax pattern: the part, its teeth, its section, the undercut of its tip, and the source."""

    part: Arg
    teeth: tuple[int, ...]
    section: Arg
    undercut: Arg
    source: str


def words_of(layout: Layout, proposal: Proposal) -> frozenset[str]:
    """Every word by which a bench line can be called for by this design."""
    design, case = proposal.design, proposal.case
    words = {"always", case.arch, f"fabrication:{design.fabrication or 'cast'}"}
    if design.connector:
        words.add(f"connector:{design.connector}")
        connector = layout.catalogue["connector"][design.connector]
        if case.arch == "maxilla" and design.connector != "unilateral":
            words.add("palate")
        if "plate_on_teeth" in connector.parts or design.plating:
            words.add("plate")
    for base in design.bases or ():
        if base.retention:
            words.add(f"retention:{base.retention}")
        if base.tissue_stop:
            words.add("tissue_stop")
    words |= {f"replacement:{kind}" for kind in (design.replacements or {}).values()}
    for retainer in design.retainers or ():
        option = layout.catalogue["retainer"][retainer.assembly]
        words |= {f"assembly:{option.id}"} | {f"part:{part}" for part in option.parts}
        words |= {f"family:{family}" for family in option.families}
        if option.arm is not None:
            words.add("arms")
        if retainer.attached:
            words.add(f"attached:{retainer.attached}")
        if retainer.alloy:
            words.add(f"alloy:{retainer.alloy}")
    torus = (case.palate.torus if case.palate else None) or (case.floor.torus if case.floor else None)
    if torus not in (None, "none"):
        words.add("torus")
    if case.patient is not None and case.patient.allergy:
        words.add("allergy")
    if extends(layout):
        words.add("extension")
    return frozenset(words)


def extends(layout: Layout) -> bool:
    """Whether a base ends free."""
    return any(space.support == "extension" for space in layout.classification.spaces)


def instructions(section: str, layout: Layout, proposal: Proposal, words: Words) -> list[Instruction]:
    """The lines of a section (``blockout``, ``finish`` or ``checks``) that apply."""
    called = words_of(layout, proposal)
    fill = {"relief": _relief(proposal, words), "thinnest": content("bench")["thinnest"]}
    return [
        Instruction(str(line["text"]).format(**fill), line["source"])
        for line in content("bench")[section]
        if called & set(line["applies"])
    ]


def _relief(proposal: Proposal, words: Words) -> str:
    """The relief written in the design, else that it was not."""
    depths = sorted({base.relief_mm for base in proposal.design.bases or () if base.relief_mm is not None})
    told = several([quantity(depth, "mm") for depth in depths], "and")
    return words.said(told or say("ticket.wax.relief_missing"))


def wax_parts(layout: Layout, proposal: Proposal) -> list[WaxPart]:
    """Each part to be waxed, from the connector out to the arms; like parts stand once, with all their teeth."""
    wax: Mapping[str, Any] = content("bench")["wax"]
    design, none = proposal.design, say("ticket.nothing")
    rows: list[WaxPart] = []

    def add(part: Arg, teeth: Sequence[int], entry: Mapping[str, Any], undercut: Arg = none) -> None:
        rows.append(WaxPart(part, tuple(teeth), Said(entry["section"]), undercut, entry["source"]))

    if design.connector:
        add(Choice("connector", design.connector), (), wax["connector"][design.connector])
    for base in design.bases or ():
        if base.retention is None:
            missing = say("ticket.wax.retention_missing")
            rows.append(WaxPart(say("ticket.wax.base"), tuple(base.teeth), missing, none, ""))
        else:
            add(Word("base_retention", base.retention), base.teeth, wax["base"][base.retention])
    for tooth, rest in layout.rests().items():
        add(Choice("rest", rest), (tooth,), wax["rest"].get(rest, wax["rest"]["occlusal"]))
    for plate in design.proximal_plates or ():
        said = say("ticket.wax.plate", surface=Word("surface", plate.surface))
        add(said, (plate.tooth,), wax["proximal_plate"])
    for tooth, site in layout.uprights():
        add(say("ticket.wax.minor", site=Word("surface", site)), (tooth,), wax["minor_connector"])
    for retainer in design.retainers or ():
        rows += _arms(layout, retainer, wax)
    return _together(rows)


def _together(rows: Sequence[WaxPart]) -> list[WaxPart]:
    """Rows that differ in their teeth alone, as one."""
    found: dict[tuple[Arg, Arg, Arg, str], list[int]] = {}
    for row in rows:
        found.setdefault((row.part, row.section, row.undercut, row.source), []).extend(row.teeth)
    return [
        WaxPart(part, tuple(dict.fromkeys(teeth)), section, undercut, source)
        for (part, section, undercut, source), teeth in found.items()
    ]


def tip_said(retainer: DesignRetainer) -> Statement | None:
    """Where the tip of an arm lies, and how deep."""
    used = retainer.undercut
    if used is None:
        return None
    zone = Word("zone", used.zone)
    if used.mm is None:
        return say("ticket.tip_unknown", zone=zone)
    return say("ticket.tip", zone=zone, depth=quantity(used.mm, "mm", 2))


def _arms(layout: Layout, retainer: DesignRetainer, wax: Mapping[str, Any]) -> list[WaxPart]:
    option = layout.catalogue["retainer"][retainer.assembly]
    at, none = (retainer.tooth,), say("ticket.nothing")
    attached = Word("attached", retainer.attached) if retainer.attached else None
    part = say("ticket.wax.arm", option=Choice("retainer", option.id), attached=attached)
    rows = []
    if option.arm is not None:
        kind = "cast_arm"
        if option.arm.origin == "gingival":
            kind = "bar_arm"
        elif option.arm.section == "round":
            kind = "wire_arm"
        elif "polymer_arm" in option.id:
            kind = "polymer_arm"
        tip = tip_said(retainer) or say("ticket.depth_missing")
        rows.append(WaxPart(part, at, Said(wax[kind]["section"]), tip, wax[kind]["source"]))
    elif option.id not in ("none", "rest_only"):
        rows.append(WaxPart(part, at, say("ticket.wax.by_itself"), none, ""))
    if {"reciprocal_lingual", "reciprocal_facial"} & set(option.parts) and option.id != "rest_only":
        entry = wax["bracing_arm"]
        side = "lingual" if "reciprocal_lingual" in option.parts else "facial"
        said = say("ticket.wax.bracing", side=Word("surface", side))
        rows.append(WaxPart(said, at, Said(entry["section"]), none, entry["source"]))
    return rows


def rule_steps(proposal: Proposal) -> list[Statement]:
    """What the rules tell the bench about the chosen parts, each sentence once with the parts it is about."""
    places: dict[Statement, dict[tuple[str, str], list[int]]] = {}
    for decision, result in sorted(proposal.chosen.items()):
        for step in result.steps:
            parts = places.setdefault(step, {})
            parts.setdefault((decision.kind, result.option), []).append(decision.tooth)
    arch = proposal.case.arch
    return [
        say(
            "ticket.step",
            where=several(
                (_part(kind, option, teeth, arch) for (kind, option), teeth in parts.items()), "comma"
            ),
            what=step,
        )
        for step, parts in places.items()
    ]


def _part(kind: str, option: str, teeth: Sequence[int], arch: str) -> Statement:
    named = [tooth for tooth in teeth if tooth]
    at = where(arch, named) if named else None
    return say("ticket.step_part", option=Choice(kind, option), teeth=at)
