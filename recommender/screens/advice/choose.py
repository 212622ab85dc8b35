"""Choosing a part: which decision is in hand, what the framework carries there, what else could be taken."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.session import current_advice, keys, state
from recommender.screens.session.visitor import store
from recommender.screens.ui import words

if TYPE_CHECKING:
    from recommender.advice.model import Decision, DecisionResult, Framework

_LAST = "advice.last_decision"
_NO_CHOICE = "leave it to the ranking"


def decision_in_hand(found: current_advice.Answer) -> "Decision":
    """The decision that is being looked at; the first one where none is."""
    decisions = found.analysis.decisions()
    if st.session_state.get("advice.decision") not in decisions:
        # a widget's value goes with its page; what was looked at last is kept beside it
        last = store().get(_LAST)
        st.session_state["advice.decision"] = last if last in decisions else decisions[0]
    held: Decision = st.session_state["advice.decision"]
    store()[_LAST] = held
    return held


def change_a_part(found: current_advice.Answer, framework: "Framework | None") -> None:
    """Pick a decision and take another option there; drawing, checks and score follow at once."""
    decision_in_hand(found)
    with st.container(key="casebook_wrap_change"):
        left, right = st.columns(2, gap="medium")
    with left:
        asked = st.selectbox(
            "Change a part", found.analysis.decisions(), format_func=words.decision, key="advice.decision"
        )
        store()[_LAST] = asked
    with right:
        _choose(asked, result_for(found, asked, framework))


def result_for(
    found: current_advice.Answer, asked: "Decision", framework: "Framework | None"
) -> "DecisionResult":
    """The ranking; rests are ranked for the assembly that the framework carries there."""
    from recommender.advice.summary import result_in

    return found.result(asked) if framework is None else result_in(found.analysis, framework, asked)


def taken_at(asked: "Decision", framework: "Framework | None") -> str | None:
    """What the framework carries at a decision."""
    from recommender.advice.summary import taken_at as taken

    return None if framework is None else taken(framework, asked)


def _choose(asked: "Decision", result: "DecisionResult") -> None:
    kind = result.decision.kind
    held = state.choices().get(asked.key)
    possible = [option.option for option in result.ranked if option.status != "excluded"]
    current = held["option"] if held and held["option"] in possible else None
    key = keys.view(f"advice.choose.{asked.key}", current)
    st.selectbox(
        "Your choice",
        [None, *possible],
        index=0 if current is None else possible.index(current) + 1,
        format_func=lambda o: _NO_CHOICE if o is None else f"{words.option(kind, o)} · {_status(result, o)}",
        key=key,
        on_change=_chosen,
        args=(asked, key),
        help="Checks, score and drawing follow at once; Undo takes it back.",
    )
    if current is not None and result.option(current).status == "advised_against":
        reason = str(held.get("reason", "")) if held else ""
        reason_key = keys.view(f"advice.reason.{asked.key}", reason)
        st.text_input(
            "Your reason for choosing it against accepted practice (it is printed)",
            value=reason,
            key=reason_key,
            on_change=_reasoned,
            args=(asked, current, reason_key),
        )


def _status(result: "DecisionResult", option: str) -> str:
    return words.status(result.option(option))


def _chosen(asked: "Decision", key: str) -> None:
    if keys.edited(key):
        current_advice.choose(asked, st.session_state[key])


def _reasoned(asked: "Decision", option: str, key: str) -> None:
    if keys.edited(key):
        current_advice.choose(asked, option, str(st.session_state[key]))
