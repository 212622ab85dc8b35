"""The bench ticket: a first page to build from, still readable after a fax, and the details behind it."""

from recommender.documents import blocks
from recommender.documents.answers.fingerprint import fingerprint
from recommender.documents.answers.signature import said as signature_said
from recommender.documents.bench import Instruction, instructions, rule_steps, wax_parts
from recommender.documents.bench_page import bench_page
from recommender.documents.content import content
from recommender.documents.drawing import arch_drawing
from recommender.documents.drawing.layout import Layout
from recommender.documents.proposal import Origin, Proposal
from recommender.documents.survey_lines import found_undercuts, survey_lines
from recommender.documents.wording import fields_said, foot, heading, where
from recommender.domain.statement import Arg, Choice, Name, Said, Statement, Word, say, several
from recommender.domain.statement import teeth as teeth_of
from recommender.wording.words import StatedError, Words, words_in

_MOST_FIELDS = 40
_NAMED = 5
# How far the drawing may shrink so that all there is to build stands on the first page.
_SHRINK = (1.0, 0.9, 0.8, 0.72, 0.64, 0.56, 0.48)
_SIGNATURE = ("checked", "finished", "released", "date")


class ProvisionalError(StatedError):
    """The design rests on facts that were not recorded, and no reason was given to print its ticket all the same.

    ``statement`` says what is open.
    """


def ticket(
    proposal: Proposal,
    origin: Origin,
    *,
    words: Words | None = None,
    despite_provisional: str | None = None,
) -> blocks.Document:
    """The ticket, ready to be set. ``despite_provisional`` is the reason for printing it while questions that
    wait before metal are open or the design is.

    Raises :class:`ProvisionalError` for such a design without a reason in words.
    """
    words = words or words_in()
    reason = (despite_provisional or "").strip()
    case, waits = proposal.case, [each.field for each in proposal.before_metal]
    if proposal.waits and not reason:
        missing = fields_said(case, [*waits, *proposal.unverified][:_MOST_FIELDS])[:_NAMED]
        raise ProvisionalError(say("ticket.refused", case=Name(case.id), fields=several(missing)))
    layout = Layout(case, proposal.design)
    code = fingerprint(case, proposal.design, proposal.preparation)
    sources = _Sources(words)
    head: list[Statement] = [signature_said(case, code)]
    if proposal.waits:
        head.append(say("ticket.despite", reason=Said(reason)))
    body = [blocks.banner(line) for line in words.lines(head)]
    body.append(blocks.paragraph(words.text(say("ticket.not_approved", design=Name(code))), large=True))
    body += bench_page(layout, proposal, words)
    body.append(blocks.page_break())
    body += _details(layout, proposal, words, sources)
    subtitle = say(
        "ticket.subtitle", case=Name(case.id), arch=Word("arch", case.arch),
        kennedy=Said(layout.classification.label), design=Name(code),
    )  # fmt: skip
    return blocks.Document(
        words.text(say("ticket.title")),
        words.text(subtitle),
        words.language,
        words.text(foot(case, origin, code, "ticket.who")),
        tuple(body),
        _SHRINK,
    )


def _details(layout: Layout, proposal: Proposal, words: Words, sources: "_Sources") -> list[blocks.Block]:
    case = proposal.case
    drawing = arch_drawing(
        case, proposal.design, numbering=words.numbering, language=words.language,
        provisional=proposal.provisional, faults=proposal.faults,
    )  # fmt: skip
    found = [heading("ticket.section.survey", words), blocks.items(words.lines(survey_lines(case)))]
    found += found_undercuts(case, words)
    if proposal.provisional and proposal.unverified:
        lines = words.lines(fields_said(case, proposal.unverified[:_MOST_FIELDS]))
        found += [heading("ticket.section.unrecorded", words), blocks.items(lines, small=True)]
    framework = proposal.framework
    unsettled = [
        check.statement for check in (framework.checks if framework else ()) if check.outcome == "not_checked"
    ]
    if unsettled:
        found += [
            heading("ticket.section.open_checks", words),
            blocks.items(words.lines(unsettled), small=True),
        ]
    found += [
        heading("ticket.section.blockout", words),
        _numbered(instructions("blockout", layout, proposal, words), sources),
    ]
    found += _wax(layout, proposal, words, sources)
    found += _order(layout, proposal, words, sources)
    steps = words.lines(rule_steps(proposal))
    if steps:
        found += [heading("ticket.section.steps", words), blocks.items(steps, small=True)]
    checks = instructions("checks", layout, proposal, words)
    found += [heading("ticket.section.checks", words), _numbered(checks, sources)]
    signature = [words.text(say(f"ticket.signature.{name}")) for name in _SIGNATURE]
    found += [heading("ticket.section.signed", words), blocks.answer("", (), "", signature)]
    found.append(blocks.figure(drawing.svg, drawing.alt_text, 0.8))
    return [*found, heading("ticket.section.sources", words), blocks.items(sources.lines(), small=True)]


class _Sources:
    """Sources are named once, at the end; lines carry their letter."""

    def __init__(self, words: Words) -> None:
        self._words = words
        self._found: dict[str, str] = {}

    def marked(self, what: Arg, source: str) -> str:
        """What a line says, with the letter of its source."""
        if not source:
            return self._words.said(what)
        if source not in self._found:
            self._found[source] = _letters(len(self._found))
        return self._words.text(say("ticket.marked", what=what, mark=Name(self._found[source])))

    def lines(self) -> list[str]:
        """The sources with their letters."""
        told = (say("ticket.source", mark=Name(mark), named=Said(name)) for name, mark in self._found.items())
        return self._words.lines(told)


def _letters(index: int) -> str:
    return chr(ord("a") + index) if index < 26 else _letters(index // 26 - 1) + chr(ord("a") + index % 26)


def _numbered(lines: list[Instruction], sources: _Sources) -> blocks.Block:
    return blocks.items([sources.marked(Said(line.text), line.source) for line in lines], numbered=True)


def _wax(layout: Layout, proposal: Proposal, words: Words, sources: _Sources) -> list[blocks.Block]:
    arch = proposal.case.arch
    rows = [
        [
            words.said(part.part),
            words.text(where(arch, part.teeth) if part.teeth else say("ticket.nothing")),
            sources.marked(part.section, part.source),
            words.said(part.undercut),
        ]
        for part in wax_parts(layout, proposal)
    ]
    head = [words.text(say(f"ticket.head.{name}")) for name in ("part", "at", "section", "tip")]
    return (
        [heading("ticket.section.wax", words), blocks.table(head, rows, (1.7, 1.1, 4, 1.6))] if rows else []
    )


def _order(layout: Layout, proposal: Proposal, words: Words, sources: _Sources) -> list[blocks.Block]:
    by_kind: dict[str, list[int]] = {}
    wanted = proposal.design.replacements or {}
    for tooth in layout.frame.order:
        if tooth in wanted:
            by_kind.setdefault(wanted[tooth], []).append(tooth)
    found: list[blocks.Block] = [heading("ticket.section.order", words)]
    for kind, teeth in by_kind.items():
        entry = content("bench")["order"][kind]
        named = say("papers.at", what=Choice("replacement", kind), teeth=teeth_of(teeth))
        found.append(blocks.paragraph(sources.marked(named, entry["source"]), strong=True))
        found.append(blocks.items(entry["steps"], numbered=True))
    finish = instructions("finish", layout, proposal, words)
    found.append(blocks.paragraph(words.text(say("ticket.section.frame")), strong=True))
    found.append(_numbered(finish, sources))
    return found
