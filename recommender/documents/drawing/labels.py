"""The text beside a drawing: what each tooth carries, and what stands in each space, in words."""

from collections.abc import Sequence
from dataclasses import dataclass

from recommender.documents.drawing.figures import block
from recommender.documents.drawing.ink import symbol_of
from recommender.documents.drawing.layout import Layout
from recommender.documents.drawing.shapes import DrawnPart
from recommender.domain.designs import DesignRetainer
from recommender.domain.statement import Arg, Choice, Said, Statement, Word, quantity, say, several, tooth
from recommender.wording.words import Words


@dataclass(frozen=True, slots=True)
class Label:
    """Text for one place: ``station`` along the arch, a heading (tooth numbers) and what stands there."""

    station: float
    heading: str
    words: str


def labels(layout: Layout, words: Words) -> list[Label]:
    """One label for each tooth that carries something and for each run of like replacement teeth."""
    return [*_tooth_labels(layout, words), *_space_labels(layout, words)]


def run_of(teeth: Sequence[int]) -> Statement:
    """``35``, ``35, 36`` or ``35-37`` for a run in arch order."""
    if len(teeth) > 2:
        return say("papers.run", first=tooth(teeth[0]), last=tooth(teeth[-1]))
    return say("papers.row", parts=several([tooth(one) for one in teeth], "comma"))


def _tooth_labels(layout: Layout, words: Words) -> list[Label]:
    carried: dict[int, list[str]] = {}
    for retainer in layout.design.retainers or ():
        said = retainer_said(retainer)
        if said is not None:
            carried.setdefault(retainer.tooth, []).append(words.text(said))
    indirect = layout.indirect()
    for number, rest in layout.rests().items():
        name: Arg = Choice("rest", rest)
        if number in indirect:
            name = say("drawing.indirect", rest=name)
        carried.setdefault(number, []).append(words.said(name))
    return [
        Label(layout.frame.station(number), words.tooth(number), words.joined(said, "semicolon"))
        for number, said in carried.items()
    ]


def retainer_said(retainer: DesignRetainer) -> Statement | None:
    """An assembly with the undercut that it engages; ``None`` for one without an arm or a housing."""
    if retainer.assembly in ("none", "rest_only"):
        return None
    option, used = Choice("retainer", retainer.assembly), retainer.undercut
    if used is None:
        return say("drawing.retainer", option=option)
    zone = Word("zone", used.zone)
    if used.mm is None:
        return say("drawing.retainer_no_depth", option=option, zone=zone)
    return say("drawing.retainer_tip", option=option, zone=zone, depth=quantity(used.mm, "mm", 2))


def _space_labels(layout: Layout, words: Words) -> list[Label]:
    replacements = layout.design.replacements or {}
    order = [t for t in layout.frame.order if t in set(layout.case.missing)]
    runs: list[list[int]] = []
    for number in order:
        index = layout.frame.order.index(number)
        before = runs[-1][-1] if runs else None
        joined = (
            before is not None
            and layout.frame.order.index(before) == index - 1
            and replacements.get(before) == replacements.get(number)
        )
        if joined:
            runs[-1].append(number)
        else:
            runs.append([number])
    return [
        Label(
            sum(layout.frame.station(number) for number in run) / len(run),
            words.text(run_of(run)),
            words.said(_replacement(replacements.get(run[0]))),
        )
        for run in runs
    ]


def _replacement(kind: str | None) -> Arg:
    return Choice("replacement", kind) if kind else say("drawing.no_replacement")


def part_words(layout: Layout, part: DrawnPart, words: Words) -> str:
    """What a part is, with its teeth, for those who point at it or have the picture read to them."""
    said: Arg = Said(str(block("legend")[symbol_of(part)]))
    teeth = sorted(part.teeth, key=layout.frame.order.index)
    if part.kind == "connector" and part.detail in layout.catalogue["connector"]:
        said = Choice("connector", part.detail)
    elif part.kind in ("retentive_arm", "bar", "attachment", "double_crown", "stud", "tip", "embrasure_body"):
        mine = [r for r in layout.design.retainers or () if part.teeth[0] in (r.tooth, r.partner)]
        told = next((found for r in mine if (found := retainer_said(r)) is not None), None)
        said = say("drawing.part_of", assembly=told, part=said) if told is not None else said
    elif part.kind == "rest":
        if part.detail in layout.catalogue["rest"]:
            said = Choice("rest", part.detail)
        if part.teeth[0] in layout.indirect():
            said = say("drawing.part_indirect", part=said)
    elif part.kind == "missing_tooth":
        said = _replacement((layout.design.replacements or {}).get(part.teeth[0]))
    elif part.kind == "landmark":
        said = Said(str(block("landmarks")[part.detail]))
    return words.text(say("drawing.part", teeth=run_of(teeth) if teeth else None, what=said))


def with_depths(
    said: list[Label], layout: Layout, left: dict[int, list[tuple[str, float]]], words: Words
) -> list[Label]:
    """Labels that also tell the undercuts whose figure found no room beside its mark."""
    found = list(said)
    engaged = {
        (r.tooth, r.undercut.zone) for r in layout.design.retainers or () if r.undercut and r.undercut.mm
    }
    for number, marks in left.items():
        marks = [mark for mark in marks if (number, mark[0]) not in engaged]
        if not marks:
            continue
        each = [
            say("drawing.undercut", zone=Word("zone", zone), depth=quantity(depth, digits=2))
            for zone, depth in marks
        ]
        told = words.text(say("drawing.undercuts", found=several(each, "comma")))
        heading = words.tooth(number)
        index = next((k for k, one in enumerate(found) if one.heading == heading), None)
        if index is None:
            found.append(Label(layout.frame.station(number), heading, told))
        else:
            one = found[index]
            found[index] = Label(one.station, one.heading, words.joined([one.words, told], "semicolon"))
    return found
