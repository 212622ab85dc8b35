"""What is said to each decision of an exercise: where it stands and why, and what others did."""

from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.library.cases import drawing
from recommender.screens.practice import data
from recommender.screens.ui import words

if TYPE_CHECKING:
    from recommender.curation.teaching.exercises import Exercise, Feedback


def show(made: "Exercise", said: "Sequence[Feedback]") -> None:
    """Draw the feedback, the weightiest first."""
    order = list(words.SYMBOLS["standing"])
    counts = Counter(str(one.standing) for one in said)
    st.markdown(
        words.told(
            "practice.to_say",
            listed=" · ".join(
                f"{counts[name]} {words.listed('standing', name)}" for name in order if counts[name]
            ),
        )
    )
    for one in sorted(said, key=lambda each: -order.index(each.standing)):
        _one(one)
    held = data.stored(made.case_id)
    st.markdown(words.told("practice.what_library_did", id=held.id))
    drawing(held)
    if held.review is not None and held.review.teaching_note:
        st.text(f"Teaching note: {held.review.teaching_note}")


def one_decision(said: "Feedback") -> None:
    """What is said to one decision, drawn right after it was made."""
    _one(said)


def _one(said: "Feedback") -> None:
    kind = said.decision.kind
    weighty = said.standing in ("excluded", "advised_against", "uncalled_for", "behind")
    standing = words.listed("standing", said.standing)
    title = f"{words.decision(said.decision)}: {words.option(kind, said.answer)} — {standing}"
    with st.expander(title, expanded=weighty):
        for line in said.why:
            st.text(f"• {words.said(line)}")
        if said.instead:
            st.text(f"→ {words.said(said.instead)}")
        did = words.option(kind, said.library) if said.library else "not recorded"
        same = " (as you did)" if said.library == said.answer else ""
        st.text(f"The case in the library: {did}{same}")
        for line in said.beside:
            st.text(f"• {words.said(line)}")
        if said.precedents:
            listed = ", ".join(f"{words.option(kind, name)} {number}" for name, number in said.precedents)
            st.text(f"Nearest precedents: {listed}")
