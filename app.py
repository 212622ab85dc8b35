"""The screens: ``streamlit run app.py``, or ``rpd-casebook app``."""

from recommender.screens.ui.router import run

run()
