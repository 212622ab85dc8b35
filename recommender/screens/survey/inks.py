"""Ink and paper of the survey's pictures."""

import streamlit as st

from recommender.screens.ui import theme
from recommender.survey.pictures.ink import Inks


def inks() -> Inks:
    """Ink and paper in the visitor's theme."""
    kind = theme.kind()
    paper = str(
        st.get_option(f"theme.{kind}.backgroundColor") or ("#ffffff" if kind == "light" else "#0e1117")
    )
    return Inks(theme.ink(), paper, "#6b6b6b" if kind == "light" else "#a3a3a3")
