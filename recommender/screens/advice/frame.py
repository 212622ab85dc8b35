"""The framework as a whole: drawn, told in a table, held against the rules between parts; the runners-up."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.advice.choose import change_a_part
from recommender.screens.session import current_advice, drawings, state
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.advice.model import Framework

_WORST_FIRST = ("failed", "not_checked", "passed_with_preparation", "passed")


def framework_section(found: current_advice.Answer, framework: "Framework | None") -> None:
    """Drawing beside parts; below, the runners-up and the rules between parts."""
    if framework is None:
        st.warning(
            "No framework can be put together: some place has no usable part. The decisions below say why."
        )
        return
    made = current_advice.chosen()
    with st.container(key="casebook_wrap_framework"):
        left, right = st.columns([7, 4], gap="medium")
    with left:
        st.subheader("The framework as you chose it" if made else "The proposed framework", anchor=False)
        drawings.show(found.analysis.case, framework.design, provisional=framework.provisional)
    with right:
        st.html(
            f'<p><b style="font-size:1.3rem">{framework.score:.1f}</b> of 100. Scores rank options; they are no '
            "probabilities of success.</p>"
        )
        change_a_part(found, framework)
        if made:
            st.button(
                "Leave everything to the ranking again",
                on_click=current_advice.choices_away,
                key="advice.choices_away",
            )
        _parts(found, framework)
        if framework.preparation:
            st.markdown("**Before the impression, by the dentist**")
            st.markdown("\n".join(f"1. {words.step(step)}" for step in framework.preparation))
    _checks(framework)
    runners_up(found)


def _parts(found: current_advice.Answer, framework: "Framework") -> None:
    made = state.choices()

    def chosen(key: str) -> str:
        return " (chosen)" if key in made else ""

    rows: list[list[object]] = [
        ["connector", words.option("connector", framework.connector) + chosen("connector"), ""]
    ]
    for tooth in sorted({*framework.retainers, *framework.rests}):
        retainer = framework.retainers.get(tooth)
        rest = framework.rests.get(tooth)
        rows.append(
            [
                state.tooth(tooth),
                (words.option("retainer", retainer) if retainer else "indirect retainer")
                + chosen(f"retainer:{tooth}"),
                (words.option("rest", rest) if rest else "no rest") + chosen(f"rest:{tooth}"),
            ]
        )
    for tooth, part in framework.replacements.items():
        rows.append(
            [state.tooth(tooth), words.option("replacement", part) + chosen(f"replacement:{tooth}"), ""]
        )
    theme.table(["where", "part", "rest"], rows, caption="Parts")


def _checks(framework: "Framework") -> None:
    """The rules between parts: what is not kept or not known in sight, the others folded away."""
    rows: dict[str, list[list[object]]] = {"open": [], "kept": []}
    for check in sorted(framework.checks, key=lambda check: _WORST_FIRST.index(check.outcome)):
        kept = check.outcome.startswith("passed")
        rows["kept" if kept else "open"].append(
            [words.marked(words.OUTCOME, check.outcome), words.said(check.statement), check.source]
        )
    heads = ["outcome", "rule", "source"]
    if rows["open"]:
        theme.table(heads, rows["open"], caption="Rules between parts: not kept, or not checked")
    with st.expander(f"Rules between parts that are kept: {len(rows['kept'])}"):
        theme.table(heads, rows["kept"])


def runners_up(found: current_advice.Answer) -> None:
    """The other frameworks, drawn small, with what each gives up beside the first."""
    others = found.whole.frameworks[1:]
    if not others:
        return
    st.markdown("**The runners-up, and what they give up**")
    near = found.analysis.engine.knowledge.scoring.near_tie
    for column, (place, other) in zip(st.columns(len(others)), enumerate(others, 2), strict=True):
        with column, st.container(border=True):
            behind = found.whole.frameworks[0].score - other.score
            tie = "; a near tie with the first" if behind <= near else ""
            st.markdown(f"**{place}. {words.option('connector', other.connector)}** · {other.score:.1f}{tie}")
            drawings.show(found.analysis.case, other.design, provisional=other.provisional, plain=True)
            st.markdown(
                "\n".join(f"- {words.said(line)}" for line in other.gives_up) or "- nothing that is scored"
            )
            st.button(
                "Take this one", on_click=current_advice.choose_all, args=(other,), key=f"advice.take.{place}",
                help="Its parts become your choices; Undo brings back what was there.",
            )  # fmt: skip
