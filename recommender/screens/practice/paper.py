"""Exercises on paper: a sheet for learners, and its key on a paper of its own."""

import streamlit as st

from recommender.screens.library import data
from recommender.screens.practice import data as own
from recommender.screens.session import library_in_use
from recommender.screens.ui import theme, words


def part() -> None:
    """Draw this part."""
    from recommender.curation.teaching.choice import spread

    held = own.approved()
    st.write(
        "The sheet holds the cases and the decisions, and nothing that tells the answer; the key is a file apart."
    )
    left, right = st.columns([2, 3])
    with left:
        number = st.number_input("How many, drawn over the library", 1, 30, 3, key="practice.number")
        title = st.text_input("Heading", "Exercises in framework design", key="practice.title", max_chars=80)
    with right:
        picked = st.multiselect("Or these cases", list(held), key="practice.picked", max_selections=30)
    if st.button("Make sheet and key", type="primary", key="practice.paper"):
        with data.told(), st.spinner("Working the exercises out …"):
            chosen = picked or [case_id for case_id in spread(held, 3 * int(number)) if own.usable(case_id)]
            usable = [case_id for case_id in chosen if own.usable(case_id)][: len(picked) or int(number)]
            if not usable:
                st.info("No approved case with a design to set.")
                return
            st.session_state["practice.papers"] = _papers(usable, title)
    papers = st.session_state.get("practice.papers")
    if papers is not None:
        names, sheet, key = papers
        theme.note(words.told("practice.exercises", names=len(names), names_two=", ".join(names)))
        with st.container(horizontal=True):
            st.download_button(
                "Download the sheet",
                sheet,
                "exercises.html",
                "text/html",
                on_click="ignore",
                key="practice.sheet",
            )
            st.download_button(
                "Download the key",
                key,
                "exercises-key.html",
                "text/html",
                on_click="ignore",
                key="practice.key",
            )
        theme.note("Open a file in the browser and print it from there; nothing is fetched from elsewhere.")


def _papers(names: list[str], title: str) -> tuple[list[str], str, str]:
    from recommender.curation.teaching import sheets

    held, said = own.approved(), words.in_words()
    pairs = [(own.made(case_id, held[case_id]), own.stored(case_id)) for case_id in names]
    sheet = sheets.sheet([made for made, _ in pairs], said, title)
    return names, sheet, sheets.key(pairs, library_in_use.recommender(), said, f"Key: {title}")
