"""One exercise: chosen, worked out, committed, talked over."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.library import data
from recommender.screens.practice import data as own
from recommender.screens.practice.feedback import one_decision, show
from recommender.screens.session import drawings, library_in_use
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from collections.abc import Mapping

    from recommender.curation.teaching.exercises import Exercise, Feedback, Question
    from recommender.domain.case import Case

_SAID, _TOLD = "practice.said", "practice.told"
_WAYS = ("what suits me", "by difficulty", "a principle I missed", "a case of my choice")


def part() -> None:
    """Draw this part."""
    found = opened()
    with st.expander("Choose an exercise", expanded=found is None):
        _choose()
    if found is None:
        st.info("Choose an exercise above.")
        return
    _show(found)


def opened() -> "Exercise | None":
    """The exercise that the address names."""
    from recommender.curation.teaching.exercises import exercise_id

    name = st.query_params.get("exercise")
    if not name:
        return None
    for case_id, revision in own.approved().items():
        if exercise_id(case_id, revision) == name:
            return own.made(case_id, revision)
    st.warning(words.told("practice.there_no_exercise", name=f"{name!r}"))
    return None


def _set(made: "Exercise | None") -> None:
    if made is None:
        return
    st.query_params["exercise"] = made.id
    st.rerun()


def _choose() -> None:
    way = st.radio("Choose", _WAYS, horizontal=True, key="practice.way", persist_state="session")
    with data.told():
        if way == _WAYS[0]:
            _suiting()
        elif way == _WAYS[1]:
            _by_difficulty()
        elif way == _WAYS[2]:
            _by_principle()
        else:
            _by_case()


def _suiting() -> None:
    from recommender.curation.teaching import learners
    from recommender.curation.teaching.choice import suiting

    theme.note(
        "One that turns on principles that are due for you, else one of a difficulty that fits your results."
    )
    if not st.button("Set the exercise", type="primary", key="practice.set"):
        return
    name = own.alias()
    if name is not None and data.is_database():
        with st.spinner("Choosing …"):
            _set(learners.next_exercise(data.writing(), name, library_in_use.recommender()))
        return
    done = st.session_state.setdefault("practice.seen", set())
    _set(next(iter(suiting(own.pool(), answered=done)), None))


def _by_difficulty() -> None:
    from recommender.curation.teaching.choice import BANDS, suiting

    wanted = st.segmented_control(
        "Difficulty", list(BANDS), default="easy", required=True, key="practice.difficulty"
    )
    theme.note("How hard: how close the leading options lie, on average over the decisions.")
    if st.button("Set the exercise", type="primary", key="practice.set"):
        found = suiting(
            own.pool(), wanted=str(wanted), answered=st.session_state.setdefault("practice.seen", set())
        )
        if not found:
            st.info("No exercise of that difficulty among those looked at.")
        _set(next(iter(found), None))


def _by_principle() -> None:
    from recommender.curation.teaching.choice import suiting
    from recommender.screens.rules.data import sentence

    done = own.progress()
    if done is None or not done.principles:
        st.info("No principle is kept as missed for this alias (results are kept in a library of your own).")
        return
    names = [principle.id for principle in done.principles]
    chosen = st.selectbox("Principle, those due first", names, format_func=sentence, key="practice.principle")
    if st.button("Set the exercise", type="primary", key="practice.set"):
        answered = {one.exercise for one in done.answered}
        found = suiting(own.pool(), principle=chosen, answered=answered)
        if not found:
            st.info("None of the exercises looked at turns on it.")
        _set(next(iter(found), None))


def _by_case() -> None:
    from recommender.screens.ui.case_choice import choose

    heads = [head for head in data.heads() if head.status == "approved"]
    case_id = choose("Approved case", heads, "practice.case")
    if (
        st.button("Set the exercise", type="primary", key="practice.set", disabled=case_id is None)
        and case_id
    ):
        if not own.usable(case_id):
            st.info("This case has no design, or nothing is to be replaced: it cannot be set.")
            return
        _set(own.made(case_id, own.approved()[case_id]))


def _show(made: "Exercise") -> None:
    from recommender.curation.teaching.choice import band
    from recommender.domain.labels import word_label

    st.markdown(
        words.told(
            "practice.exercise_decisions",
            id=made.id,
            what=word_label("arch", made.case.arch),
            kennedy=made.kennedy,
            band=band(made.difficulty),
            questions=len(made.questions),
        )
    )
    said = st.session_state.get(_SAID, {}).get(made.id)
    left, right = st.columns([1, 1], gap="large")
    with left:
        _case(made.case)
    with right:
        if said is None:
            _decide(made)
        else:
            show(made, said)
            if st.button("Work it out again", key="practice.again"):
                del st.session_state[_SAID][made.id]
                st.rerun()


def _case(held: "Case") -> None:
    from recommender.curation.teaching.sheets import findings
    from recommender.domain.designs import Design

    drawings.show(held, Design(), labels=False)
    st.write(
        words.told(
            "screen.absent" if held.absent else "screen.none_absent",
            missing=words.teeth(held.missing),
            absent=words.teeth(held.absent or []),
        )
    )
    theme.table(
        ["finding", "recorded"],
        [[words.field(path), value.replace("_", " ")] for path, value in findings(held)],
        caption="What was recorded; anything else was not",
    )


def ask(question: "Question", key: str, empty: str) -> str | None:
    """A choice among the options of a question, in the order of the alphabet; ``empty`` stands where none is made."""
    kind = question.decision.kind

    def shown(name: str) -> str:
        return words.option(kind, name)

    return st.selectbox(
        words.decision(question.decision),
        sorted(question.options, key=lambda name: shown(name).casefold()),
        index=None,
        format_func=shown,
        key=f"{key}.{question.decision.key}",
        placeholder=empty,
        persist_state="session",
    )


def _decide(made: "Exercise") -> None:
    """One decision after the other: committed, told what there is to say, and never changed afterwards."""
    told: dict[str, Feedback] = st.session_state.setdefault(_TOLD, {}).setdefault(made.id, {})
    st.markdown(
        "**Decide one after the other.** The options stand in the order of the alphabet; what is said follows."
    )
    for question in made.questions:
        key = question.decision.key
        if key in told:
            one_decision(told[key])
            continue
        answer = ask(question, f"practice.{made.id}", "not decided")
        if answer is not None and st.button("Commit this one", key=f"practice.commit.{key}"):
            _tell(made, told, key, answer)
    left = len(made.questions) - len(told)
    answers = {
        question.decision.key: answer
        for question in made.questions
        if question.decision.key not in told
        and (answer := st.session_state.get(f"practice.{made.id}.{question.decision.key}")) is not None
    }
    decided = len(told) + len(answers)
    st.progress(
        decided / max(len(made.questions), 1),
        words.told("practice.decided", decided=decided, questions=len(made.questions)),
    )
    ready = left == len(answers)
    if not st.button(
        "Commit all" if left else "Finish", type="primary", disabled=not ready, key="practice.commit"
    ):
        if not ready:
            theme.note("Every decision is needed before the exercise is finished.")
        return
    with st.spinner("Holding your choices against rules and precedents …"):
        for key, answer in answers.items():
            if not _tell(made, told, key, answer, answers, again=False):
                return
    said = [told[question.decision.key] for question in made.questions]
    st.session_state.setdefault(_SAID, {})[made.id] = said
    del st.session_state[_TOLD][made.id]
    st.session_state.setdefault("practice.seen", set()).add(made.id)
    _keep(made, said)
    st.rerun()


def _tell(
    made: "Exercise",
    told: "dict[str, Feedback]",
    key: str,
    answer: str,
    more: "Mapping[str, str] | None" = None,
    *,
    again: bool = True,
) -> bool:
    """Hold one answer against rules and precedents; ``False``, with a message, where it cannot be."""
    from recommender.curation.teaching.exercises import UnknownAnswerError

    answers = {**(more or {}), **{name: one.answer for name, one in told.items()}, key: answer}
    try:
        told.update({one.decision.key: one for one in own.examiner(made).say(answers, key)})
    except UnknownAnswerError as error:
        st.error(f"✕ {theme.literal(error)}")
        return False
    if again:
        st.rerun()
    return True


def _keep(made: "Exercise", said: "list[Feedback]") -> None:
    from recommender.curation.teaching.learners import record

    name = own.alias()
    if name is None:
        data.done("Committed. Without an alias nothing is kept.")
    elif not data.is_database():
        data.done("Committed. This library is read-only, so the result is not kept.")
    else:
        record(data.writing(), name, made, said)
        data.done(words.told("practice.committed_kept_under", name=name))
