"""A whole framework drawn by choosing parts on the arch, and checked as the program checks its own proposals."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.statement import Teeth
from recommender.screens.library import data
from recommender.screens.practice import data as own
from recommender.screens.practice.exercise import ask, opened
from recommender.screens.session import drawings, library_in_use, state
from recommender.screens.ui import chart, theme, words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from recommender.curation.teaching.exercises import Exercise, Question
    from recommender.curation.teaching.whole import Told

_MARKS = {"passed": "✓", "passed_with_preparation": "◐", "not_checked": "○", "failed": "✕"}
_TOOTH = "practice.whole.tooth"
_HINT = "A click on a tooth, or Enter, brings what it may carry to the top; arrow keys move."
_HEADS = {
    "connector": "Major connector", "retainer": "Retainers", "rest": "Rests", "replacement": "Replacement teeth",
}  # fmt: skip


def part() -> None:
    """Draw this part."""
    made = opened()
    if made is None:
        st.info("Choose an exercise first, under Exercise: the same case is then drawn here as a whole.")
        return
    st.markdown(words.told("practice.exercise_choose_parts", id=made.id, kennedy=made.kennedy))
    left, right = st.columns([1, 1], gap="large")
    with left:
        chart.arch_chart(made.case, state.numbering(), _on_click, f"practice.whole.chart.{made.id}", _HINT)
    with right:
        answers = _choices(made)
    with left:
        from recommender.curation.teaching.whole import drawn

        drawings.show(made.case, drawn(answers))
    key = (data.where(), library_in_use.library_version(), made.id, tuple(sorted(answers.items())))
    held: dict[object, Told] = st.session_state.setdefault("practice.whole", {})
    if st.button("Check it", type="primary", key="practice.check", disabled=not answers):
        from recommender.curation.teaching.whole import told

        with st.spinner("Building it and checking what lies between the parts …"):
            held.clear()
            held[key] = told(own.examiner(made), answers)
    if key in held:
        _say(held[key])


def _on_click(click: chart.Click) -> None:
    st.session_state[_TOOTH] = click.tooth


def _choices(made: "Exercise") -> dict[str, str]:
    """A choice for each decision, those on the tooth that was clicked first; what is left open is chosen by the program
    when it is checked."""
    answers: dict[str, str] = {}
    tooth = st.session_state.get(_TOOTH)
    here = [question for question in made.questions if tooth and question.decision.tooth == tooth]
    if tooth:
        st.markdown(f"**{words.told('practice.on', tooth=Teeth((tooth,)))}**")
        if not here:
            theme.note("Nothing is decided on this tooth.")
        _asked(made, here, answers)
    for kind, head in _HEADS.items():
        asked = [one for one in made.questions if one.decision.kind == kind and one not in here]
        if not asked:
            continue
        with st.expander(head, expanded=kind in ("connector", "retainer")):
            _asked(made, asked, answers)
    return answers


def _asked(made: "Exercise", questions: "Sequence[Question]", answers: dict[str, str]) -> None:
    for question in questions:
        answer = ask(question, f"practice.whole.{made.id}", "left to the program")
        if answer is not None:
            answers[question.decision.key] = answer


def _say(found: "Told") -> None:
    if found.framework is None:
        st.error(f"✕ {theme.literal(words.told('practice.cannot_be_built', why=found.why_not))}")
        return
    failed = [check for check in found.checks if check.outcome == "failed"]
    fail = words.told("practice.checks_fail", failed=len(failed), checks=len(found.checks))
    st.markdown(f"**{fail}** {words.said(found.standing) if found.standing else ''}")
    order = list(_MARKS)
    ordered = sorted(found.checks, key=lambda check: -order.index(check.outcome))
    theme.table(
        ["", "check", "source"],
        [[_MARKS[check.outcome], words.said(check.statement), check.source] for check in ordered],
        caption="The rules between parts, as for the program's own frameworks",
    )
    lines = [words.said(line) for line in (*found.framework.gives_up, *found.framework.cautions)]
    if lines:
        st.markdown("\n".join(f"- {theme.literal(line)}" for line in lines))
