"""Precedents: the nearest stored cases beside this one, and a map of the library with this case in it."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens import answers, state, theme, words
from recommender.screens.advice import ready

if TYPE_CHECKING:
    from recommender.advice.model import Decision
    from recommender.domain.case import Case
    from recommender.precedents.library import Filters
    from recommender.precedents.model import FeatureAccount, Neighbour, Situation

_SIDE_BY_SIDE = 3
_TRI = ("either", "known", "not known")


def page() -> None:
    """Draw the page."""
    found = ready()
    if found is None:
        return
    library = found.working.engine.library
    if library is None:
        st.info("There is no library here (it is set to none), so there are no precedents.")
        return
    asked, filters, count = _asked(found)
    situation = _situation(found, asked)
    near = library.nearest(situation, count, None, filters)
    if not near:
        st.warning("No stored situation passes these filters.")
        return
    _how_many(near)
    _side_by_side(found, asked, near)
    _table(asked, near)
    _map(found, asked, situation, filters)


def _asked(found: answers.Answer) -> "tuple[Decision, Filters, int]":
    from recommender.precedents.library import Filters

    decisions = found.working.decisions()
    if st.session_state.get("precedents.decision") not in decisions:
        st.session_state["precedents.decision"] = decisions[0]
    columns = st.columns([3, 2, 2, 2, 2], vertical_alignment="bottom")
    asked = columns[0].selectbox("Alike at", decisions, format_func=words.decision, key="precedents.decision")
    outcome = columns[1].selectbox("Outcome", _TRI, key="precedents.outcome")
    arch = columns[2].selectbox(
        "Arch",
        ["this arch", "either arch"],
        key="precedents.arch",
        help="A connector is only compared within its arch.",
    )
    approved = columns[3].toggle(
        "Approved only", value=True, key="precedents.approved", persist_state="session"
    )
    count = columns[4].number_input("How many", 3, 50, 6, key="precedents.count")
    known = {"either": None, "known": True, "not known": False}[outcome]
    wanted = Filters(
        approved_only=approved, outcome_known=known,
        arch=found.working.case.arch if arch == "this arch" else None,
    )  # fmt: skip
    return asked, wanted, int(count)


def _situation(found: answers.Answer, asked: "Decision") -> "Situation":
    return found.working.engine.situation(found.working.facts, asked, found.working.examine(asked).given)


def _how_many(near: "list[Neighbour]") -> None:
    best = near[0].likeness
    outcomes = sum(n.situation.outcome_known for n in near)
    st.write(
        f"{len(near)} nearest, likeness {near[-1].likeness:.2f} to {best:.2f}; the outcome of {outcomes} is known. "
        + ("That is few to go by." if len(near) < 5 or outcomes < 3 else "")
    )


def _side_by_side(found: answers.Answer, asked: "Decision", near: "list[Neighbour]") -> None:
    st.subheader("Beside this case", anchor=False)
    start = st.session_state.get("precedents.from", 0)
    start = start if start < len(near) else 0
    shown = near[start : start + _SIDE_BY_SIDE]
    for column, neighbour in zip(st.columns(_SIDE_BY_SIDE), shown, strict=False):
        with column, st.container(border=True):
            _one(found, asked, neighbour)
    if len(near) > _SIDE_BY_SIDE:
        with st.container(horizontal=True):
            st.button(
                "← nearer",
                on_click=_move,
                args=(start - _SIDE_BY_SIDE,),
                disabled=start == 0,
                key="precedents.nearer",
            )
            st.button(
                "farther →", on_click=_move, args=(start + _SIDE_BY_SIDE,), key="precedents.farther",
                disabled=start + _SIDE_BY_SIDE >= len(near),
            )  # fmt: skip


def _move(start: int) -> None:
    st.session_state["precedents.from"] = max(0, start)


def _one(found: answers.Answer, asked: "Decision", neighbour: "Neighbour") -> None:
    stored = neighbour.situation
    where = f", at {state.tooth(stored.site)}" if stored.site else ""
    st.markdown(f"**{stored.case_id}**{where} · likeness **{neighbour.likeness:.2f}**")
    chosen = words.option(asked.kind, stored.choice)
    lead = found.result(asked).ranked[0].option
    agrees = (
        "the same as leads here" if stored.choice == lead else f"here leads {words.option(asked.kind, lead)}"
    )
    st.markdown(f"It chose **{chosen}** ({agrees}).")
    st.markdown(f"How it fared: {stored.verdict or 'not recorded'}.")
    case = _stored(stored.case_id)
    if case is not None:
        _drawn(case)
        _notes(case)
    for verdict in ("alike", "near", "differs", "not_recorded"):
        lines = [line for line in neighbour.account if line.verdict == verdict and line.weight]
        if lines:
            share = sum(line.weight for line in lines)
            with st.expander(
                f"{words.marked(words.LIKENESS, verdict)}: {len(lines)} features, {share:.0%} of the weight"
            ):
                rows: list[list[object]] = [
                    [line.label, words.value(line.here), words.value(line.there)]
                    for line in _by_weight(lines)
                ]
                theme.table(["feature", "here", "there"], rows)
    if case is not None:
        st.button(
            "Open it",
            on_click=_open,
            args=(stored.case_id,),
            key=f"precedents.open.{stored.case_id}.{stored.site}",
            help="Takes that case in hand; this one stays among the cases in work.",
        )


def _open(case_id: str) -> None:
    state.open_by_id(case_id)


def _by_weight(lines: "list[FeatureAccount]") -> "list[FeatureAccount]":
    return sorted(lines, key=lambda line: -line.weight)


def _stored(case_id: str) -> "Case | None":
    try:
        return state.library().get(case_id)
    except KeyError:
        return None


def _drawn(case: "Case") -> None:
    if case.design is None:
        return
    svg, alt = drawn(case.model_dump_json(exclude_none=True), state.numbering())
    from recommender.screens.advice_frame import picture

    picture(svg, alt)


@st.cache_data(show_spinner=False, max_entries=200)
def drawn(text: str, numbering: str) -> tuple[str, str]:
    """SVG and words of the design of a stored case (given as JSON), without labels."""
    from recommender.documents.drawing import arch_drawing
    from recommender.domain.case import Case

    case = Case.model_validate_json(text)
    assert case.design is not None
    made = arch_drawing(
        case, case.design, numbering=numbering, with_labels=False, with_legend=False, with_undercuts=False
    )
    return made.svg, made.alt_text


def _notes(case: "Case") -> None:
    if case.review is not None and case.review.teaching_note:
        st.markdown(f"*Teaching note:* {case.review.teaching_note}")
    if case.source:
        st.caption(case.source)


def _table(asked: "Decision", near: "list[Neighbour]") -> None:
    rows: list[list[object]] = [
        [
            f"{n.situation.case_id}{f', {state.tooth(n.situation.site)}' if n.situation.site else ''}",
            f"{n.likeness:.2f}",
            words.option(asked.kind, n.situation.choice),
            n.situation.verdict or "not recorded",
            "approved" if n.situation.approved else "draft",
        ]
        for n in near
    ]
    theme.table(
        ["case", "likeness", "chose", "how it fared", "review"],
        rows,
        numbers=(1,),
        caption="All of them, nearest first",
    )


def _map(found: answers.Answer, asked: "Decision", situation: "Situation", filters: "Filters") -> None:
    st.subheader("The library around this case", anchor=False)
    if not st.toggle("Draw the map", key="precedents.map"):
        return
    from recommender.screens.precedents_map import map_section

    library = found.working.engine.library
    assert library is not None
    map_section(library, asked, situation, filters.approved_only)
