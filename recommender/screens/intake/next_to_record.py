"""What is worth recording next: the gaps that would change the advice, the most telling first, each with its field."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.case import Case
from recommender.domain.fields import asked_in_vain, get_field
from recommender.screens.intake.arch import problems
from recommender.screens.intake.fields import field_input, plain_shape
from recommender.screens.session import current_advice, state
from recommender.screens.ui import links, theme, words

if TYPE_CHECKING:
    from recommender.advice.model import Gap

_FIRST, _BESIDE = 9, 3
_IDLE_SECONDS = 0.7


def next_section(case: Case) -> None:
    """Worked out when the page has been quiet for a moment, so that marking teeth stays quick."""
    if not case.missing or problems(case):
        return
    st.subheader("Worth recording next", anchor=False)
    waiting = current_advice.kept() is None
    st.fragment(_section, run_every=_IDLE_SECONDS if waiting else None)()


def _section() -> None:
    found = current_advice.kept()
    if found is None:
        key = "next.waited"
        if not st.session_state.get(key):
            # the first run draws the page; the next one, when nothing else is asked for, does the work
            st.session_state[key] = True
            st.write("Working out which gaps would change the advice …")
            st.button("Work it out now", key="next.now")
            return
        from recommender.advice.analysis import NoAdviceError

        try:
            current_advice.answer()
        except NoAdviceError:
            return
        st.session_state[key] = False
        st.rerun(scope="app")
    st.session_state["next.waited"] = False
    assert found is not None
    from recommender.advice.explanation.counterfactuals.links import plain_path

    gaps: dict[str, Gap] = {}
    for gap in found.whole.not_recorded:
        path = plain_path(gap.field)
        if plain_shape(path) is not None and not gap.asked:
            gaps.setdefault(path, gap)
    leading = sum(bool(gap.could_lead) for gap in gaps.values())
    if not gaps:
        st.write("Nothing that is not recorded yet could change the advice.")
    else:
        st.write(
            f"{leading or 'None'} of {len(gaps)} gaps could bring another part to the front; the others only move "
            "scores or find other precedents. The most telling first. Leave open what you do not know."
        )
        shown = list(gaps.items())[:_FIRST]
        # row by row, so that their order stays where columns wrap
        for first in range(0, len(shown), _BESIDE):
            for column, (path, gap) in zip(st.columns(_BESIDE), shown[first : first + _BESIDE], strict=False):
                with column:
                    field_input(found.analysis.case, path, "next")
                    theme.note(bears_on(gap))
                    if get_field(found.analysis.case, path) is None:
                        st.button("Asked; not known", key=f"next.asked.{path}", on_click=asked, args=(path,))
    links.link("advice", "To the advice →")


def bears_on(gap: "Gap") -> str:
    """Where a gap could bring another part to the front; else where it moves scores."""
    told = [words.path_title(path) for path in gap.could_lead or gap.would_change]
    more = f" and {len(told) - 3} more" if len(told) > 3 else ""
    return ("could change the " if gap.could_lead else "moves scores of ") + ", ".join(told[:3]) + more


def asked(path: str) -> None:
    """Note that a field was asked and cannot be had."""
    held = state.case()
    if held is not None and not asked_in_vain(held, path):
        state.change(held.model_copy(update={"asked": [*(held.asked or ()), path]}))
