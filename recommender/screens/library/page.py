"""The library: which one is open, and the educator's work in it, one part at a time."""

import importlib

import streamlit as st

from recommender.screens.library import data
from recommender.screens.session import person
from recommender.screens.ui import theme, words

# part -> its module, and what one has to be allowed to do for it
PARTS = {
    "Cases": ("cases", "read"),
    "Bring in": ("bring_in", "import"),
    "Review": ("review", "approve"),
    "Many at once": ("many", "approve"),
    "Outcomes": ("outcomes", "read"),
    "Coverage": ("coverage", "read"),
    "Own choices": ("own_choices", "read"),
    "The house's hand": ("house", "read"),
    "How sure": ("how_sure", "read"),
    "Alike and at odds": ("pairs", "see_drafts"),
    "Take out": ("take_out", "export"),
    "People": ("people", "people"),
}
INVENTED = (
    "Every case of the demo library, its design and its outcome were made up for this program. "
    "They show how it works and are evidence of nothing."
)


def page() -> None:
    """Draw the page."""
    from recommender.screens.library.open import choose

    access = words.NO_LOGIN if person.current() is None else words.BY_ROLE
    theme.note(words.told("library.what_library_keeps", access=access))
    with data.told():
        choose()
        if data.where() == "none":
            return
        _counts()
        data.show_done()
        team = person.current() is not None
        part = st.segmented_control(
            "Part of the work",
            [name for name, (_, act) in PARTS.items() if person.may(act) and (act != "people" or team)],
            default="Cases",
            required=True,
            key="library-part",
            bind="query-params",
            persist_state="session",
            wrap=True,
            label_visibility="collapsed",
        )
        st.subheader(str(part), anchor=False)
        module, act = PARTS[str(part)]
        person.require(act)
        importlib.import_module(f"recommender.screens.library.{module}").part()


def _counts() -> None:
    from collections import Counter

    found = Counter(head.status for head in data.heads())
    states = " · ".join(
        f"{found.get(name, 0):,} {label}"
        for name, label in (("approved", "✓ approved"), ("draft", "◌ draft"), ("retired", "✕ retired"))
    )
    waiting = sum(head.waits for head in data.heads())
    if waiting:
        states += " " + words.told("library.changes_approved_cases", waiting=f"{waiting:,}")
    data.say(
        words.told(
            "library.cases_only_approved",
            values=f"{sum(found.values()):,}",
            shown_where=theme.escape(data.shown_where()),
            states=theme.escape(states),
        )
    )
    if data.where() == "demo":
        data.invented(INVENTED)
