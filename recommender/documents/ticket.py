"""The bench ticket: what the technician does with the design, in order, and what is checked before it leaves."""

from recommender.documents import blocks
from recommender.documents.bench import Instruction, instructions, rule_steps, wax_parts
from recommender.documents.content import content
from recommender.documents.drawing import arch_drawing
from recommender.documents.drawing.layout import Layout
from recommender.documents.letter import foot
from recommender.documents.proposal import Origin, Proposal
from recommender.documents.wording import fields_words, label
from recommender.domain.case import Case, Interval, Measured, expected
from recommender.domain.labels import word_label
from recommender.domain.numbering import display
from recommender.domain.vocabulary import ZONES
from recommender.wording.words import words_in

_MOST_FIELDS = 40


class ProvisionalError(ValueError):
    """The design rests on facts that were not recorded, and no reason was given to print its ticket all the same."""


def ticket(
    proposal: Proposal, origin: Origin, *, numbering: str = "iso", despite_provisional: str | None = None
) -> blocks.Document:
    """The ticket, ready to be set. ``despite_provisional`` is the reason for printing it while questions that
    wait before metal are open or the design is.

    Raises :class:`ProvisionalError` for such a design without a reason in words.
    """
    reason = (despite_provisional or "").strip()
    text = content("ticket")
    case = proposal.case
    waits = [each.field for each in proposal.before_metal]
    if proposal.waits and not reason:
        missing = fields_words(case, [*waits, *proposal.unverified][:_MOST_FIELDS], numbering)[:5]
        tail = f" (among them: {'; '.join(missing)})" if missing else ""
        raise ProvisionalError(f"{case.id}: {text['refused']}{tail}")
    layout = Layout(case, proposal.design)
    sources = _Sources()
    body: list[blocks.Block] = []
    if proposal.waits:
        body.append(blocks.banner(f"{text['provisional']}. Reason given: {reason}"))
    body.append(blocks.paragraph(text["not_approved"], strong=True))
    body += _materials(proposal)
    if waits:
        said = words_in(numbering)
        asked = [said.text(each.statement) for each in proposal.before_metal]
        body += [_heading("before_metal"), blocks.items(asked, small=True)]
    if proposal.provisional:
        lines = fields_words(case, proposal.unverified[:_MOST_FIELDS], numbering)
        body += [_heading("unrecorded"), blocks.items(lines, small=True)]
    drawing = arch_drawing(case, proposal.design, numbering=numbering, provisional=proposal.provisional)
    body.append(blocks.figure(drawing.svg, drawing.alt_text, 0.97))
    body += _survey(case, numbering)
    body += [_heading("blockout"), _numbered(instructions("blockout", layout, proposal), sources)]
    body += _wax(layout, proposal, numbering, sources)
    body += _order(layout, proposal, numbering, sources)
    steps = rule_steps(proposal, numbering)
    if steps:
        body += [_heading("steps"), blocks.items(steps, small=True)]
    body += [_heading("checks"), _numbered(instructions("checks", layout, proposal), sources)]
    body += [_heading("signed"), blocks.answer((), "", text["signed"])]
    body += [_heading("sources"), blocks.items(sources.lines(), small=True)]
    subtitle = f"case {case.id} · {word_label('arch', case.arch)} · {layout.classification.label}"
    return blocks.Document(
        text["title"], subtitle, "en", foot(case, origin), tuple(body), proposal.provisional
    )


class _Sources:
    """Sources are named once, at the end; lines carry their letter."""

    def __init__(self) -> None:
        self._found: dict[str, str] = {}

    def mark(self, source: str) -> str:
        if not source:
            return ""
        if source not in self._found:
            self._found[source] = _letters(len(self._found))
        return f" [{self._found[source]}]"

    def lines(self) -> list[str]:
        return [f"[{mark}] {source}" for source, mark in self._found.items()]


