"""Who is at work on the screens: a single person who may do everything, or somebody of a team who has logged in.

The screens of a team reach the library over a service that can make advice and log people in; whatever is done for
somebody goes over the connection of their role with the token of their log-in, and the database holds them to it.
"""

import threading
import time
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

import streamlit as st

from recommender.screens.session import visitor
from recommender.screens.session.visitor import store
from recommender.wording.words import capital, words_in

if TYPE_CHECKING:
    from recommender.precedents.store.library import Library
    from recommender.precedents.store.team.roles import Person
    from recommender.precedents.store.team.standing import Standing

_PERSON, _SEEN = "casebook.person", "casebook.person_seen"
LIBRARY = "casebook.library"
_LOCK = threading.Lock()
_EVERY_SECONDS = 20.0  # how often a session is looked at while somebody clicks


def meant() -> str:
    """The library that is meant: as chosen in this session, else as configured, else ``demo``."""
    from recommender.precedents.store.opening import configured

    return store().get(LIBRARY) or configured() or "demo"


def standing() -> "Standing":
    """As whom the screens reach that library. Raises ``LibraryError`` where it cannot be opened."""
    from recommender.precedents.store.team.standing import Standing

    where = meant()
    return _standing(where) if where.startswith("postgres") else Standing("alone")


@st.cache_resource(show_spinner=False, max_entries=4)
def _standing(where: str) -> "Standing":
    from recommender.precedents.store.databases import database_url
    from recommender.precedents.store.engine import connect, shown
    from recommender.precedents.store.team.standing import standing as found

    url = database_url(where)
    engine = connect(url, write=False)
    try:
        return found(engine, shown(url))
    finally:
        engine.dispose()


@st.cache_resource(show_spinner=False, max_entries=4)
def _service(where: str) -> "Library":
    from recommender.precedents.store.databases import open_database

    return open_database(where, write=True)


def by_log_in() -> bool:
    """Whether people log in to these screens."""
    return standing().kind == "service"


def current() -> "Person | None":
    """Who is at work; ``None`` for a single person, and where nobody has logged in yet."""
    found = standing()
    if found.kind != "service":
        return found.person
    held: Person | None = store().get(_PERSON)
    return held


def may(act: str) -> bool:
    """Whether whoever is at work may do this; ``act`` as ``shared/roles.yaml`` names it."""
    from recommender.precedents.store.team.roles import roles

    person = current()
    return standing().kind == "alone" if person is None else roles().may(person.role, act)


def require(act: str) -> None:
    """Raises ``NotAllowed`` or ``NotLoggedIn``, in one sentence, where whoever is at work may not do this."""
    from recommender.precedents.store.errors import NotLoggedIn
    from recommender.precedents.store.team.roles import require as checked

    person = current()
    if person is None and standing().kind != "alone":
        raise NotLoggedIn("log in first")
    checked(person, act)


def address() -> str:
    """The address of the library for whoever is at work. Raises ``NotLoggedIn`` where nobody is."""
    from recommender.precedents.store.databases import database_url
    from recommender.precedents.store.errors import NotLoggedIn
    from recommender.precedents.store.team.standing import url_for

    found = standing()
    if found.kind != "service":
        return meant()
    person = current()
    if person is None:
        raise NotLoggedIn("log in first")
    return url_for(database_url(meant()), found.prefix, person.role).render_as_string(hide_password=False)


def bound(library: "Library") -> "Library":
    """A library opened at ``address``, which asks at each transaction who is at work in this session."""
    return library.acting(current) if by_log_in() else library


def folder() -> str:
    """A name for the working copies of whoever is at work; empty for a single person. Raises ``NotLoggedIn``."""
    from recommender.precedents.store.errors import NotLoggedIn

    if not by_log_in():
        return ""
    person = current()
    if person is None:
        raise NotLoggedIn("log in first")
    return quote(person.alias, safe="")


# -- logging in and out ------------------------------------------------------------------------------------


def claims() -> Mapping[str, Any]:
    """What the provider of identities vouches for; empty where nobody has logged in there."""
    user = st.user.to_dict()
    if not user.get("is_logged_in"):
        return {}
    return {name: value for name, value in user.items() if name not in ("is_logged_in", "tokens")}


def admitted() -> str | None:
    """``None`` where somebody may work here, else why nobody may (empty: nobody has logged in yet)."""
    from recommender.precedents.store.errors import NotAllowed, NotLoggedIn
    from recommender.precedents.store.team import standing as team

    if not by_log_in():
        return None
    own, person = store(), current()
    try:
        if person is not None:
            if time.monotonic() - float(own.get(_SEEN, 0.0)) > _EVERY_SECONDS:
                if not team.still_there(_service(meant()), person):
                    forget()
                    return words_in().told("screen.session_ended")
                own[_SEEN] = time.monotonic()
            return None
        said = claims()
        if not said:
            return ""
        with _LOCK:  # every tab of one log-in works with the same token
            person = _logged_in().get(key := team.key_of(said))
            if person is None or not team.still_there(_service(meant()), person):
                person = team.log_in(_service(meant()), said, str(_setting("identity", "email")))
            _logged_in()[key] = person
    except (NotAllowed, NotLoggedIn) as error:
        text = str(error)
        return f"{capital(text)}."
    own[_PERSON], own[_SEEN] = person, time.monotonic()
    return None


@st.cache_resource(show_spinner=False)
def _logged_in() -> "dict[str, Person]":
    return {}


def ended() -> bool:
    """Whether the session of whoever is at work has ended; looking does not count as work."""
    from recommender.precedents.store.team.standing import lasts

    if not by_log_in():
        return False
    person = current()
    return person is None or not lasts(_by_role(address()), person)


@st.cache_resource(show_spinner=False, max_entries=8)
def _by_role(where: str) -> "Library":
    from recommender.precedents.store.databases import open_database

    return open_database(where)


def forget() -> None:
    """Let go of everything that this session holds of whoever was at work."""
    own = store()
    for name in [name for name in own if name != visitor.LOCK]:
        own.pop(name)
    for key in list(st.session_state):
        if key != visitor.DESK:
            del st.session_state[key]


def log_out() -> None:
    """End the session for good, here and at the provider of identities."""
    from recommender.precedents.store.team import standing as team

    person = current()
    if person is not None:
        team.log_out(_service(meant()), person)
    forget()
    st.logout()


def _setting(name: str, otherwise: object) -> object:
    from streamlit.errors import StreamlitSecretNotFoundError

    try:
        section = st.secrets.get("casebook", {})
    except StreamlitSecretNotFoundError:
        return otherwise
    return section.get(name, otherwise)


def can_log_in() -> bool:
    """Whether a provider of identities is set up (``[auth]`` in the secrets of the screens)."""
    from streamlit.errors import StreamlitSecretNotFoundError

    try:
        return "auth" in st.secrets
    except StreamlitSecretNotFoundError:
        return False
