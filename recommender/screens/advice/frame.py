"""The framework as a whole held against the rules between parts; the runners-up."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.session import current_advice, drawings
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.advice.model import Framework

_WORST_FIRST = ("failed", "not_checked", "passed_with_preparation", "passed")


def checks(framework: "Framework") -> None:
    """The rules between parts: what is not kept or not known first."""
    rows: dict[str, list[list[object]]] = {"open": [], "kept": []}
    for check in sorted(framework.checks, key=lambda check: _WORST_FIRST.index(check.outcome)):
        kept = check.outcome.startswith("passed")
        rows["kept" if kept else "open"].append(
            [words.listed("outcome", check.outcome), words.said(check.statement), check.source]
        )
    heads = ["outcome", "rule", "source"]
    if rows["open"]:
        theme.table(heads, rows["open"], caption="Rules between parts: not kept, or not checked")
    theme.table(heads, rows["kept"], caption=words.told("screen.rules_kept", n=len(rows["kept"])))


def runners_up(found: current_advice.Answer) -> None:
    """The other frameworks, drawn small, with what each gives up beside the first."""
    from recommender.advice.summary import otherwise

    others = found.whole.frameworks[1:]
    if not others:
        return
    st.markdown("**The runners-up, and what they give up**")
    near = found.analysis.engine.knowledge.scoring.near_tie
    for column, (place, other) in zip(st.columns(len(others)), enumerate(others, 2), strict=True):
        with column, st.container(border=True):
            behind = found.whole.frameworks[0].score - other.score
            tie = f"; {words.told('screen.equal_to_first')}" if behind <= near else ""
            st.markdown(
                f"**{place}. {theme.literal(words.said(otherwise(other)))}** · {other.score:.1f}{tie}"
            )
            drawings.show(found.analysis.case, other.design, provisional=other.provisional, plain=True)
            st.markdown(
                "\n".join(f"- {words.said(line)}" for line in other.gives_up)
                or f"- {words.told('screen.nothing_scored')}"
            )
            st.button(
                "Take this one", on_click=current_advice.choose_all, args=(other,), key=f"advice.take.{place}",
                help="Its parts become your choices; Undo brings back what was there.",
            )  # fmt: skip
