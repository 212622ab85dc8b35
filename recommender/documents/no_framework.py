"""A letter that says why nothing whole can be proposed, and the nearest way out of it."""

from recommender.advice.model import USABLE, Recommendation
from recommender.documents import blocks
from recommender.documents.drawing import arch_drawing
from recommender.documents.proposal import Origin
from recommender.documents.request import requested
from recommender.documents.wording import SIGNATURE, fields_said, foot, heading, subtitle
from recommender.domain.decision import Decision
from recommender.domain.designs import Design
from recommender.domain.statement import say, several
from recommender.wording.words import Words

_GAPS = 8
_NOTHING = ("none", "leave_open", "rest_only")
_HEAD = ("place", "nearest", "in_the_way", "way_out")
_ANSWERS = ("changed", "other", "call")
_NO_CODE = "-"


def without_framework(answer: Recommendation, origin: Origin, words: Words) -> blocks.Document:
    """The letter about a case for which no framework can be assembled."""
    text, case = words.text, answer.case
    drawing = arch_drawing(
        case, Design(), numbering=words.numbering, language=words.language, with_legend=False
    )
    body = [blocks.paragraph(text(say("letter.opening_none"))), *requested(case, words)]
    body += [heading("letter.section.none", words), blocks.paragraph(text(say("letter.none_text")))]
    body.append(blocks.figure(drawing.svg, drawing.alt_text, 0.8))
    rows = _closed_places(answer, words)
    if rows:
        head = [text(say(f"letter.head.{name}")) for name in _HEAD]
        body.append(blocks.table(head, rows, (1.2, 1.2, 3, 1.6)))
    else:
        body.append(blocks.paragraph(text(say("letter.none_together"))))
    gaps = words.lines(fields_said(case, [gap.field for gap in answer.not_recorded[: 3 * _GAPS]]))[:_GAPS]
    if gaps:
        body += [heading("letter.section.gaps", words), blocks.items(gaps, small=True)]
    body += [
        heading("letter.section.cautions", words),
        blocks.items(words.lines(answer.cautions), small=True),
    ]
    body.append(
        blocks.answer(
            text(say("letter.signing_none")),
            [text(say(f"letter.answer.{name}")) for name in _ANSWERS],
            text(say("letter.changes")),
            [text(say(f"letter.signature.{name}")) for name in SIGNATURE],
        )
    )
    body.append(blocks.paragraph(text(say("papers.safety")), small=True))
    at_the_foot = text(foot(case, origin, _NO_CODE, "letter.who"))
    return blocks.Document(
        text(say("letter.title")), subtitle(answer, _NO_CODE, words), words.language, at_the_foot, tuple(body)
    )


def _closed_places(answer: Recommendation, words: Words) -> list[list[str]]:
    """Every place at which nothing useful is open: the option nearest to being opened, and what keeps it shut."""
    found: dict[tuple[str, str, str], list[Decision]] = {}
    for result in (*answer.retainers.values(), answer.connector, *answer.replacements.values()):
        useful = [option for option in result.ranked if option.option not in _NOTHING]
        if any(option.status in USABLE for option in useful) or not useful:
            continue
        shut = [option for option in useful if option.blocked_by] or useful
        # What a preparation would open comes first, then what is least closed.
        nearest = min(shut, key=lambda option: (not option.unlocked_by, option.rank))
        reasons = several((block.statement for block in nearest.blocked_by[:2]), "space")
        way_out = several([step.work for step in nearest.unlocked_by]) or say("letter.no_way_out")
        key = (
            words.option(result.decision.kind, nearest.option),
            words.said(reasons or say("ticket.nothing")),
            words.said(way_out),
        )
        found.setdefault(key, []).append(result.decision)
    return [
        [words.text(say("papers.titled", what=several(places, "comma"))), *key]
        for key, places in found.items()
    ]
