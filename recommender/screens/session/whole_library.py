"""Looking through a whole library: worked out once for all visitors, with a bar while a large one is read."""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any, TypeVar

import streamlit as st

from recommender.screens.library import data
from recommender.screens.session import library_in_use
from recommender.screens.ui import words

if TYPE_CHECKING:
    from recommender.domain.case import Case

_MOST_KEPT = 24
_EVERY = 500
Found = TypeVar("Found")


def looked_through(what: tuple[object, ...], work: "Callable[[Iterator[Case]], Found]", text: str) -> Found:
    """``work`` on every case of the library in use, kept under ``what`` until the library changes.

    ``text`` is said meanwhile. Leaving the page stops it, and nothing is kept of it then.
    """
    kept = _kept()
    key = (data.where(), library_in_use.library_version(), *what)
    found: Found | None = kept.get(key)
    if found is None:
        with st.spinner(text):
            found = work(_cases())
        while len(kept) >= _MOST_KEPT:
            kept.pop(next(iter(kept)), None)
        kept[key] = found
    return found


@st.cache_resource(show_spinner=False)
def _kept() -> dict[tuple[object, ...], Any]:
    return {}


def _cases() -> "Iterator[Case]":
    total = len(data.heads())
    bar = st.empty()
    for number, case in enumerate(library_in_use.library().cases()):
        if total > data.MANY and number % _EVERY == 0:
            bar.progress(
                min(1.0, number / total),
                words.told("screen.reading_library_cases", number=f"{number:,}", total=f"{total:,}"),
            )
        yield case
    bar.empty()
