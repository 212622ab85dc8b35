"""The text beside a drawing: what each tooth carries, and what stands in each space, in words."""

from dataclasses import dataclass

from recommender.documents.content import content
from recommender.documents.drawing.figures import block
from recommender.documents.drawing.ink import symbol_of
from recommender.documents.drawing.layout import Layout
from recommender.documents.drawing.shapes import DrawnPart
from recommender.domain.case import DesignRetainer
from recommender.domain.labels import word_label
from recommender.domain.numbering import display


@dataclass(frozen=True, slots=True)
class Label:
    """Text for one place: ``station`` along the arch, a heading (tooth numbers) and what stands there."""

    station: float
    heading: str
    words: str


def labels(layout: Layout, numbering: str) -> list[Label]:
    """One label for each tooth that carries something and for each run of like replacement teeth."""
    return [*_tooth_labels(layout, numbering), *_space_labels(layout, numbering)]


def option_label(layout: Layout, decision: str, identifier: str) -> str:
    """What the catalogue calls an option."""
    found = layout.catalogue[decision].get(identifier)
    return found.label if found is not None else identifier.replace("_", " ")


def teeth_words(teeth: list[int], numbering: str) -> str:
    """``35``, ``35, 36`` or ``35-37`` for a run in arch order."""
    shown = [display(tooth, numbering) for tooth in teeth]
    return shown[0] + "-" + shown[-1] if len(shown) > 2 else ", ".join(shown)


def _tooth_labels(layout: Layout, numbering: str) -> list[Label]:
    words = content("labels")
    carried: dict[int, list[str]] = {}
    for retainer in layout.design.retainers or ():
        said = retainer_words(layout, retainer)
        if said:
            carried.setdefault(retainer.tooth, []).append(said)
    indirect = layout.indirect()
    for tooth, rest in layout.rests().items():
        name = option_label(layout, "rest", rest)
        if tooth in indirect:
            name += f" ({words['indirect']})"
        carried.setdefault(tooth, []).append(name)
    return [
        Label(layout.frame.station(tooth), display(tooth, numbering), "; ".join(said))
        for tooth, said in carried.items()
    ]


def retainer_words(layout: Layout, retainer: DesignRetainer) -> str:
    """An assembly in words with the undercut that it engages, e.g. ``I-bar clasp, midfacial 0.25 mm``."""
    if retainer.assembly in ("none", "rest_only"):
        return ""
    said = option_label(layout, "retainer", retainer.assembly)
    if retainer.undercut is not None:
        zone = word_label("zone", retainer.undercut.zone)
        depth = retainer.undercut.mm
        said += (
            f", {zone} {depth:.2f} mm" if depth is not None else f", {zone}, {content('labels')['no_depth']}"
        )
    return said


def _space_labels(layout: Layout, numbering: str) -> list[Label]:
    replacements = layout.design.replacements or {}
    order = [t for t in layout.frame.order if t in set(layout.case.missing)]
    runs: list[list[int]] = []
    for tooth in order:
        index = layout.frame.order.index(tooth)
        before = runs[-1][-1] if runs else None
        joined = (
            before is not None
            and layout.frame.order.index(before) == index - 1
            and replacements.get(before) == replacements.get(tooth)
        )
        if joined:
            runs[-1].append(tooth)
        else:
            runs.append([tooth])
    found = []
    for run in runs:
        kind = replacements.get(run[0])
        said = option_label(layout, "replacement", kind) if kind else content("labels")["no_replacement"]
        station = sum(layout.frame.station(tooth) for tooth in run) / len(run)
        found.append(Label(station, teeth_words(run, numbering), said))
    return found


def part_words(layout: Layout, part: DrawnPart, numbering: str) -> str:
    """What a part is, with its teeth, for those who point at it or have the picture read to them."""
    said = str(block("legend")[symbol_of(part)])
    order = layout.frame.order
    teeth = sorted(part.teeth, key=order.index)
    where = teeth_words(teeth, numbering) + ": " if teeth else ""
    if part.kind == "connector" and part.detail in layout.catalogue["connector"]:
        said = option_label(layout, "connector", part.detail)
    elif part.kind in ("retentive_arm", "bar", "attachment", "double_crown", "stud", "tip", "embrasure_body"):
        mine = [
            r for r in layout.design.retainers or () if r.tooth == part.teeth[0] or r.partner == part.teeth[0]
        ]
        told = next((retainer_words(layout, r) for r in mine if retainer_words(layout, r)), "")
        said = f"{told} ({said})" if told else said
    elif part.kind == "rest":
        site = part.detail
        if site in layout.catalogue["rest"]:
            said = option_label(layout, "rest", site)
        if part.teeth[0] in layout.indirect():
            said += f" ({content('labels')['indirect']})"
    elif part.kind == "missing_tooth":
        kind = (layout.design.replacements or {}).get(part.teeth[0])
        said = option_label(layout, "replacement", kind) if kind else content("labels")["no_replacement"]
    elif part.kind == "landmark":
        said = str(block("landmarks")[part.detail])
    return where + said


def with_depths(
    said: list[Label], layout: Layout, left: dict[int, list[tuple[str, float]]], numbering: str
) -> list[Label]:
    """Labels that also tell the undercuts whose figure found no room beside its mark."""
    found = list(said)
    engaged = {
        (r.tooth, r.undercut.zone) for r in layout.design.retainers or () if r.undercut and r.undercut.mm
    }
    for tooth, marks in left.items():
        marks = [mark for mark in marks if (tooth, mark[0]) not in engaged]
        if not marks:
            continue
        told = ", ".join(f"{word_label('zone', zone)} {depth:.2f}" for zone, depth in marks)
        told = f"{content('labels')['undercuts']}: {told} mm"
        heading = display(tooth, numbering)
        index = next((k for k, one in enumerate(found) if one.heading == heading), None)
        if index is None:
            found.append(Label(layout.frame.station(tooth), heading, told))
        else:
            one = found[index]
            found[index] = Label(one.station, one.heading, f"{one.words}; {told}")
    return found
