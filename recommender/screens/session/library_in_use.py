"""The library that the pages work with: which one, its cases, and the recommender over it.

Libraries and recommenders are shared by all visitors, until the library changes.
"""

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.session import person
from recommender.screens.session.visitor import store
from recommender.wording.words import words_in

if TYPE_CHECKING:
    from recommender.advice.recommend import Recommender
    from recommender.precedents.library import PrecedentLibrary
    from recommender.precedents.source import CaseSource
    from recommender.precedents.store.library import Library


def library_name() -> str:
    """Where the library is: as chosen in this session, else as configured (``RPD_CASEBOOK_LIBRARY``, the
    configuration file), else ``demo``; for a team over the connection of whoever has logged in."""
    return person.address()


def set_library(where: str | None) -> None:
    """Use another library in this session (``None``: the configured one)."""
    store()[person.LIBRARY] = where


def library() -> "CaseSource":
    """The current library, opened for reading. Raises ``LibraryError`` or ``CaseError``."""
    return _source(library_name())


def library_version() -> str:
    """A stamp that changes with the content of the library."""
    return library().version()


def recommender(approved_only: bool = True) -> "Recommender":
    """A recommender over the current library, shared by all sessions until the library changes."""
    where = (
        person.meant()
    )  # a team's advice is the same for everybody, and read over the service of the screens
    version = _source(where).version()
    _await_index(where, version)
    return _recommender(where, version, approved_only, profile_stamp())


def profile_stamp() -> str:
    """A stamp that changes with the house profile that counts for the current library; empty where none does."""
    from recommender.curation.house.keeping import adopted

    found = adopted(kept_in())
    return found.digest if found else ""


def kept_in() -> "str | Library":
    """Where the house profile of the current library is kept: the database, as the screens read it, else an address."""
    return _kept_in(person.meant())


def _kept_in(where: str) -> "str | Library":
    from recommender.api.libraries import kept_in

    return kept_in(_source(where), where)


def _await_index(where: str, version: str) -> None:
    """Show how far the index of a large library is, where it has to be written first. Leaving the page does not
    stop it."""
    from recommender.precedents.index import background
    from recommender.precedents.index.serving import Indexed

    source = _source(where)
    if not isinstance(source, Indexed) or version in _awaited(where):
        return
    bar = st.empty()
    for done, of in background.until_kept(where, source):
        bar.progress(
            done / of if of else 0.0,
            words_in().told("screen.reading_library_once", done=f"{done:,}", of=f"{of:,}"),
        )
    bar.empty()
    _awaited(where).add(version)


@st.cache_resource(show_spinner=False, max_entries=4)
def _awaited(where: str) -> set[str]:
    """Versions of a library whose index has been seen to."""
    del where  # only the key
    return set()


def reload_library() -> None:
    """Read the library anew, after something was stored in it."""
    _source.clear()
    _precedents.clear()
    _recommender.clear()


@st.cache_resource(show_spinner=False, max_entries=4)
def _source(where: str) -> "CaseSource":
    from recommender.api.libraries import open_source
    from recommender.precedents.store.database_source import DatabaseSource

    source = open_source(where)
    if isinstance(source, DatabaseSource) and where != person.meant():
        source.library = person.bound(source.library)
    return source


@st.cache_resource(show_spinner="Reading the library …", max_entries=2)
def _precedents(where: str, version: str) -> "PrecedentLibrary":
    from recommender.api.libraries import served
    from recommender.precedents.index import background, serving

    del version  # only part of the key
    found = served(_source(where))
    if not isinstance(found, serving.Served):
        return found
    if found.how == "caught_up":
        background.start(where)  # so that the next start need not catch up again
    return found.library


@st.cache_resource(show_spinner=False, max_entries=4)
def _recommender(where: str, version: str, approved_only: bool, profile: str) -> "Recommender":
    from recommender.advice.recommend import Recommender
    from recommender.curation.house.keeping import knowledge_of

    del profile  # only part of the key
    base = knowledge_of(_kept_in(where))
    if where == "none":
        return Recommender(None, base, approved_only=approved_only)
    from recommender.api.libraries import approved_of

    records = partial(approved_of, _source(where))
    return Recommender(_precedents(where, version), base, approved_only=approved_only, records=records)
