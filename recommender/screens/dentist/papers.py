"""The letter and the bench ticket as PDF, made when they are asked for.

A download is made outside the run of the page, where nothing of the visitor's session can be read. So what it needs
of the session (words, tooth numbers, library) is gathered while the page is drawn.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.session import current_advice, library_in_use, state
from recommender.screens.ui import words

if TYPE_CHECKING:
    from recommender.advice.model import Decision, Framework
    from recommender.documents.blocks import Document
    from recommender.documents.proposal import Origin

_PAPERS = {"a4": "A4", "letter": "US Letter"}


@dataclass(frozen=True, slots=True)
class Print:
    """What is printed: the answer with the framework settled on and how it stands, the designer's own words,
    numbering, paper, origin."""

    about: current_advice.Answer
    said: "Mapping[Decision, str]"
    numbering: str
    paper: str
    origin: "Origin"


def papers_section(found: current_advice.Answer, framework: "Framework | None") -> None:
    """Paper size, the letter, the ticket."""
    st.subheader("On paper", anchor=False)
    paper = st.segmented_control(
        "Paper", list(_PAPERS), default="a4", format_func=_PAPERS.__getitem__, key="talk.paper", required=True
    )
    what = gathered(found, framework, paper)
    left, right = st.columns(2, gap="large")
    with left:
        st.markdown("**Letter to the dentist**")
        st.write(
            "The request, what we propose and why, what we need from you, room for an answer and a signature."
        )
        st.download_button(
            "Letter (PDF)", lambda: letter_pdf(what), file_name=f"{found.whole.case.id}-letter.pdf",
            mime="application/pdf", on_click="ignore", key="talk.letter", type="primary",
        )  # fmt: skip
        if framework is not None:
            st.download_button(
                "Page to answer on screen (HTML)", lambda: answer_html(what), mime="text/html", on_click="ignore",
                file_name=f"{found.whole.case.id}-answer.html", key="talk.form",
                help="The dentist opens it without a network, answers, and sends back the file that it saves.",
            )  # fmt: skip
        _preview(what)
    with right:
        _ticket(what, framework)


def gathered(found: current_advice.Answer, framework: "Framework | None", paper: str) -> Print:
    """All that the papers need, while the session can be read."""
    from recommender.advice.model import Decision
    from recommender.documents.proposal import origin_of
    from recommender.screens.dentist.settled import said, settled

    own = {}
    for key, text in said().items():
        kind, _, number = key.partition(":")
        own[Decision(kind, int(number) if number else 0)] = text
    origin = origin_of(library_in_use.library_version(), demo=library_in_use.library_name() == "demo")
    about = current_advice.with_standing(settled(found, framework))
    return Print(about, own, state.numbering(), paper, origin)


def _letter(what: Print) -> "Document":
    from recommender.documents.letter import letter_about
    from recommender.wording.words import words_in

    about, words = what.about, words_in(what.numbering)
    return letter_about(about.analysis, about.whole, what.origin, words=words, said=what.said)


def letter_pdf(what: Print) -> bytes:
    """The letter as PDF."""
    from recommender.documents.typesetting import pdf

    return pdf(_letter(what), what.paper)


def answer_html(what: Print) -> bytes:
    """The letter as a page on which the dentist answers."""
    from recommender.documents.answers.form import answer_page
    from recommender.documents.letter import asked_of
    from recommender.wording.words import words_in

    about = what.about
    asked = asked_of(about.analysis, about.whole, said=what.said)
    return answer_page(_letter(what), asked, words_in(what.numbering))


def _preview(what: Print) -> None:
    if not st.toggle("Look at it here", key="talk.preview"):
        return
    from recommender.documents.typesetting import pages_as_png

    pages = pages_as_png(_letter(what), what.paper, 80)
    for number, page in enumerate(pages, 1):
        st.image(page, width="stretch", alt=words.told("screen.letter_page", number=number))


def _ticket(what: Print, framework: "Framework | None") -> None:
    st.markdown("**Bench ticket**")
    if framework is None:
        st.write("Without a framework there is nothing to print.")
        return
    st.write(
        "Block-out, wax pattern, order of work and checks. Not to be started without the dentist's signed answer."
    )
    from recommender.documents.proposal import proposal_of

    proposal = proposal_of(what.about.whole, 1)
    reason = None
    if proposal.waits:
        code = "screen.ticket_waits" if proposal.before_metal else "screen.ticket_open"
        reason = st.text_input(words.told(code), key="talk.despite").strip()
    st.download_button(
        "Ticket (PDF)", lambda: ticket_pdf(what, reason), key="talk.ticket", on_click="ignore",
        file_name=f"{what.about.whole.case.id}-ticket.pdf", mime="application/pdf",
        disabled=proposal.waits and not reason,
    )  # fmt: skip


def ticket_pdf(what: Print, reason: str | None) -> bytes:
    """The ticket as PDF. Raises ``ProvisionalError`` for a design that waits, without a reason."""
    from recommender.documents.proposal import flagged, proposal_of
    from recommender.documents.ticket import ticket
    from recommender.documents.typesetting import pdf
    from recommender.wording.words import words_in

    proposal = flagged(what.about.analysis, proposal_of(what.about.whole, 1))
    made = ticket(proposal, what.origin, words=words_in(what.numbering), despite_provisional=reason or None)
    return pdf(made, what.paper)