def _letters(index: int) -> str:
    return chr(ord("a") + index) if index < 26 else _letters(index // 26 - 1) + chr(ord("a") + index % 26)


def _heading(name: str) -> blocks.Block:
    return blocks.heading(content("ticket")["sections"][name])


def _numbered(lines: list[Instruction], sources: _Sources) -> blocks.Block:
    return blocks.items([line.text + sources.mark(line.source) for line in lines], numbered=True)


def _materials(proposal: Proposal) -> list[blocks.Block]:
    text = content("ticket")
    design = proposal.design
    alloy = label("alloy", design.alloy) if design.alloy else text["alloy_missing"]
    made = (
        word_label("fabrication", design.fabrication) if design.fabrication else text["fabrication_missing"]
    )
    lines = [f"Frame: {alloy}; fabrication: {made}."]
    others = sorted(
        {
            f"{label('alloy', r.alloy)} ({word_label('attached', r.attached)})"
            if r.attached
            else label("alloy", r.alloy)
            for r in design.retainers or ()
            if r.alloy and r.alloy != design.alloy
        }
    )
    if others:
        lines.append("Arms of another material: " + ", ".join(others) + ".")
    allergy = proposal.case.patient.allergy if proposal.case.patient else None
    if allergy:
        lines.append("Recorded allergy: " + ", ".join(word_label("allergen", item) for item in allergy) + ".")
    elif allergy is None:
        lines.append("Allergies were not recorded: ask before casting.")
    if design.connector:
        lines.append(f"Major connector: {label('connector', design.connector)}.")
    return [_heading("materials"), blocks.items(lines)]


def _survey(case: Case, numbering: str) -> list[blocks.Block]:
    records = case.records
    lines = []
    if records is None or (records.tilt_ap_deg is None and records.tilt_lateral_deg is None):
        lines.append("Tilt of the cast: not recorded; find it again from the tripod marks, or ask.")
    else:
        ap, side = records.tilt_ap_deg, records.tilt_lateral_deg
        lines.append(f"Tilt of the cast: {_degrees(ap)} front down, {_degrees(side)} patient's right down.")
    if records is not None and records.tripod_marked is not None:
        lines.append(
            "Tripod marks are on the cast."
            if records.tripod_marked
            else "No tripod marks: mark the cast first."
        )
    lines += _measured(case, numbering)
    marked = []
    for abutment in case.abutments or ():
        depths = abutment.undercuts_mm
        if depths is None:
            continue
        found = [
            f"{word_label('zone', zone)} {_depth(value)}"
            for zone in ZONES
            if (value := getattr(depths, zone)) is not None and expected(value) > 0
        ]
        if found:
            marked.append([display(abutment.tooth, numbering), ", ".join(found)])
    result = [_heading("survey"), blocks.items(lines)]
    if marked:
        result.append(blocks.table(("Tooth", "Undercuts found by the survey (mm)"), marked, (1, 7)))
    return result


def _measured(case: Case, numbering: str) -> list[str]:
    """What of the survey was measured from a scan, and how the bench finds the same path again."""
    scanned = case.survey
    if scanned is None or not scanned.confirmed:
        return []
    text = content("ticket")
    teeth = ", ".join(display(tooth, numbering) for tooth in scanned.confirmed)
    lines = [text["measured"].format(teeth=teeth)]
    tripod = scanned.path.tripod if scanned.path is not None else None
    if tripod is not None and tripod.points_mm and tripod.heights_level_mm:
        places = "; ".join(
            f"{abs(x):.1f} mm {'left' if x >= 0 else 'right'}, {y:.1f} mm forward, height {height:.1f} mm"
            for (x, y, _), height in zip(tripod.points_mm, tripod.heights_level_mm, strict=True)
        )
        lines.append(text["tripod"].format(places=places))
    return lines


def _degrees(value: Measured | None) -> str:
    if value is None:
        return "not recorded"
    return f"{value} degrees" if isinstance(value, Interval) else f"{value:g} degrees"


def _depth(value: Measured) -> str:
    if isinstance(value, Interval):
        return f"{value.value:.2f} ({value.low:.2f} to {value.high:.2f})"
    return f"{value:.2f}"


def _wax(layout: Layout, proposal: Proposal, numbering: str, sources: _Sources) -> list[blocks.Block]:
    rows = [
        [part.part, part.where, part.section + sources.mark(part.source), part.undercut]
        for part in wax_parts(layout, proposal, numbering)
    ]
    head = ("Part", "At", "Section or gauge", "Undercut of the tip")
    return [_heading("wax"), blocks.table(head, rows, (1.7, 1.1, 4, 1.6))] if rows else []


def _order(layout: Layout, proposal: Proposal, numbering: str, sources: _Sources) -> list[blocks.Block]:
    by_kind: dict[str, list[int]] = {}
    wanted = proposal.design.replacements or {}
    for tooth in layout.frame.order:
        if tooth in wanted:
            by_kind.setdefault(wanted[tooth], []).append(tooth)
    found: list[blocks.Block] = [_heading("order")]
    for kind, teeth in by_kind.items():
        entry = content("bench")["order"][kind]
        where = ", ".join(display(tooth, numbering) for tooth in teeth)
        found.append(
            blocks.paragraph(
                f"{label('replacement', kind)} ({where}){sources.mark(entry['source'])}", strong=True
            )
        )
        found.append(blocks.items(entry["steps"], numbered=True))
    finish = instructions("finish", layout, proposal)
    found.append(blocks.paragraph("Frame", strong=True))
    found.append(_numbered(finish, sources))
    return found
