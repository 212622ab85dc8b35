"""The letter to the dentist: one or two pages that propose, give reasons, and leave the decision where it belongs."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

from recommender.advice.confidence.answers import Confidence
from recommender.advice.confidence.attach import with_standing
from recommender.advice.confidence.values import Standing
from recommender.advice.model import Contribution, Decision, Recommendation
from recommender.advice.recommend import recommendation
from recommender.documents import blocks
from recommender.documents.content import content
from recommender.documents.departures import Departure, departures
from recommender.documents.drawing import arch_drawing
from recommender.documents.proposal import Origin, Proposal, proposal_of
from recommender.documents.wording import (
    differences,
    fields_words,
    item_title,
    label,
    step_words,
)
from recommender.domain.case import Case, Design
from recommender.domain.labels import word_label
from recommender.domain.numbering import display
from recommender.domain.statement import Field, Said, Statement, say, several
from recommender.wording.words import ended, words_in

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis
from recommender.advice.recommend import Recommender

_GAPS = 8
_TELLING = 3
_NOTHING = ("none", "leave_open", "rest_only")


def letter(
    recommender: "Recommender", case: Case, origin: Origin, *, numbering: str = "iso", framework: int = 1
) -> blocks.Document:
    """The letter for a case, ready to be set.

    Raises ``NoAdviceError`` where nothing is to be replaced, ``NoDesignError`` for a framework that is not there; a
    case for which no framework at all could be assembled gets a letter that says so and why.
    """
    analysis = recommender.work(case)
    answer = with_standing(recommendation(analysis, max(framework, 3)), Confidence(analysis))
    return letter_about(analysis, answer, origin, numbering=numbering, framework=framework)


def letter_about(
    analysis: "CaseAnalysis",
    answer: Recommendation,
    origin: Origin,
    *,
    numbering: str = "iso",
    framework: int = 1,
    said: Mapping[Decision, str] | None = None,
) -> blocks.Document:
    """The letter for an answer that is worked out already, whose frameworks a designer may have changed.

    ``said`` puts the designer's own words in place of the reasons for a departure.
    """
    case = answer.case
    if not answer.frameworks:
        return _without_framework(answer, origin, numbering)
    proposal = proposal_of(answer, framework)
    found = tuple(
        replace(item, why=(say("designer", words=Said(said[item.decision])),), precedents=())
        if said and said.get(item.decision)
        else item
        for item in departures(analysis, proposal)
    )
    text = content("letter")
    body: list[blocks.Block] = []
    if proposal.provisional:
        body.append(blocks.banner(text["provisional"]))
    body += _opening(case, text)
    body += _request(case, numbering)
    body += _measured(case, numbering)
    body += _proposed(proposal, numbering)
    body += _reasons(proposal, numbering)
    body += _departures(case, found, numbering)
    body += _preparation(proposal, numbering)
    body += _precedents(proposal, origin, numbering)
    body += _alternatives(answer, framework, numbering)
    body += _gaps(answer, proposal, numbering)
    body += _cautions(answer, proposal, numbering)
    body += _closing(text)
    return _document(answer, origin, body, proposal.provisional)


def _document(
    answer: Recommendation, origin: Origin, body: list[blocks.Block], provisional: bool
) -> blocks.Document:
    text = content("letter")
    case = answer.case
    subtitle = f"{text['to']} · case {case.id} · {word_label('arch', case.arch)} · {answer.kennedy.label}"
    return blocks.Document(text["title"], subtitle, "en", foot(case, origin), tuple(body), provisional)


def foot(case: Case, origin: Origin) -> str:
    """The words at the foot of every page."""
    library = f"library {origin.library}" + (" (demonstration, invented)" if origin.demo else "")
    return f"case {case.id} · {origin.rules} · {library} · {content('letter')['footer']}"


def _heading(name: str) -> blocks.Block:
    return blocks.heading(content("letter")["sections"][name])


def _opening(case: Case, text: object) -> list[blocks.Block]:
    words = content("letter")
    return [blocks.paragraph(words["opening"] if case.prescription else words["opening_no_prescription"])]


def _request(case: Case, numbering: str) -> list[blocks.Block]:
    asked = case.prescription
    if asked is None:
        return []
    parts = []
    if asked.connector:
        parts.append(label("connector", asked.connector))
    by_option: dict[str, list[str]] = {}
    for kind, choices in (
        ("retainer", asked.retainers),
        ("rest", asked.rests),
        ("replacement", asked.replacements),
    ):
        for tooth, option in sorted((choices or {}).items()):
            by_option.setdefault(label(kind, option), []).append(display(tooth, numbering))
    parts += [f"{name} ({', '.join(teeth)})" for name, teeth in by_option.items()]
    if asked.alloy:
        parts.append(label("alloy", asked.alloy))
    found = [_heading("request")]
    found.append(blocks.paragraph("; ".join(parts) + "." if parts else content("letter")["none_asked"]))
    if asked.note:
        found.append(blocks.quoted(asked.note))
    return found


def _measured(case: Case, numbering: str) -> list[blocks.Block]:
    """That figures were measured from a scan, of which teeth and at which path."""
    scanned = case.survey
    if scanned is None or not scanned.confirmed:
        return []
    path = scanned.path
    told = "" if path is None else f"{path.tilt_ap_deg or 0:g}° front down, {path.tilt_lateral_deg or 0:g}° right down"
    teeth = ", ".join(display(tooth, numbering) for tooth in scanned.confirmed)
    return [blocks.paragraph(content("letter")["measured"].format(teeth=teeth, path=told))]


def _proposed(proposal: Proposal, numbering: str) -> list[blocks.Block]:
    design = proposal.design
    alloy = label("alloy", design.alloy) if design.alloy else content("ticket")["alloy_missing"]
    connector = label("connector", design.connector) if design.connector else "no major connector"
    drawing = arch_drawing(
        proposal.case, design, numbering=numbering, provisional=proposal.provisional, with_undercuts=True
    )
    said = (
        f"{connector[0].upper()}{connector[1:]}, {alloy}. Everything on the teeth stands beside the drawing."
    )
    return [_heading("proposal"), blocks.paragraph(said), blocks.figure(drawing.svg, drawing.alt_text, 0.97)]


def _reasons(proposal: Proposal, numbering: str) -> list[blocks.Block]:
    """The strongest rule in favour of the connector, of a retainer, and of a replacement tooth."""
    lines: list[str] = []
    for kind in ("connector", "retainer", "replacement"):
        best: tuple[float, str, str] | None = None
        for decision, result in sorted(proposal.chosen.items()):
            if decision.kind != kind or result.option in _NOTHING:
                continue
            for line in result.contributions:
                if line.kind == "rule" and line.points > 0 and (best is None or line.points > best[0]):
                    best = (line.points, label(kind, result.option), words_in(numbering).text(line.statement))
        if best is not None:
            lines.append(f"{best[1][0].upper()}{best[1][1:]}: {best[2]}")
    return [_heading("why"), blocks.items(lines)] if lines else []


def _departures(case: Case, found: tuple[Departure, ...], numbering: str) -> list[blocks.Block]:
    if case.prescription is None:
        return []
    text = content("letter")
    rows = [
        [
            item_title(item.decision, numbering),
            label(item.decision.kind, item.asked),
            label(item.decision.kind, item.proposed) if item.proposed else "-",
            _sentences((*item.why, *item.precedents), numbering),
        ]
        for item in found
        if item.departs
    ]
    result = [_heading("departures")]
    if rows:
        result.append(blocks.paragraph(text["departures_intro"]))
        result.append(blocks.table(("Item", "You asked for", "We propose", "Why"), rows, (1.2, 1.4, 1.4, 4)))
    else:
        result.append(blocks.paragraph(text["follows"]))
    remarks = []
    for item in found:
        if not item.departs and item.why:
            choice = f"{item_title(item.decision, numbering)} ({label(item.decision.kind, item.asked)})"
            remarks.append(f"{choice}: {_sentences(item.why, numbering)}")
    if remarks:
        result += [_heading("remarks"), blocks.items(remarks)]
    return result


def _preparation(proposal: Proposal, numbering: str) -> list[blocks.Block]:
    text = content("letter")
    lines = []
    for step in proposal.preparation:
        asks = not step.routine and step.permitted is not True
        lines.append(step_words(step, numbering) + (f" - {text['ask_leave']}" if asks else ""))
    body = blocks.items(lines, numbered=True) if lines else blocks.paragraph(text["no_preparation"])
    return [_heading("preparation"), body]


def _precedents(proposal: Proposal, origin: Origin, numbering: str) -> list[blocks.Block]:
    text = content("letter")
    if origin.library == "none":
        return [_heading("precedents"), blocks.paragraph(text["no_library"])]
    ranked: dict[str, list[tuple[float, str, str, Contribution]]] = {}
    for decision, result in sorted(proposal.chosen.items()):
        for line in result.contributions:
            if line.kind == "precedent" and line.same:
                title = f"{item_title(decision, numbering)}, {label(decision.kind, result.option)}"
                ranked.setdefault(decision.kind, []).append((line.similarity or 0.0, line.id, title, line))
    # One stored case stands once, at the choice where it is most alike; each kind of choice has its nearest ones.
    shown: dict[str, tuple[float, str, Contribution]] = {}
    for kind, most in (("retainer", 2), ("connector", 1), ("replacement", 1)):
        found_here = sorted(ranked.get(kind, ()), key=lambda entry: (-entry[0], entry[1]))
        fresh = [entry for entry in found_here if entry[1] not in shown]
        for alike, case_id, title, line in list({entry[1]: entry for entry in reversed(fresh)}.values())[
            ::-1
        ][:most]:
            shown[case_id] = (alike, title, line)
        # Counter-evidence belongs beside the evidence: the nearest case that went badly is shown too.
        for alike, case_id, title, line in [entry for entry in fresh if entry[3].points < 0][:1]:
            shown.setdefault(case_id, (alike, title, line))
    rows = [
        [case_id, title, f"{alike:.0%}", words_in(numbering).said(line.statement.arg("fared"))]
        for case_id, (alike, title, line) in shown.items()
    ]
    found = [_heading("precedents")]
    if rows:
        found.append(
            blocks.table(("Case", "Same choice at", "Alike", "How it fared"), rows, (1.2, 2.8, 0.6, 2.4))
        )
        found.append(blocks.paragraph(text["likeness_note"], small=True))
    else:
        found.append(blocks.paragraph(text["no_precedents"]))
    if origin.demo:
        found.append(blocks.paragraph(text["demo"], small=True))
    return found


def _alternatives(answer: Recommendation, framework: int, numbering: str) -> list[blocks.Block]:
    first = answer.frameworks[framework - 1]
    lines = [
        "; ".join(differences(first, other, numbering)) or label("connector", other.connector)
        for index, other in enumerate(answer.frameworks, start=1)
        if index != framework
    ][:2]
    body = (
        blocks.items([line[0].upper() + line[1:] + "." for line in lines])
        if lines
        else blocks.paragraph(content("letter")["no_alternatives"])
    )
    return [_heading("alternatives"), body]


def _gaps(answer: Recommendation, proposal: Proposal, numbering: str) -> list[blocks.Block]:
    """What the choices rest on first, then the widest of the other gaps."""
    text = content("letter")
    paths = list(dict.fromkeys([*proposal.unverified, *(gap.field for gap in answer.not_recorded)]))
    standing = proposal.framework.standing if proposal.framework else None
    # the sentence on how it stands names the most telling ones and takes their room
    most = _GAPS if standing is None else _GAPS - _TELLING
    lines = fields_words(answer.case, paths[: 3 * _GAPS], numbering)[:most]
    found = [_heading("gaps")]
    if standing is not None:
        found.append(blocks.paragraph(_standing(standing, proposal, numbering)))
    if not lines:
        return [*found, blocks.paragraph(text["no_gaps"])]
    rest = len(paths) - 3 * _GAPS
    if rest > 0:
        lines.append(f"and {rest} further fields that weigh less; the full list comes with the case")
    return [*found, blocks.items(lines, small=True)]


def _standing(standing: Standing, proposal: Proposal, numbering: str) -> str:
    """How the proposal stands beside what was not recorded: one sentence, in words, without figures."""
    fields = [answer.field for answer in standing.answers] or proposal.unverified[:_TELLING]
    named = several(Field(path) for path in fields)
    code = "letter_firm" if standing.firm or named is None else f"letter_{standing.word}"
    return words_in(numbering).text(say(f"confidence.{code}", fields=None if code == "letter_firm" else named))


def _cautions(answer: Recommendation, proposal: Proposal, numbering: str) -> list[blocks.Block]:
    found: list[blocks.Block] = []
    framework = proposal.framework
    open_checks = (
        [check for check in framework.checks if check.outcome in ("failed", "not_checked")]
        if framework
        else []
    )
    if open_checks:
        words = {"failed": "not met", "not_checked": "could not be checked"}
        found += [
            _heading("checks"),
            blocks.items(
                [f"{words_in(numbering).text(c.statement)}: {words[c.outcome]}" for c in open_checks], small=True
            ),
        ]
    said = dict.fromkeys([*(framework.cautions if framework else ()), *answer.cautions])
    if said:
        found += [
            _heading("cautions"),
            blocks.items(words_in(numbering).lines(said), small=True),
        ]
    return found


def _closing(text: object) -> list[blocks.Block]:
    words = content("letter")
    return [
        blocks.paragraph(words["safety"], small=True),
        _heading("answer"),
        blocks.answer(words["answers"], words["changes"], words["signature"]),
    ]


def _without_framework(answer: Recommendation, origin: Origin, numbering: str) -> blocks.Document:
    """A letter that says why nothing whole can be proposed, and the nearest way out of it."""
    text = content("letter")
    drawing = arch_drawing(answer.case, Design(), numbering=numbering, with_legend=False)
    body = [blocks.paragraph(text["opening_none"]), *_request(answer.case, numbering), _heading("none")]
    body += [blocks.paragraph(text["none_text"]), blocks.figure(drawing.svg, drawing.alt_text, 0.8)]
    rows = _closed_places(answer, numbering)
    if rows:
        head = ("Place", "Nearest option", "What stands in the way", "What would open it")
        body.append(blocks.table(head, rows, (1.2, 1.2, 3, 1.6)))
    else:
        body.append(blocks.paragraph(text["none_together"]))
    gaps = fields_words(answer.case, [gap.field for gap in answer.not_recorded[: 3 * _GAPS]], numbering)[
        :_GAPS
    ]
    if gaps:
        body += [_heading("gaps"), blocks.items(gaps, small=True)]
    body += [
        _heading("cautions"),
        blocks.items(words_in(numbering).lines(answer.cautions), small=True),
    ]
    body += [blocks.paragraph(text["safety"], small=True), _heading("answer")]
    body.append(blocks.answer(text["answers_none"], text["changes"], text["signature"]))
    return _document(answer, origin, body, False)


def _closed_places(answer: Recommendation, numbering: str) -> list[list[str]]:
    """Every place at which nothing useful is open: the option nearest to being opened, and what keeps it shut."""
    told: dict[tuple[str, str, str], list[str]] = {}
    for result in (*answer.retainers.values(), answer.connector, *answer.replacements.values()):
        useful = [option for option in result.ranked if option.option not in _NOTHING]
        if any(option.status in ("open", "needs_preparation") for option in useful) or not useful:
            continue
        shut = [option for option in useful if option.blocked_by] or useful
        # What a preparation would open comes first, then what is least closed.
        nearest = min(shut, key=lambda option: (not option.unlocked_by, option.rank))
        reasons = " ".join(words_in(numbering).lines(block.statement for block in nearest.blocked_by[:2])) or "-"
        way_out = "; ".join(step_words(step, numbering) for step in nearest.unlocked_by) or text_none()
        key = (label(result.decision.kind, nearest.option), reasons, way_out)
        told.setdefault(key, []).append(item_title(result.decision, numbering))
    return [[", ".join(places), *key] for key, places in told.items()]


def _sentences(statements: Iterable[Statement], numbering: str) -> str:
    return " ".join(ended(line) for line in words_in(numbering).lines(statements))


def text_none() -> str:
    """What is printed where no preparation would help."""
    return str(content("letter")["no_way_out"])
