"""Practice: a case without its design, every decision made by the learner, then what there is to say to each."""

import importlib

import streamlit as st

from recommender.screens.library import data
from recommender.screens.ui import theme

PARTS = {"Exercise": "exercise", "Whole framework": "whole", "Results": "results", "On paper": "paper"}
NOTICE = (
    "For learning only. There is never one right answer: what is told is where each choice stands under the rules, "
    "and what others did. About a patient, the prescribing dentist decides."
)


def page() -> None:
    """Draw the page."""
    from recommender.screens.practice.data import ask_alias

    theme.note(NOTICE)
    with data.told():
        if data.where() == "none":
            st.info(
                "No library is open: exercises are made from approved cases. Open one on the page of the library."
            )
            return
        if data.where() == "demo":
            data.invented(
                "The cases of the demo library are made up. Its exercises can be worked through, but results are kept "
                "only in a library of your own."
            )
        data.show_done()
        left, right = st.columns([3, 2], vertical_alignment="bottom")
        with right:
            ask_alias()
        with left:
            part = st.segmented_control(
                "Part", list(PARTS), default="Exercise", required=True, key="practice-part", bind="query-params",
                persist_state="session", wrap=True, label_visibility="collapsed",
            )  # fmt: skip
        importlib.import_module(f"recommender.screens.practice.{PARTS[str(part)]}").part()
