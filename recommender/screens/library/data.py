"""What the pages about the library share: the library in use, who is at work, and errors as one message."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import streamlit as st

from recommender.screens.session import library_in_use, person
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.precedents.store.library import Library
    from recommender.precedents.store.records import Head

MANY = 1_000  # beyond this number of cases a look through the whole library is started by a button
SHOWN = 300
_WHO, _DONE = "casebook.who", "casebook.done"


@contextmanager
def told() -> Iterator[None]:
    """What a library says where something cannot be done, as a message in its place."""
    from recommender.domain.errors import CaseError
    from recommender.precedents.store.errors import LibraryError

    try:
        yield
    except (LibraryError, CaseError) as error:
        st.error(f"✕ {theme.literal(on_page(str(error)))}")


# What a message names as a verb of the command line, and where the same is done on this page.
_HERE = {
    "'library looked-at'": "“Looked at” under Review",
    "'library repair'": "“Mend the library” under Take out",
    "'library check'": "“Look the library through” under Take out",
    "'library export --sound'": "Take out",
    "'library edit'": "an edit under Cases",
    "'library init'": "“Make the library” above",
    "Say which it is: --numbering iso or --numbering universal": "Say above which it is",
}
_ELSEWHERE = re.compile(r"'(library [^']+)'")


def on_page(message: str) -> str:
    """A message of the library with the places of this page instead of the verbs of the command line; what no page
    does is said to be done in a terminal."""
    for verb, place in _HERE.items():
        message = message.replace(verb, place)
    return _ELSEWHERE.sub(r"'rpd-casebook \1' in a terminal", message)


def where() -> str:
    """The library in use, as it is opened."""
    return library_in_use.library_name()


def shown_where() -> str:
    """The library in use as it may be shown: without a password."""
    from recommender.precedents.store.databases import database_url
    from recommender.precedents.store.engine import shown

    name = where()
    if name == "demo":
        return words.told("library.demo")
    if name == "none":
        return "no library"
    if person.by_log_in():
        return words.told("library.of_the_house")
    return shown(database_url(name)) if is_database() else words.told("library.folder_read_only", name=name)


def is_database() -> bool:
    """Whether the library in use is a database, which can be worked on."""
    from recommender.precedents.store.opening import is_database as database

    return where() not in ("demo", "none") and database(where())


def writing() -> "Library":
    """The database in use, open for work. Raises ``LibraryError`` where it is none, or may not be written."""
    from recommender.precedents.store.errors import ReadOnlyLibrary

    if not is_database():
        raise ReadOnlyLibrary(f"{shown_where()} cannot be changed; make a library of your own first")
    return _writing(where())


@st.cache_resource(show_spinner=False, max_entries=4)
def _writing(place: str) -> "Library":
    from recommender.precedents.store.databases import open_database

    return person.bound(open_database(place, write=True))


def forget() -> None:
    """Let go of open libraries, after one was made or put back."""
    _writing.clear()
    library_in_use.reload_library()


def may_write(act: str = "edit") -> bool:
    """Whether this can be done and kept here; if not, the reason is shown. ``act``: a name in ``shared/roles.yaml``."""
    from recommender.precedents.store.errors import LibraryError

    try:
        writing().require(act)
    except LibraryError as error:
        st.info(f"For reading only: {theme.literal(on_page(str(error)))}")
        return False
    return True


def heads() -> "list[Head]":
    """What a list shows of every case, by id."""
    return _heads(where(), library_in_use.library_version())


@st.cache_resource(show_spinner=False, max_entries=2)
def _heads(place: str, version: str) -> "list[Head]":
    from dataclasses import fields

    from recommender.precedents.store import documents
    from recommender.precedents.store.records import Head

    del place, version  # only parts of the key
    if is_database():
        return writing().heads()
    found = []
    for case in library_in_use.library().cases():
        columns = documents.columns(case)
        values = {one.name: getattr(columns, one.name, None) for one in fields(Head)}
        found.append(Head(**{**values, "revision": 0, "updated_at": ""}))  # type: ignore[arg-type]
    return found


def who() -> str:
    """What the history will name: the alias of somebody logged in, else a role or initials typed once a session."""
    found = person.current()
    return str(st.session_state.get(_WHO) or "").strip() if found is None else found.alias


def ask_who() -> None:
    """The field for the role or initials; in a team the log-in says who it is."""
    if person.current() is not None:
        return
    st.text_input(
        "You, for the history (a role or initials)",
        key=_WHO,
        persist_state="session",
        max_chars=40,
        placeholder="educator",
        help="Every change is kept with who made it, when and why. Never a patient, and no full name is needed.",
    )


def lacks_who() -> bool:
    """Whether it is not yet said who is at work; then it is asked for."""
    if who():
        return False
    st.info("Say at the top of this page who you are (a role or initials): the history names it.")
    return True


def done(text: str) -> None:
    """Something was done: said after the redraw, on whichever part of the page."""
    st.session_state[_DONE] = text


def show_done() -> None:
    """What was done last, once."""
    text = st.session_state.pop(_DONE, None)
    if text:
        st.success(f"✓ {theme.literal(text)}")


def say(html: str) -> None:
    """A paragraph; whoever calls has escaped what stands in it."""
    st.html(f'<p style="margin:0">{html}</p>')


def invented(text: str) -> None:
    """Says that what is shown here is invented."""
    say(f"{theme.flag('INVENTED')} {theme.escape(text)}")


def value(anything: Any) -> str:
    """A value of a case in words; not recorded is never left empty."""
    if anything is None:
        return "not recorded"
    if isinstance(anything, bool):
        return "yes" if anything else "no"
    if isinstance(anything, (list, tuple, frozenset, set)):
        return ", ".join(str(item).replace("_", " ") for item in anything) or "none"
    return str(anything).replace("_", " ")
