"""Choosing one stored case by its number or title, also out of a hundred thousand."""

from collections.abc import Sequence
from itertools import islice
from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.statement import Word
from recommender.screens.ui import words

if TYPE_CHECKING:
    from recommender.precedents.store.records import Head

STATES = ("approved", "draft", "retired")
ARCHES = ("maxilla", "mandible")
MOST = 500
"""Cases in one list. All of a list goes to the browser with every redraw, so a longer one is narrowed first."""


def choose(label: str, found: "Sequence[Head]", key: str) -> str | None:
    """One of these cases, by number and title; ``None`` until one is chosen. Typing finds it."""
    offered = found
    if len(found) > MOST:
        text = st.text_input(
            words.told("screen.part_number_title", label=label),
            key=f"{key}.text",
            persist_state="session",
            placeholder="narrow the list first",
        )
        offered = list(islice(holding(found, text or ""), MOST))
        more = (
            words.told("screen.first_those_fit", most=MOST)
            if len(offered) == MOST
            else words.told("screen.fit", offered=len(offered))
        )
        st.html(words.told("screen.cases_listed", found=f"{len(found):,}", more=more))
    titles = {head.id: head for head in offered}
    if st.session_state.get(key) not in titles:
        st.session_state[key] = None
    return st.selectbox(
        label, list(titles), index=None, format_func=lambda case_id: shown(titles[case_id]), key=key,
        persist_state="session", placeholder="type a number or a word of the title",
    )  # fmt: skip


def holding(found: "Sequence[Head]", text: str) -> "Sequence[Head]":
    """Those whose number or title holds a text, in whatever case it is written."""
    wanted = text.strip().casefold()
    if not wanted:
        return found
    return [head for head in found if wanted in f"{head.id} {head.title or ''}".casefold()]


def shown(head: "Head") -> str:
    """A case in a list: number, state, arch and title."""
    told = head.title or head.kennedy or None
    return words.told(
        "screen.case",
        id=head.id,
        state=Word("case_state", head.status),
        arch=Word("upper_lower", head.arch),
        told=told,
    )
