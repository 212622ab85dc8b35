"""The screens: ``streamlit run app.py``, or ``rpd-casebook app``."""

from recommender.screens.router import run

run()
