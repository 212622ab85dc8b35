"""The door of a team's screens: logging in and out, who is at work, and the end of a session."""

import streamlit as st

from recommender.screens.session import person
from recommender.screens.ui import theme, words

_EVERY_SECONDS = 20


def draw(why: str) -> None:
    """What stands here instead of a page while nobody is at work; ``why`` nobody may be, empty before logging in."""
    st.title("Log in", anchor=False)
    theme.note(words.PURPOSE)
    theme.note(words.CAUTION)
    if why:
        st.warning(theme.literal(why))
    if not person.can_log_in():
        st.error(
            "This library is shared by a team, and no provider of identities is set up for these screens. "
            "Whoever looks after the server finds how in the notes on a team."
        )
        return
    st.button("Log in" if not why else "Log in again", type="primary", on_click=_begin, key="casebook.log_in")
    if why:
        st.button("Log out", on_click=person.log_out, key="casebook.log_out_at_door")


def _begin() -> None:
    person.forget()
    st.login()


def who() -> None:
    """Who is at work, in the margin of every page, and the way out."""
    found = person.current()
    if found is None:
        return
    st.markdown(f"**{theme.literal(found.alias)}**, {found.role}")
    if person.by_log_in():
        st.button("Log out", on_click=person.log_out, key="casebook.log_out", width="stretch")


def watch() -> None:
    """Takes the page away when the session ends, also while nobody touches it."""
    if person.by_log_in():
        _watch()


@st.fragment(run_every=_EVERY_SECONDS)
def _watch() -> None:
    if person.ended():
        person.forget()
        st.rerun()
