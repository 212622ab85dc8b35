"""Bench instructions for a design: which lines of ``shared/documents.yaml`` apply, and the wax of each part."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from recommender.documents.content import content
from recommender.documents.drawing.layout import Layout
from recommender.documents.proposal import Proposal
from recommender.documents.wording import label
from recommender.domain.case import DesignRetainer
from recommender.domain.labels import word_label
from recommender.domain.numbering import display
from recommender.domain.statement import Statement
from recommender.wording.words import words_in


@dataclass(frozen=True, slots=True)
class Instruction:
    """One line for the bench with its source."""

    text: str
    source: str


@dataclass(frozen=True, slots=True)
class WaxPart:
    """One row of the wax pattern: the part, where, its section, the undercut of its tip, and the source."""

    part: str
    where: str
    section: str
    undercut: str
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
    if any(space.support == "extension" for space in layout.classification.spaces):
        words.add("extension")
    return frozenset(words)


def instructions(section: str, layout: Layout, proposal: Proposal) -> list[Instruction]:
    """The lines of a section (``blockout``, ``finish`` or ``checks``) that apply."""
    words = words_of(layout, proposal)
    fill = {"relief": _relief(proposal), "thinnest": content("bench")["thinnest"]}
    return [
        Instruction(str(line["text"]).format(**fill), line["source"])
        for line in content("bench")[section]
        if words & set(line["applies"])
    ]


def _relief(proposal: Proposal) -> str:
    """The relief written in the design, else that it was not."""
    depths = sorted({base.relief_mm for base in proposal.design.bases or () if base.relief_mm is not None})
    return " and ".join(f"{depth:g} mm" for depth in depths) if depths else "0.5 to 1.0 mm (none was written)"


def wax_parts(layout: Layout, proposal: Proposal, numbering: str) -> list[WaxPart]:
    """Each part to be waxed, from the connector out to the arms."""
    wax: Mapping[str, Any] = content("bench")["wax"]
    design = proposal.design

    def teeth(numbers: Sequence[int]) -> str:
        return ", ".join(display(tooth, numbering) for tooth in numbers)

    rows: list[WaxPart] = []
    if design.connector:
        entry = wax["connector"][design.connector]
        rows.append(
            WaxPart(label("connector", design.connector), "-", entry["section"], "-", entry["source"])
        )
    for base in design.bases or ():
        if base.retention is None:
            rows.append(WaxPart("base", teeth(base.teeth), "retention not recorded: ask", "-", ""))
            continue
        entry = wax["base"][base.retention]
        name = word_label("base_retention", base.retention)
        rows.append(WaxPart(name, teeth(base.teeth), entry["section"], "-", entry["source"]))
    simple = (
        ("rest", [(tooth, label("rest", rest)) for tooth, rest in layout.rests().items()]),
        ("proximal_plate", [(p.tooth, "proximal plate, " + p.surface) for p in design.proximal_plates or ()]),
        ("minor_connector", [(tooth, "minor connector, " + site) for tooth, site in layout.uprights()]),
    )
    for kind, found in simple:
        by_name: dict[str, list[int]] = {}
        for tooth, name in found:
            by_name.setdefault(name, []).append(tooth)
        rows += [
            WaxPart(name, teeth(where), wax[kind]["section"], "-", wax[kind]["source"])
            for name, where in by_name.items()
        ]
    for retainer in design.retainers or ():
        rows += _arms(layout, retainer, wax, numbering)
    return rows


def _arms(layout: Layout, retainer: DesignRetainer, wax: Mapping[str, Any], numbering: str) -> list[WaxPart]:
    option = layout.catalogue["retainer"][retainer.assembly]
    where = display(retainer.tooth, numbering)
    rows = []
    if option.arm is not None:
        kind = "cast_arm"
        if option.arm.origin == "gingival":
            kind = "bar_arm"
        elif option.arm.section == "round":
            kind = "wire_arm"
        elif "polymer_arm" in option.id:
            kind = "polymer_arm"
        used = retainer.undercut
        depth = content("ticket")["depth_missing"]
        if used is not None:
            known = f"{used.mm:.2f} mm" if used.mm is not None else depth
            depth = f"{word_label('zone', used.zone)}, {known}"
        attached = f" ({word_label('attached', retainer.attached)})" if retainer.attached else ""
        rows.append(WaxPart(option.label + attached, where, wax[kind]["section"], depth, wax[kind]["source"]))
    elif option.id not in ("none", "rest_only"):
        rows.append(WaxPart(option.label, where, "by its own parts and crown", "-", ""))
    if {"reciprocal_lingual", "reciprocal_facial"} & set(option.parts) and option.id != "rest_only":
        entry = wax["bracing_arm"]
        side = "lingual" if "reciprocal_lingual" in option.parts else "facial"
        rows.append(WaxPart(f"bracing arm, {side}", where, entry["section"], "-", entry["source"]))
    return rows


def rule_steps(proposal: Proposal, numbering: str) -> list[str]:
    """What the rules tell the bench about the chosen parts, each sentence once with the places it is about."""
    places: dict[Statement, list[str]] = {}
    for decision, result in sorted(proposal.chosen.items()):
        for step in result.steps:
            name = label(decision.kind, result.option)
            tooth = f" {display(decision.tooth, numbering)}" if decision.tooth else ""
            places.setdefault(step, []).append(f"{name}{tooth}")
    lines = []
    for step, found in places.items():
        shown = list(dict.fromkeys(found))
        where = ", ".join(shown[:3]) + (f" and {len(shown) - 3} more" if len(shown) > 3 else "")
        lines.append(f"{where}: {words_in(numbering).text(step)}")
    return lines
