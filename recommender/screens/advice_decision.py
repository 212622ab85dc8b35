"""One decision at a time: all its options, choosing one, and the reasons behind any of them."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens import answers, state, theme, words
from recommender.screens.advice_reasons import (
    blocks_view,
    changes_view,
    contrast_view,
    reasons_view,
    sure_line,
    weights_view,
)

if TYPE_CHECKING:
    from recommender.advice.model import Decision, DecisionResult, Framework, OptionResult

_VIEWS = (
    "Why this one",
    "Why not another",
    "Blocks and what unlocks them",
    "What would change it",
    "Weights",
)
_NO_CHOICE = "leave it to the ranking"


def decision_section(found: answers.Answer, framework: "Framework | None") -> None:
    """Pick a decision, see its options, choose, and look into one of them."""
    st.subheader("Decision by decision", anchor=False)
    decisions = found.working.decisions()
    if st.session_state.get("advice.decision") not in decisions:
        st.session_state["advice.decision"] = decisions[0]
    asked = st.selectbox("Decision", decisions, format_func=words.decision, key="advice.decision")
    result = _result(found, asked, framework)
    taken = _taken(asked, framework) or result.ranked[0].option
    left, right = st.columns([6, 5], gap="large")
    with left:
        sure_line(found, asked)
        _options(found, result, taken)
        _choose(asked, result)
    with right:
        _look_into(found, asked, result, taken)


def _result(found: answers.Answer, asked: "Decision", framework: "Framework | None") -> "DecisionResult":
    """The ranking; rests are ranked for the assembly that the framework carries there."""
    if asked.kind == "rest" and framework is not None and asked.tooth in framework.retainers:
        return found.working.rest_for(asked.tooth, framework.retainers[asked.tooth])
    return found.result(asked)


def _taken(asked: "Decision", framework: "Framework | None") -> str | None:
    """What the framework carries at a decision."""
    if framework is None:
        return None
    if asked.kind == "connector":
        return framework.connector
    by_tooth = {
        "retainer": framework.retainers, "rest": framework.rests, "replacement": framework.replacements,
    }[asked.kind]  # fmt: skip
    return by_tooth.get(asked.tooth)


def _options(found: answers.Answer, result: "DecisionResult", taken: str) -> None:
    kind = result.decision.kind
    rows: list[list[object]] = []
    lead = None
    for index, option in enumerate(result.ranked):
        mark = " ← in the framework" if option.option == taken else ""
        lead = index if option.option == taken else lead
        safety = any(block.kind == "safety" for block in option.blocked_by)
        rows.append(
            [
                f"{option.rank}. {words.option(kind, option.option)}{mark}",
                words.status(option),
                "–" if safety and option.status == "excluded" else f"{option.score:.1f}",
                "–" if option.status == "excluded" else f"{option.low:.0f}–{option.high:.0f}",
            ]
        )
    near = found.working.engine.knowledge.scoring.near_tie
    shown = [row for row, option in zip(rows, result.ranked, strict=True) if option.status != "excluded"]
    out = [row for row, option in zip(rows, result.ranked, strict=True) if option.status == "excluded"]
    given = f", for a tooth that carries: {words.option('retainer', result.given)}" if result.given else ""
    theme.table(
        ["option", "status", "score", "range"], shown, numbers=(2, 3), lead=lead,
        caption=f"Options{given} (precedents count {result.precedent_weight:.0%})",
    )  # fmt: skip
    if len(result.ranked) > 1 and 0 <= result.ranked[0].score - result.ranked[1].score <= near:
        same = result.ranked[0].status == result.ranked[1].status
        if same:
            st.info("The first two are a near tie: either is as well supported as the other.")
    if out:
        with st.expander(f"Excluded: {len(out)}"):
            theme.table(["option", "status", "score", "range"], out, numbers=(2, 3))


def _choose(asked: "Decision", result: "DecisionResult") -> None:
    kind = result.decision.kind
    held = state.choices().get(asked.key)
    possible = [option.option for option in result.ranked if option.status != "excluded"]
    key = f"advice.choose.{asked.key}"
    current = held["option"] if held and held["option"] in possible else None
    st.session_state[key] = current
    st.selectbox(
        "Your choice",
        [None, *possible],
        format_func=lambda o: _NO_CHOICE if o is None else f"{words.option(kind, o)} · {_status(result, o)}",
        key=key,
        on_change=_chosen,
        args=(asked, key),
        help="Checks, score and drawing follow at once; Undo takes it back.",
    )
    if current is not None and result.option(current).status == "advised_against":
        reason_key = f"advice.reason.{asked.key}"
        st.session_state[reason_key] = str(held.get("reason", "")) if held else ""
        st.text_input(
            "Your reason for choosing it against accepted practice (it is printed)",
            key=reason_key, on_change=_reasoned, args=(asked, current, reason_key),
        )  # fmt: skip


def _status(result: "DecisionResult", option: str) -> str:
    return words.status(result.option(option))


def _chosen(asked: "Decision", key: str) -> None:
    answers.choose(asked, st.session_state[key])


def _reasoned(asked: "Decision", option: str, key: str) -> None:
    answers.choose(asked, option, str(st.session_state[key]))


def _look_into(found: answers.Answer, asked: "Decision", result: "DecisionResult", taken: str) -> None:
    kind = asked.kind
    names = [option.option for option in result.ranked]
    key = f"advice.look.{asked.key}"
    if st.session_state.get(key) not in names:
        st.session_state[key] = taken if taken in names else names[0]
    looked = st.selectbox("Look into", names, format_func=lambda o: words.option(kind, o), key=key)
    view = st.segmented_control("Show", _VIEWS, default=_VIEWS[0], key="advice.view", required=True)
    option: OptionResult = result.option(looked)
    st.html(f"<p><b>{theme.escape(words.option(kind, looked))}</b>: {theme.escape(words.status(option))}</p>")
    if view == _VIEWS[0]:
        reasons_view(found, result, option)
    elif view == _VIEWS[1]:
        contrast_view(found, result, option)
    elif view == _VIEWS[2]:
        blocks_view(option)
    elif view == _VIEWS[3]:
        changes_view(found, result, option)
    else:
        weights_view(found, result)
