"""Which library is in use: the demo, a database of one's own, a folder; and how to come by one."""

from pathlib import Path

import streamlit as st

from recommender.screens.library import data
from recommender.screens.session import library_in_use, person
from recommender.screens.ui import theme, words


def choose() -> None:
    """The library in use, and what else may be opened; a team works in the library of its house."""
    if person.by_log_in():
        return
    left, right = st.columns([3, 2], vertical_alignment="bottom")
    with right:
        data.ask_who()
    with left, st.expander(f"Open: {theme.literal(data.shown_where())}", expanded=data.where() == "none"):
        _own()
        _other()


def _own() -> None:
    st.write(
        "**A library of your own** is one file on this machine (or a database on a server). The demo library "
        "stays as it is; a copy of it can be worked on."
    )
    with st.form("library.make", border=False):
        path = st.text_input(
            "File of the new library",
            value=str(Path.home() / "casebook.db"),
            key="library.new",
            help="A file name, or postgresql://HOST/NAME. Nothing that is there already is touched.",
        )
        copied = st.checkbox("Start with a copy of the demo cases (invented)", value=True)
        lasting = st.checkbox("Use it from now on, also after a restart", value=True)
        if st.form_submit_button("Make the library", type="primary"):
            with data.told():
                number = _make(path.strip(), copied)
                _use(path.strip(), lasting)
                data.done(
                    words.told("library.made_opened_cases", shown_where=data.shown_where(), number=number)
                )
                st.rerun()


def _make(path: str, copied: bool) -> int:
    from recommender.precedents.source import demo_source
    from recommender.precedents.store.databases import create_database
    from recommender.precedents.store.gate import checked_who
    from recommender.precedents.store.importing.batch import import_all
    from recommender.precedents.store.importing.reports import Terms
    from recommender.precedents.store.importing.rows import Row

    who = checked_who(data.who() or "setup")
    with st.spinner("Making the library …"), create_database(path) as library:
        if not copied:
            return 0
        terms = Terms(who, "copied from the demo library (invented cases)", keep_status=True)
        rows = (Row(case.id, case) for case in demo_source().cases())
        return import_all(library, rows, terms, lambda _report: None).written


def _other() -> None:
    with st.form("library.open", border=False):
        path = st.text_input(
            "Or open one that is there",
            key="library.other",
            placeholder="demo, a library file, a folder of case files, or postgresql://HOST/NAME",
            help="A folder of case files is read and never written to.",
        )
        lasting = st.checkbox("Use it from now on, also after a restart", value=False, key="library.lasting")
        if st.form_submit_button("Open"):
            with data.told():
                _open(path.strip(), lasting)
                st.rerun()


def _open(path: str, lasting: bool) -> None:
    from recommender.precedents.store.errors import NotALibrary
    from recommender.precedents.store.opening import open_library

    if not path:
        raise NotALibrary("say which library: demo, a file, a folder or an address")
    person.require("people")
    open_library(path).version()  # says now what is wrong with it, before the old one is left
    _use(path, lasting)
    data.done(f"Opened: {data.shown_where()}.")


def _use(path: str, lasting: bool) -> None:
    from recommender.precedents.store.configuring import remember_library

    data.forget()
    library_in_use.set_library(path)
    if lasting:
        remember_library(path)
