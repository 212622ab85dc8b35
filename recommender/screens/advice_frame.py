"""The framework as a whole: drawn, told in a table, held against the rules between parts; the runners-up."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens import answers, state, theme, words
from recommender.screens.advice_choose import change_a_part

if TYPE_CHECKING:
    from recommender.advice.model import Framework


def framework_section(found: answers.Answer, framework: "Framework | None") -> None:
    """Drawing beside parts and checks."""
    if framework is None:
        st.warning(
            "No framework can be put together: some place has no usable part. The decisions below say why."
        )
        return
    made = answers.chosen()
    left, right = st.columns([7, 4], gap="medium")
    with left:
        st.subheader("The framework as you chose it" if made else "The proposed framework", anchor=False)
        draw(found, framework)
        runners_up(found)
        if made:
            st.button(
                "Leave everything to the ranking again",
                on_click=answers.choices_away,
                key="advice.choices_away",
            )
    with right:
        st.html(
            f'<p><b style="font-size:1.3rem">{framework.score:.1f}</b> of 100. Scores rank options; they are no '
            "probabilities of success.</p>"
        )
        change_a_part(found, framework)
        _parts(found, framework)
        _checks(framework)
        if framework.preparation:
            st.markdown("**Before the impression, by the dentist**")
            st.markdown("\n".join(f"1. {words.step(step)}" for step in framework.preparation))


def draw(found: answers.Answer, framework: "Framework", *, plain: bool = False) -> None:
    """The arch with the framework on it, and the same in words for those who cannot see it."""
    from recommender.documents.drawing import arch_drawing

    drawn = arch_drawing(
        found.working.case,
        framework.design,
        numbering=state.numbering(),
        provisional=framework.provisional,
        with_labels=not plain,
        with_legend=not plain,
        with_undercuts=not plain,
    )
    picture(drawn.svg, drawn.alt_text)


def picture(svg: str, alt: str) -> None:
    """A drawing on paper-white, which it is made for, in both themes."""
    import base64

    data = base64.b64encode(svg.encode()).decode()
    st.html(
        f'<div class="casebook-drawing"><img alt="{theme.escape(alt)}" src="data:image/svg+xml;base64,{data}"></div>'
    )


def _parts(found: answers.Answer, framework: "Framework") -> None:
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
    rows: list[list[object]] = [
        [words.marked(words.OUTCOME, check.outcome), words.said(check.text), check.source]
        for check in sorted(framework.checks, key=lambda check: check.outcome.startswith("passed"))
    ]
    failed = sum(check.outcome == "failed" for check in framework.checks)
    unknown = sum(check.outcome == "not_checked" for check in framework.checks)
    kept = len(rows) - failed - unknown
    with st.expander(
        f"Rules between parts: {kept} kept, {unknown} not checked, {failed} not kept", expanded=bool(failed)
    ):
        theme.table(["outcome", "rule", "source"], rows)


def runners_up(found: answers.Answer) -> None:
    """The other frameworks, drawn small, with what each gives up beside the first."""
    others = found.whole.frameworks[1:]
    if not others:
        return
    st.markdown("**The runners-up, and what they give up**")
    near = found.working.engine.knowledge.scoring.near_tie
    for column, (place, other) in zip(st.columns(len(others)), enumerate(others, 2), strict=True):
        with column, st.container(border=True):
            behind = found.whole.frameworks[0].score - other.score
            tie = "; a near tie with the first" if behind <= near else ""
            st.markdown(f"**{place}. {words.option('connector', other.connector)}** · {other.score:.1f}{tie}")
            draw(found, other, plain=True)
            st.markdown(
                "\n".join(f"- {words.said(line)}" for line in other.gives_up) or "- nothing that is scored"
            )
            st.button(
                "Take this one", on_click=answers.choose_all, args=(other,), key=f"advice.take.{place}",
                help="Its parts become your choices; Undo brings back what was there.",
            )  # fmt: skip
