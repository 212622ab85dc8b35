"""The first page of the ticket: what is built, in large type, with nothing that a fax would lose."""

from recommender.documents import blocks
from recommender.documents.answers.points import question_points
from recommender.documents.bench import extends, tip_said
from recommender.documents.drawing import arch_drawing
from recommender.documents.drawing.layout import Layout
from recommender.documents.proposal import Proposal
from recommender.documents.survey_lines import cast_said, tilt_said, tilts
from recommender.documents.wording import heading, runs_in, where
from recommender.domain.case import Case
from recommender.domain.designs import Base
from recommender.domain.statement import Arg, Choice, Several, Statement, Word, count, quantity, say, several
from recommender.domain.statement import teeth as teeth_of
from recommender.wording.words import Words

_DRAWING = 0.8


def bench_page(layout: Layout, proposal: Proposal, words: Words) -> list[blocks.Block]:
    """Frame, path, drawing, one row a tooth, one row a space; what must stop the work stands before them."""
    found: list[blocks.Block] = []
    faults = words.lines(
        say("ticket.fault", number=count(place), what=flag.said)
        for place, flag in enumerate(proposal.faults, 1)
    )
    if faults:
        found += [blocks.banner(words.text(say("ticket.faults"))), blocks.items(faults, large=True)]
    questions = [cell for point in question_points(proposal.before_metal) for cell in point.cells]
    if questions:
        found += [
            heading("ticket.section.before_metal", words),
            blocks.items([words.said(one) for one in questions], large=True),
        ]
    found += [
        heading("ticket.section.build", words),
        blocks.items(words.lines(_frame(layout, proposal)), large=True),
    ]
    drawing = arch_drawing(
        proposal.case, proposal.design, numbering=words.numbering, language=words.language,
        with_labels=False, with_legend=False, with_undercuts=False, faults=proposal.faults,
    )  # fmt: skip
    found.append(blocks.figure(drawing.svg, drawing.alt_text, _DRAWING))
    return [*found, *_teeth(layout, proposal, words), *_spaces(proposal, words)]


def _frame(layout: Layout, proposal: Proposal) -> list[Statement]:
    design, case = proposal.design, proposal.case
    lines = [
        say(
            "ticket.frame",
            connector=Choice("connector", design.connector)
            if design.connector
            else say("ticket.connector_missing"),
            alloy=Choice("alloy", design.alloy) if design.alloy else say("ticket.alloy_missing"),
            made=Word("fabrication", design.fabrication)
            if design.fabrication
            else say("ticket.fabrication_missing"),
        )
    ]
    if design.plating:
        ends = [list(plating.teeth) for plating in design.plating]
        lines.append(say("ticket.plated", teeth=where(case.arch, [tooth for run in ends for tooth in run])))
    lines += [_allergy(case), *_paths(proposal), *cast_said(case)]
    if extends(layout):
        made = case.records.altered_cast if case.records is not None else None
        word = "unknown" if made is None else "made" if made else "at_rest"
        lines.append(say(f"papers.extension_{word}"))
    return lines


def _allergy(case: Case) -> Statement:
    known = case.patient.allergy if case.patient else None
    if known is None:
        return say("ticket.allergy_missing")
    if not known:
        return say("ticket.no_allergy")
    return say("ticket.allergy", allergens=several([Word("allergen", one) for one in known], "comma"))


def _paths(proposal: Proposal) -> list[Statement]:
    """The path of placement; for a framework that is rotated in, both paths with the tripod of each."""
    rigid = [r.tooth for r in proposal.design.retainers or () if r.assembly == "rigid_rotational"]
    if not rigid:
        return [tilt_said(proposal.case)]
    records, at = proposal.case.records, teeth_of(rigid)
    front, side = tilts(records.tilt_ap_deg, records.tilt_lateral_deg) if records else tilts(None, None)
    return [
        say("ticket.rotational", teeth=at),
        say("ticket.path_first", teeth=at),
        say("ticket.path_last", front=front, side=side),
    ]


