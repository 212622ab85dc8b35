"""What the dentist answered: it becomes part of the case, and so does the design that was settled."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.case import DentistAnswer
from recommender.screens.advice.choose import taken_at
from recommender.screens.dentist.settled import settled
from recommender.screens.session import current_advice, keys, state
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.advice.model import Framework
    from recommender.advice.review import ReviewItem
    from recommender.domain.case import Case


def answer_section(
    found: current_advice.Answer, framework: "Framework | None", items: "tuple[ReviewItem, ...]"
) -> None:
    """One line for each decision, and the design put into the case."""
    st.subheader("The dentist's answer", anchor=False)
    st.write("Recorded in the case, item by item. Leave open what was not answered.")
    held = {answer.item: answer for answer in found.analysis.case.dentist_answer or ()}
    decisions = [item.decision for item in items if item.decision.kind != "alloy"]
    named = {item.decision for item in items if item.asked is not None} & set(decisions)
    if named and st.toggle("Only items that the prescription names", value=True, key="talk.only_asked"):
        decisions = [decision for decision in decisions if decision in named]
    for decision in decisions:
        proposed = taken_at(decision, framework)
        name, answer, reason = st.columns([4, 2, 4], vertical_alignment="center")
        name.markdown(f"{words.decision(decision)}: {words.option(decision.kind, proposed or 'none')}")
        now = held.get(decision.key)
        key = keys.view(f"talk.answer.{decision.key}", now.answer if now else None)
        why = keys.view(f"talk.why.{decision.key}", (now.reason or "") if now else "")
        answer.selectbox(
            words.told("screen.answer_on", decision=words.decision(decision)),
            [None, *words.ANSWERS],
            index=list(words.ANSWERS).index(now.answer) + 1 if now else 0,
            format_func=lambda o: o or "no answer yet",
            key=key,
            on_change=_record,
            args=(decision.key, key, why),
            placeholder="no answer yet",
            label_visibility="collapsed",
        )
        reason.text_input(
            words.told("screen.reason_on", decision=words.decision(decision)),
            value=(now.reason or "") if now else "",
            key=why,
            on_change=_record,
            args=(decision.key, key, why),
            placeholder="reason, if one was given",
            label_visibility="collapsed",
            disabled=now is None,
        )
    if framework is not None:
        _signed(found, framework)
        _returned(found, framework)
        same = found.analysis.case.design == framework.design
        st.button(
            "Put this design into the case",
            on_click=_settle,
            args=(framework,),
            disabled=same,
            key="talk.settle",
            help="So that the case file holds what was agreed; the educator can then take it into the library.",
        )
        if same:
            st.write("✓ The case holds this design.")


def _signed(found: current_advice.Answer, framework: "Framework") -> None:
    """Whether the design in hand is the one that was signed."""
    from recommender.documents.answers import signature
    from recommender.documents.answers.fingerprint import fingerprint

    case = found.analysis.case
    code = fingerprint(case, framework.design, framework.preparation)
    show = st.error if signature.state(case, code) == "signed_void" else st.write
    show(words.said(signature.said(case, code)))


def _returned(found: current_advice.Answer, framework: "Framework") -> None:
    """The file that the page to answer on saved, read into the case once a person has seen what it says."""
    from recommender.documents.answers.recorded import recorded
    from recommender.documents.answers.returned import AnswerError, read_returned
    from recommender.documents.letter import asked_of

    file = st.file_uploader(
        "The dentist's answer, as saved from the page", type=["json"], max_upload_size=1, key="talk.returned"
    )
    if file is None:
        return
    try:
        returned = read_returned(file.getvalue())
        about = current_advice.with_standing(settled(found, framework))
        taken = recorded(found.analysis.case, asked_of(about.analysis, about.whole), returned)
    except AnswerError as error:
        st.error(theme.literal(words.said(error.statement)))
        return
    lines = words.in_words().lines(taken.lines)
    if taken.void:
        st.error(theme.literal("\n\n".join(lines)))
        return
    st.markdown("\n".join(f"- {theme.literal(line)}" for line in lines))
    st.button("Take this answer into the case", on_click=_take, args=(taken.case,), key="talk.take_returned")


def _take(case: "Case") -> None:
    state.change(case)


def _record(item: str, key: str, why: str) -> None:
    # both are asked, so that both are seen
    if not any([keys.edited(key), keys.edited(why)]):
        return
    held = state.case()
    if held is None:
        return
    given = st.session_state[key]
    reason = str(st.session_state.get(why) or "").strip() or None
    kept = [answer for answer in held.dentist_answer or () if answer.item != item]
    if given is not None:
        kept.append(DentistAnswer(item=item, answer=given, reason=reason))
    state.change(held.model_copy(update={"dentist_answer": kept or None}))


def _settle(framework: "Framework") -> None:
    held = state.case()
    if held is not None:
        state.change(held.model_copy(update={"design": framework.design}))
