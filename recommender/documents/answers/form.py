"""The letter as one page to answer on screen, without a network; the browser saves the answer as a file."""

from typing import TYPE_CHECKING, Any

from recommender.documents.answers.points import printed
from recommender.documents.answers.returned import KIND, VERSION
from recommender.documents.letter import Asked
from recommender.documents.templates_at import environment
from recommender.domain.statement import Name, say

if TYPE_CHECKING:
    from recommender.documents.blocks import Document
    from recommender.wording.words import Words

_WORDS = ("title", "intro", "reason", "agrees", "name", "date", "changes", "save", "saved", "unsigned")


def answer_page(letter: "Document", asked: Asked, words: "Words") -> bytes:
    """The page, complete in itself: the letter's words and drawing, each point with its choices, room to sign."""
    text = words.text
    head = [block for block in letter.blocks if block["kind"] not in ("answer", "ticks")]
    page = (
        environment()
        .get_template("answer.html.j2")
        .render(
            language=words.language,
            title=letter.title,
            subtitle=letter.subtitle,
            foot=letter.footer,
            blocks=_between(head),
            sections=_sections(asked, words),
            signing=text(say("letter.signing", design=Name(asked.code))),
            says={name: text(say(f"form.{name}")) for name in _WORDS},
            open_says=text(say("form.open", points=Name("{}"))),
            answer={"kind": KIND, "version": VERSION, "case": asked.proposal.case.id, "design": asked.code},
        )
    )
    return page.encode("utf-8")


def _between(blocks: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Blocks without headings that nothing follows."""
    kept = []
    for place, block in enumerate(blocks):
        following = blocks[place + 1] if place + 1 < len(blocks) else None
        if block["kind"] == "heading" and (following is None or following["kind"] == "heading"):
            continue
        kept.append(block)
    return kept


def _sections(asked: Asked, words: "Words") -> list[dict[str, Any]]:
    found = []
    for name, points in (
        ("departures", asked.departures),
        ("preparation", asked.preparation),
        ("before_metal", asked.questions),
    ):
        if points:
            rows = [
                {
                    "key": point.key,
                    "offered": point.offered,
                    "cells": [words.text(say("papers.titled", what=cell)) for cell in printed(point)],
                    "ticks": [(tick, words.text(say(f"letter.tick.{tick}"))) for tick in point.ticks],
                }
                for point in points
            ]
            found.append({"title": words.text(say(f"letter.section.{name}")), "rows": rows})
    return found
