"""The pages by name: what they are called, their addresses, and links from one to another.

A page's code is imported when the page is opened, so that the first one is drawn quickly.
"""

import importlib
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.session import state

if TYPE_CHECKING:
    from streamlit.navigation.page import StreamlitPage


@dataclass(frozen=True, slots=True)
class Screen:
    """One page: its name in code and address, its title, and the section of the menu that it stands in."""

    name: str
    title: str
    section: str
    module: str


SCREENS = (
    Screen("case", "Take in a case", "At the bench", "recommender.screens.intake.page"),
    Screen("survey", "Survey a scan", "At the bench", "recommender.screens.survey.page"),
    Screen("advice", "The advice", "At the bench", "recommender.screens.advice.page"),
    Screen("precedents", "Precedents", "At the bench", "recommender.screens.precedents.page"),
    Screen("talk", "Talk it over", "At the bench", "recommender.screens.dentist.page"),
    Screen("library", "The library", "On the shelf", "recommender.screens.library.page"),
    Screen("practice", "Practice", "On the shelf", "recommender.screens.practice.page"),
    Screen("rules", "The rules", "On the shelf", "recommender.screens.rules.page"),
)
_PAGES = "casebook.pages"


def _opener(screen: Screen) -> Callable[[], None]:
    def open_page() -> None:
        importlib.import_module(screen.module).page()

    open_page.__name__ = screen.name
    return open_page


def sections() -> "dict[str, list[StreamlitPage]]":
    """The pages by section, for the menu; kept for :func:`link`."""
    built = {
        screen.name: st.Page(
            _opener(screen), title=screen.title, url_path=screen.name, default=screen.name == "case"
        )
        for screen in SCREENS
    }
    st.session_state[_PAGES] = built
    menu: dict[str, list[StreamlitPage]] = {}
    for screen in SCREENS:
        menu.setdefault(screen.section, []).append(built[screen.name])
    return menu


def link(name: str, label: str | None = None, *, help: str | None = None) -> None:
    """A link to a page that keeps the case in hand; nothing is drawn outside the router."""
    pages = st.session_state.get(_PAGES)
    if pages is None:
        return
    st.page_link(pages[name], label=label, help=help, query_params=_query())


def go(name: str) -> None:
    """Open another page now, keeping the case in hand."""
    pages = st.session_state.get(_PAGES)
    if pages is not None:
        st.switch_page(pages[name], query_params=_query())


def _query() -> dict[str, str]:
    query = {}
    held = state.case()
    if held is not None:
        query["case"] = held.id
    if state.numbering() != "iso":
        query["numbers"] = state.numbering()
    return query
