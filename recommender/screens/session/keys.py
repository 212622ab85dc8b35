"""Keys of widgets that show the case and write back to it."""

from typing import Any

import streamlit as st

from recommender.screens.session.visitor import store


def view(base: str, value: Any) -> str:
    """The key for a widget that shows ``value``: draw the widget with this key and the value as its default.

    A widget keeps its key while its user is the only one to change it. Where the case says otherwise (a click on
    the chart, undo, another widget) it gets a new key: were the old widget's value set from here, a browser that
    has not seen that yet would send the old one back with its next event, and undo the change unasked.
    """
    held = store()
    number, shown = held.get(f"{base}.view", (0, value))
    key = f"{base}.{number}"
    if st.session_state.get(key, shown) != value:
        number += 1
        key = f"{base}.{number}"
    held[f"{base}.view"] = (number, value)
    return key


def edited(key: str) -> bool:
    """Whether the user has changed the widget of that key (from :func:`view`): ask first in its callback.

    A browser may send the value of a widget that is out of date, and the callback is called for it.
    """
    base, _, number = key.rpartition(".")
    held = store()
    current, shown = held.get(f"{base}.view", (-1, None))
    if str(current) != number or key not in st.session_state:
        return False
    value = st.session_state[key]
    if value == shown:
        return False
    held[f"{base}.view"] = (current, value)
    return True
