"""What one visitor's pages keep, as one plain mapping."""

import threading
from typing import Any

import streamlit as st

DESK, LOCK = "casebook", "casebook.lock"
# The entry of a component that is being taken: where its number is kept, and the number.
ENTRY = "casebook.entry"


def store() -> dict[str, Any]:
    """Everything that is kept here, as one plain mapping.

    Every access to ``st.session_state`` is a point where the run may be broken off because the user has done
    something else meanwhile, also in the middle of a callback. A change therefore asks for this mapping once and
    then makes all its parts in one go, so that no half of it can stay.
    """
    held: dict[str, Any] | None = st.session_state.get(DESK)
    if held is None:
        held = {LOCK: threading.RLock()}
        st.session_state[DESK] = held
    return held


def alone() -> Any:
    """A lock for callbacks that read the case, work something out and change it.

    A run that is being broken off may still be in a callback while the next one begins.
    """
    return store()[LOCK]
