"""Precedents: the nearest stored cases beside this one, and a map of the library with this case in it."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.statement import Quantity
from recommender.screens.advice.page import ready
from recommender.screens.precedents.beside import beside_section, opened_section
from recommender.screens.session import current_advice, person, state
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.advice.model import Decision
    from recommender.precedents.library import Filters
    from recommender.precedents.model import Neighbour, Situation

_TRI = ("either", "known", "not known")


def page() -> None:
    """Draw the page."""
    found = ready()
    if found is None:
        return
    library = found.analysis.engine.library
    if library is None:
        st.info("There is no library here (it is set to none), so there are no precedents.")
        return
    asked, filters, count = _asked(found)
    situation = _situation(found, asked)
    near = library.nearest(situation, count, None, filters)
    if not near:
        st.warning("No stored situation passes these filters.")
        return
    _how_many(near)
    opened_section(found)
    beside_section(found, asked, near)
    _table(asked, near)
    _map(found, asked, situation, filters)


def _asked(found: current_advice.Answer) -> "tuple[Decision, Filters, int]":
    from recommender.precedents.library import Filters

    decisions = found.analysis.decisions()
    if st.session_state.get("precedents.decision") not in decisions:
        st.session_state["precedents.decision"] = decisions[0]
    columns = st.columns([3, 2, 2, 2, 2], vertical_alignment="bottom")
    asked = columns[0].selectbox("Alike at", decisions, format_func=words.decision, key="precedents.decision")
    outcome = columns[1].selectbox("Outcome", _TRI, key="precedents.outcome")
    arch = columns[2].selectbox(
        "Arch",
        ["this arch", "either arch"],
        key="precedents.arch",
        help="A connector is only compared within its arch.",
    )
    every = person.may("see_drafts")
    approved = columns[3].toggle(
        "Approved only", value=True, key="precedents.approved", persist_state="session", disabled=not every
    )
    count = columns[4].number_input("How many", 3, 50, 6, key="precedents.count")
    known = {"either": None, "known": True, "not known": False}[outcome]
    wanted = Filters(
        approved_only=approved or not every, outcome_known=known,
        arch=found.analysis.case.arch if arch == "this arch" else None,
    )  # fmt: skip
    return asked, wanted, int(count)


def _situation(found: current_advice.Answer, asked: "Decision") -> "Situation":
    return found.analysis.engine.situation(found.analysis.facts, asked, found.analysis.examine(asked).given)


def _how_many(near: "list[Neighbour]") -> None:
    best = near[0].likeness
    outcomes = sum(n.situation.outcome_known for n in near)
    few = len(near) < 5 or outcomes < 3
    st.write(
        words.told(
            "screen.nearest_few" if few else "screen.nearest",
            n=len(near),
            likeness=Quantity(near[-1].likeness, best, "", 2),
            known=outcomes,
        )
    )
    theme.note(
        "Likeness runs from 0 to 1 and is the same wherever it stands: the share of the weight of all features in "
        "which the other case is the same. What was not recorded in the case in hand adds nothing to it."
    )


def _table(asked: "Decision", near: "list[Neighbour]") -> None:
    rows: list[list[object]] = [
        [
            f"{n.situation.case_id}{f', {state.tooth(n.situation.site)}' if n.situation.site else ''}",
            f"{n.likeness:.2f}",
            words.option(asked.kind, n.situation.choice),
            words.fared(n.situation.verdict),
            "approved" if n.situation.approved else "draft",
        ]
        for n in near
    ]
    theme.table(
        ["case", "likeness", "chose", "how it fared", "review"],
        rows,
        numbers=(1,),
        caption="All of them, nearest first",
    )


def _map(found: current_advice.Answer, asked: "Decision", situation: "Situation", filters: "Filters") -> None:
    st.subheader("The library around this case", anchor=False)
    if not st.toggle("Draw the map", key="precedents.map"):
        return
    from recommender.screens.precedents.map import map_section

    library = found.analysis.engine.library
    assert library is not None
    map_section(library, asked, situation, filters.approved_only)
