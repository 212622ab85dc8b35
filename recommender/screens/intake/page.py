"""Taking in a case: start, the arch, the survey, what is worth measuring next."""

import streamlit as st

from recommender.screens.intake.arch import arch_section
from recommender.screens.intake.order import order_section
from recommender.screens.intake.start import start_section
from recommender.screens.session import state


def page() -> None:
    """Draw the page."""
    held = state.case()
    start_section()
    order_section()
    if held is None:
        return
    arch_section()
    from recommender.screens.intake.next_to_record import next_section
    from recommender.screens.intake.short import short_section
    from recommender.screens.intake.survey import survey_section

    short_section(held)
    next_section(held)
    survey_section(held)
    _name_and_file()


def _name_and_file() -> None:
    """What the case is called, and the case as a file."""
    from recommender.precedents.store.exporting.export import as_yaml
    from recommender.screens.intake.name import name_section

    held = state.case()
    assert held is not None
    name_section(held)
    st.download_button(
        "Download the case file (YAML)", as_yaml(held), file_name=f"{held.id}.yaml", mime="application/yaml",
        on_click="ignore", key="take_in.download",
    )  # fmt: skip
