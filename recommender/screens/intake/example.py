"""What a newcomer sees first: an invented case with its advice, to be touched, beside a case of one's own."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.session import drawings, library_in_use, state
from recommender.screens.ui import links, theme, words

if TYPE_CHECKING:
    from recommender.advice.analysis import CaseAnalysis
    from recommender.advice.model import Recommendation

_EXAMPLE = "harbour-0012"


def example_section() -> None:
    """The proposal for an invented case, the runners-up at a click, and the way into it."""
    st.subheader("Try it on an invented case", anchor=False)
    st.fragment(_example)()


def _example() -> None:
    from recommender.advice.summary import decision_in_two, otherwise

    analysis, answer = _advised()
    frameworks = answer.frameworks
    names = ["proposed", *(words.said(otherwise(other)) for other in frameworks[1:])]
    chosen = st.segmented_control(
        "Framework", names, default=names[0], required=True, key="example.framework",
        label_visibility="collapsed",
    )  # fmt: skip
    framework = frameworks[names.index(str(chosen))]
    if framework is frameworks[0]:
        told = [words.said(said) for said in decision_in_two(analysis, answer, framework)]
    else:
        told = [words.said(line) for line in framework.gives_up]
    theme.note(" ".join(told) if framework is frameworks[0] else "; ".join(told) + ".")
    drawings.show(answer.case, framework.design, provisional=framework.provisional, legend=False)
    st.button("Open this case and change it", on_click=_open, key="example.open", type="primary")


@st.cache_resource(show_spinner="Working out an example …", max_entries=1)
def _advised() -> "tuple[CaseAnalysis, Recommendation]":
    from recommender.advice.recommend import Recommender, recommendation
    from recommender.precedents.source import demo_source

    demo = library_in_use.library_name() == "demo"
    recommender = library_in_use.recommender() if demo else Recommender()
    analysis = recommender.work(demo_source().get(_EXAMPLE))
    return analysis, recommendation(analysis)


def _open() -> None:
    """A copy of the example in hand, under an id of its own, on the advice page."""
    from recommender.precedents.source import demo_source
    from recommender.screens.intake.start import free_id

    stored = demo_source().get(_EXAMPLE)
    bare = dict.fromkeys(("design", "review", "outcome", "dentist_answer", "source"))
    case = stored.model_copy(update={**bare, "id": free_id("example")})
    state.open_case(case)
    state.change(case)
    st.session_state["example.opened"] = True


def go_on() -> None:
    """After the example was opened: to its advice."""
    if st.session_state.pop("example.opened", False):
        links.go("advice")
