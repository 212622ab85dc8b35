"""Taking in a case: start, the arch, the survey, what is worth measuring next."""

import streamlit as st

from recommender.screens.intake.arch import arch_section
from recommender.screens.intake.order import order_section
from recommender.screens.intake.start import start_section
from recommender.screens.session import state
from recommender.screens.ui import theme, words


def page() -> None:
    """Draw the page."""
    held = state.case()
    if held is None:
        _first_screen()
        return
    from recommender.screens.intake.example import go_on
    from recommender.screens.intake.next_to_record import next_section
    from recommender.screens.intake.short import short_section
    from recommender.screens.intake.survey import survey_section

    go_on()
    start_section()
    order_section()
    arch_section()
    short_section(held)
    next_section(held)
    survey_section(held)
    _name_and_file()


def _first_screen() -> None:
    """For somebody without a case in hand: their own beside an invented one with its advice."""
    from recommender.screens.intake.example import example_section

    st.html(f'<p class="casebook-decision">{theme.escape(words.INTENDED)}</p>')
    with st.container(key="casebook_wrap_first"):
        left, right = st.columns(2, gap="large")
    with right:
        st.subheader("Your own case", anchor=False)
        start_section()
        order_section()
    with left:
        example_section()


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
