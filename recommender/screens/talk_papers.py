"""The letter and the bench ticket as PDF, made when they are asked for."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens import answers, shelf, state

if TYPE_CHECKING:
    from recommender.advice.model import Framework
    from recommender.documents.blocks import Document
    from recommender.documents.proposal import Origin

_PAPERS = {"a4": "A4", "us-letter": "US Letter"}


def papers_section(found: answers.Answer, framework: "Framework | None") -> None:
    """Paper size, the letter, the ticket."""
    st.subheader("On paper", anchor=False)
    paper = st.segmented_control(
        "Paper", list(_PAPERS), default="a4", format_func=_PAPERS.__getitem__, key="talk.paper", required=True
    )
    left, right = st.columns(2, gap="large")
    with left:
        st.markdown("**Letter to the dentist**")
        st.write(
            "The request, what we propose and why, what we need from you, room for an answer and a signature."
        )
        st.download_button(
            "Letter (PDF)", lambda: letter_pdf(found, framework, paper), file_name=f"{found.whole.case.id}-letter.pdf",
            mime="application/pdf", on_click="ignore", key="talk.letter", type="primary",
        )  # fmt: skip
        _preview(found, framework, paper)
    with right:
        _ticket(found, framework, paper)


def _origin() -> "Origin":
    from recommender import __version__
    from recommender.documents.proposal import Origin
    from recommender.knowledge.packaged import digest

    where = shelf.library_name()
    return Origin(f"rules {__version__} ({digest()[:10]})", shelf.library_version()[:12], where == "demo")


def _letter(found: answers.Answer, framework: "Framework | None") -> "Document":
    from recommender.advice.model import Decision
    from recommender.documents.letter import letter_about
    from recommender.screens.talk import said, settled

    own = {}
    for key, text in said().items():
        kind, _, number = key.partition(":")
        own[Decision(kind, int(number) if number else 0)] = text
    about = settled(found, framework)
    return letter_about(about.working, about.whole, _origin(), numbering=state.numbering(), said=own)


def letter_pdf(found: answers.Answer, framework: "Framework | None", paper: str) -> bytes:
    """The letter as PDF."""
    from recommender.documents.typesetting import pdf

    return pdf(_letter(found, framework), paper)


def _preview(found: answers.Answer, framework: "Framework | None", paper: str) -> None:
    if not st.toggle("Look at it here", key="talk.preview"):
        return
    from recommender.documents.typesetting import pages_as_png

    pages = pages_as_png(_letter(found, framework), paper, 80)
    for number, page in enumerate(pages, 1):
        st.image(page, width="stretch", alt=f"Page {number} of the letter; the PDF can be read aloud")


def _ticket(found: answers.Answer, framework: "Framework | None", paper: str) -> None:
    st.markdown("**Bench ticket**")
    if framework is None:
        st.write("Without a framework there is nothing to print.")
        return
    st.write(
        "Block-out, wax pattern, order of work and checks. Not to be started without the dentist's signed answer."
    )
    reason = None
    if framework.provisional:
        reason = st.text_input(
            "The design is PROVISIONAL. Reason for printing its ticket all the same (it is printed on it)",
            key="talk.despite",
        ).strip()
    st.download_button(
        "Ticket (PDF)", lambda: ticket_pdf(found, framework, paper, reason), key="talk.ticket", on_click="ignore",
        file_name=f"{found.whole.case.id}-ticket.pdf", mime="application/pdf",
        disabled=framework.provisional and not reason,
    )  # fmt: skip


def ticket_pdf(found: answers.Answer, framework: "Framework", paper: str, reason: str | None) -> bytes:
    """The ticket as PDF. Raises ``ProvisionalError`` for a provisional design without a reason."""
    from recommender.documents.proposal import proposal_of
    from recommender.documents.ticket import ticket
    from recommender.documents.typesetting import pdf
    from recommender.screens.talk import settled

    proposal = proposal_of(settled(found, framework).whole, 1)
    made = ticket(proposal, _origin(), numbering=state.numbering(), despite_provisional=reason or None)
    return pdf(made, paper)
