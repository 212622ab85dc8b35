"""What is worth recording next: the gaps that would change the advice, the most telling first, each with its field."""

import streamlit as st

from recommender.domain.case import Case
from recommender.screens import answers, links, words
from recommender.screens.take_in_arch import problems
from recommender.screens.take_in_fields import field_input, plain_shape

_FIRST = 9
_IDLE_SECONDS = 0.7


def next_section(case: Case) -> None:
    """Worked out when the page has been quiet for a moment, so that marking teeth stays quick."""
    if not case.missing or problems(case):
        return
    st.subheader("Worth recording next", anchor=False)
    waiting = answers.kept() is None
    st.fragment(_section, run_every=_IDLE_SECONDS if waiting else None)()


def _section() -> None:
    found = answers.kept()
    if found is None:
        key = "next.waited"
        if not st.session_state.get(key):
            # the first run draws the page; the next one, when nothing else is asked for, does the work
            st.session_state[key] = True
            st.write("Working out which gaps would change the advice …")
            st.button("Work it out now", key="next.now")
            return
        from recommender.advice.recommend import NoAdviceError

        try:
            answers.answer()
        except NoAdviceError:
            return
        st.session_state[key] = False
        st.rerun(scope="app")
    st.session_state["next.waited"] = False
    assert found is not None
    from recommender.advice.changes_links import plain_path

    gaps = [(plain_path(gap.field), gap.would_change) for gap in found.whole.not_recorded]
    gaps = [gap for gap in gaps if plain_shape(gap[0]) is not None]
    if not gaps:
        st.write("Nothing that is not recorded yet could change the advice.")
    else:
        st.write(
            f"{len(gaps)} gaps could change the advice; these the most. Leave open what you do not know."
        )
        columns = st.columns(3)
        for index, (path, bears_on) in enumerate(gaps[:_FIRST]):
            with columns[index % 3]:
                field_input(found.working.case, path, "next")
                told = [words.path_title(path) for path in bears_on]
                more = f" and {len(told) - 3} more" if len(told) > 3 else ""
                st.caption("bears on " + ", ".join(told[:3]) + more)
    links.link("advice", "To the advice →")
