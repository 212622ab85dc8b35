"""How sure the choice is, beside it: worked out after the choice stands on the page, never before."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.documents.standing import standing_words
from recommender.domain.statement import Choice, quantity, say, several
from recommender.screens.session import current_advice, state
from recommender.screens.ui import theme, words
from recommender.wording.words import words_in

if TYPE_CHECKING:
    from recommender.advice.model import Decision


@st.fragment
def how_firm(found: current_advice.Answer, asked: "Decision") -> None:
    """The standing of one decision, and what comes first otherwise."""
    sure = current_advice.confidence(found).decision(asked)
    said = standing_words(sure, asked.kind, words_in(state.numbering()))
    others = sorted(sure.acceptability.otherwise.items(), key=lambda item: (-item[1], item[0]))[:3]
    rest = several(
        say("confidence.instead", option=Choice(asked.kind, option), share=quantity(share, "share"))
        for option, share in others
    )
    st.html(f"<p>{theme.escape(words.told('screen.shares', said=said, otherwise=rest))}</p>")
