"""The people of a team, for a steward: who works here, in which role, and what the house has settled."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.library import data
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    pass


def part() -> None:
    """Draw this part."""
    from recommender.precedents.store.team.people import listed

    found = listed(data.writing())
    theme.table(
        ["alias", "role", "log-in", "database user", "since", "until"],
        [[*entry.row()] for entry in found],
        caption="People",
    )
    theme.note(
        "The history names the alias. Whoever is removed keeps it there, and nothing that tells who it is."
    )
    _add()
    _remove([entry.alias for entry in found if entry.ended is None])
    _house()


def _add() -> None:
    from recommender.precedents.store.team.people import add
    from recommender.precedents.store.team.roles import roles

    known = roles().roles
    with st.expander("Add somebody, or give another role or log-in"), st.form("library.person", border=False):
        first, second, third = st.columns(3)
        alias = first.text_input("Alias (no name)", max_chars=40)
        role = second.selectbox("Role", list(known), format_func=lambda name: f"{name}: {known[name]}")
        login = third.text_input("Log-in, as the provider of identities says it", max_chars=200)
        if st.form_submit_button("Add", type="primary"):
            with data.told():
                entry = add(data.writing(), alias, str(role), login=login.strip() or None)
                data.done(words.told("library.now", alias=entry.alias, role=entry.role))
                st.rerun()


def _remove(names: list[str]) -> None:
    from recommender.precedents.store.team.people import remove

    with st.expander("Remove somebody"), st.form("library.person_gone", border=False):
        alias = st.selectbox("Who no longer works here", names, index=None)
        if st.form_submit_button("Remove") and alias is not None:
            with data.told():
                remove(data.writing(), alias)
                data.done(words.told("library.no_longer_works", alias=alias))
                st.rerun()


def _house() -> None:
    from recommender.precedents.store.team.people import house, settle

    held = house(data.writing())
    with st.expander("What the house has settled"), st.form("library.house", border=False):
        four = st.checkbox("Somebody else approves what one entered or changed", value=held.four_eyes)
        first, second = st.columns(2)
        session = first.number_input("A log-in lasts (minutes)", 1, 100_000, held.session_minutes)
        idle = second.number_input("without a click (minutes)", 1, 100_000, held.idle_minutes)
        if st.form_submit_button("Settle"):
            with data.told():
                settle(data.writing(), {"four_eyes": four, "session_minutes": session, "idle_minutes": idle})
                data.done("Settled.")
                st.rerun()
