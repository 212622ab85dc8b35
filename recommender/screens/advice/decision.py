"""One decision at a time: all its options, choosing one, and the reasons behind any of them."""

from collections.abc import Callable
from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.statement import quantity
from recommender.screens.advice.acceptability import how_firm
from recommender.screens.advice.changes import blocks_view, changes_view, weights_view
from recommender.screens.advice.choose import decision_in_hand, result_for, taken_at
from recommender.screens.advice.reasons import contrast_view, reasons_view, sure_line
from recommender.screens.session import current_advice
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.advice.model import Decision, DecisionResult, Framework, OptionResult

_VIEWS = ("Why", "Why not another", "Blocks", "What would change it", "Weights")
_FIRST = 10


def decision_section(found: current_advice.Answer, framework: "Framework | None") -> None:
    """Pick a decision, see its options, choose, and look into one of them."""
    asked = decision_in_hand(found)
    st.subheader(words.told("screen.every_option", decision=words.decision(asked)), anchor=False)
    result = result_for(found, asked, framework)
    taken = taken_at(asked, framework) or result.ranked[0].option
    sure_line(found, asked)
    how_firm(found, asked)
    with st.container(key="casebook_wrap_decision"):
        left, right = st.columns(2, gap="medium")
    with left:
        _options(found, result, taken)
    with right:
        below = _look_into(found, asked, result, taken)
    below()


def _options(found: current_advice.Answer, result: "DecisionResult", taken: str) -> None:
    kind = result.decision.kind
    rows: list[list[object]] = []
    lead = None
    for index, option in enumerate(result.ranked):
        mark = f" ← {words.told('screen.in_framework')}" if option.option == taken else ""
        lead = index if option.option == taken else lead
        safety = any(block.kind == "safety" for block in option.blocked_by)
        rows.append(
            [
                f"{option.rank}. {words.option(kind, option.option)}{mark}",
                words.status(option),
                "–" if safety and option.status == "excluded" else f"{option.score:.1f}",
            ]
        )
    near = found.analysis.engine.knowledge.scoring.near_tie
    shown = [row for row, option in zip(rows, result.ranked, strict=True) if option.status != "excluded"]
    out = [row for row, option in zip(rows, result.ranked, strict=True) if option.status == "excluded"]
    given = words.option("retainer", result.given) if result.given else None
    heads = ["option", "status", "score"]
    most = max(_FIRST, (lead or 0) + 1)
    theme.table(
        heads,
        shown[:most],
        numbers=(2,),
        lead=lead,
        caption=words.told("screen.options", given=given, share=quantity(result.precedent_weight, "share")),
    )
    if shown[most:]:
        with st.expander(words.told("more_possible", n=len(shown) - most)):
            theme.table(heads, shown[most:], numbers=(2,))
    if len(result.ranked) > 1 and 0 <= result.ranked[0].score - result.ranked[1].score <= near:
        same = result.ranked[0].status == result.ranked[1].status
        if same:
            st.info(words.told("screen.first_two_equal"))
    if out:
        with st.expander(words.told("screen.excluded", n=len(out))):
            theme.table(heads, out, numbers=(2,))


def _look_into(
    found: current_advice.Answer, asked: "Decision", result: "DecisionResult", taken: str
) -> Callable[[], None]:
    """The picture beside the options; gives back what draws the table below both."""
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
        return reasons_view(found, result, option)
    if view == _VIEWS[1]:
        return contrast_view(found, result, option)
    if view == _VIEWS[2]:
        return blocks_view(option)
    if view == _VIEWS[3]:
        return changes_view(found, result, option)
    return weights_view(found, result)