def _teeth(layout: Layout, proposal: Proposal, words: Words) -> list[blocks.Block]:
    """One row for each tooth that carries something."""
    rows = []
    nothing = say("ticket.nothing")
    retainers, rests = {r.tooth: r for r in proposal.design.retainers or ()}, layout.rests()
    plates: dict[int, list[Arg]] = {}
    for plate in proposal.design.proximal_plates or ():
        height = quantity(plate.height_mm, "mm") if plate.height_mm is not None else None
        said = say("ticket.plate", surface=Word("surface", plate.surface), height=height)
        plates.setdefault(plate.tooth, []).append(said)
    for tooth, site in layout.uprights():
        plates.setdefault(tooth, []).append(say("ticket.minor", site=Word("surface", site)))
    levers = _levers(proposal)
    for tooth in layout.frame.order:
        retainer, rest = retainers.get(tooth), rests.get(tooth)
        holds = retainer is not None and retainer.assembly != "none"
        if not holds and rest is None and tooth not in plates:
            continue
        clasp: Arg = nothing
        if retainer is not None and holds:
            clasp = say(
                "ticket.retainer", option=Choice("retainer", retainer.assembly), tip=tip_said(retainer),
                attached=Word("attached", retainer.attached) if retainer.attached else None,
                alloy=Choice("alloy", retainer.alloy)
                if retainer.alloy and retainer.alloy != proposal.design.alloy
                else None,
            )  # fmt: skip
        seat: Arg = Choice("rest", rest) if rest is not None else nothing
        if rest is not None and tooth in layout.indirect():
            seat = say("ticket.indirect", rest=seat, lever=levers.get(tooth))
        frame = several(plates.get(tooth, ()), "comma") or nothing
        rows.append([words.tooth(tooth), words.said(clasp), words.said(seat), words.said(frame)])
    head = [words.text(say(f"ticket.head.{name}")) for name in ("tooth", "clasp", "rest", "frame")]
    return [blocks.table(head, rows, (0.7, 3.4, 2.0, 2.3), large=True)] if rows else []


def _levers(proposal: Proposal) -> dict[int, Arg]:
    """The lever of each seat against lifting, as the framework counts it; none for a stored design."""
    if proposal.framework is None:
        return {}
    return {seat.tooth: quantity(seat.lever_mm, "mm", 0) for seat in proposal.framework.indirect_retainers}


def _spaces(proposal: Proposal, words: Words) -> list[blocks.Block]:
    """One row for each run of like replacement teeth, with the base under it."""
    wanted = proposal.design.replacements or {}
    rows = []
    for run in runs_in(proposal.case.arch, proposal.case.missing):
        by_kind: dict[str, list[int]] = {}
        for tooth in run:
            by_kind.setdefault(str(wanted.get(tooth, "")), []).append(tooth)
        for kind, teeth in by_kind.items():
            held: Arg = Choice("replacement", kind) if kind else say("drawing.no_replacement")
            under = [base for base in proposal.design.bases or () if set(base.teeth) & set(teeth)]
            base = several(_base(one) for one in under) or say("ticket.nothing")
            rows.append([words.text(where(proposal.case.arch, teeth)), words.said(held), words.said(base)])
    head = [words.text(say(f"ticket.head.{name}")) for name in ("space", "teeth", "base")]
    return [blocks.table(head, rows, (1.2, 3.2, 4.0), large=True)] if rows else []


def _base(base: Base) -> Statement:
    parts: list[Arg] = [
        Word("base_retention", base.retention) if base.retention else say("ticket.base_unknown")
    ]
    if base.relief_mm is not None:
        parts.append(say("ticket.relief", depth=quantity(base.relief_mm, "mm")))
    if base.tissue_stop:
        parts.append(say("ticket.stop"))
    if base.flange is not None:
        parts.append(say("ticket.flange" if base.flange else "ticket.no_flange"))
    return say("papers.row", parts=Several(tuple(parts), "comma"))
