"""This case and the stored ones nearest to it, side by side: a card for each, and one table of what is alike."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.statement import Teeth, quantity, tooth
from recommender.screens.session import current_advice, drawings, library_in_use, state
from recommender.screens.session.visitor import store
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.advice.model import Decision
    from recommender.domain.case import Case
    from recommender.precedents.model import FeatureAccount, Neighbour

BESIDE = 3
_FROM, _OPENED = "precedents.from", "precedents.opened"
_MOST_ROWS = 30
# What is no finding about the mouth.
_OF_THE_RECORD = ("id", "title", "source", "design", "review", "outcome", "dentist_answer", "asked", "format")
_ROWS = {
    "what differs": ("differs", "near"),
    "what is not recorded": ("not_recorded",),
    "everything": ("alike", "near", "differs", "not_recorded"),
}


def beside_section(found: current_advice.Answer, asked: "Decision", near: "list[Neighbour]") -> None:
    """Cards above, the comparison below; farther ones on further turns."""
    st.subheader("Beside this case", anchor=False)
    start = st.session_state.get(_FROM, 0)
    start = start if start < len(near) else 0
    shown = near[start : start + BESIDE]
    columns = st.columns(BESIDE + 1, gap="small")
    with columns[0], st.container(border=True):
        _this_case(found, asked)
    for column, neighbour in zip(columns[1:], shown, strict=False):
        with column, st.container(border=True):
            _stored_case(found, asked, neighbour)
    if len(near) > BESIDE:
        _turn(start, len(near))
    _compared(shown)


def _turn(start: int, count: int) -> None:
    with st.container(horizontal=True, vertical_alignment="center"):
        st.button(
            "← nearer", on_click=_move, args=(start - BESIDE,), disabled=start == 0, key="precedents.nearer"
        )
        st.button(
            "farther →",
            on_click=_move,
            args=(start + BESIDE,),
            disabled=start + BESIDE >= count,
            key="precedents.farther",
        )
        st.write(words.told("screen.from_to", first=start + 1, last=min(start + BESIDE, count), of=count))


def _move(start: int) -> None:
    st.session_state[_FROM] = max(0, start)


def _this_case(found: current_advice.Answer, asked: "Decision") -> None:
    """The case in hand as a card of the same make, with what leads here."""
    st.markdown(words.told("screen.this_case_at", case=found.analysis.case.id, tooth=_at(asked.tooth)))
    lead = found.result(asked).ranked[0]
    option = words.option(asked.kind, lead.option)
    st.markdown(words.told("screen.here_leads", option=option, status=words.status(lead)))
    framework, _ = current_advice.framework(found)
    if framework is not None:
        drawings.show(found.analysis.case, framework.design, provisional=framework.provisional, plain=True)
        theme.note(
            words.told("screen.framework_chosen" if current_advice.chosen() else "screen.framework_proposed")
        )


def _stored_case(found: current_advice.Answer, asked: "Decision", neighbour: "Neighbour") -> None:
    stored = neighbour.situation
    likeness = quantity(neighbour.likeness, "", 2)
    st.markdown(
        words.told("screen.stored_case_at", case=stored.case_id, tooth=_at(stored.site), likeness=likeness)
    )
    same = stored.choice == found.result(asked).ranked[0].option
    code = "screen.it_chose_the_same" if same else "screen.it_chose"
    st.markdown(words.told(code, option=words.option(asked.kind, stored.choice)))
    case = _read(stored.case_id)
    if case is not None and case.design is not None:
        drawings.show(case, case.design, plain=True)
    st.markdown(words.told("screen.how_it_fared", fared=theme.literal(words.fared(stored.verdict))))
    if case is None:
        return
    if case.review is not None and case.review.teaching_note:
        st.markdown(words.told("screen.teaching_note", note=theme.literal(case.review.teaching_note)))
    if case.source:
        theme.note(case.source)
    st.button(
        "Open it beside",
        on_click=_open,
        args=(stored.case_id,),
        key=f"precedents.open.{stored.case_id}.{stored.site}",
        help="Shows that case whole beside the one in hand, which stays in hand.",
    )


def _open(case_id: str | None) -> None:
    store()[_OPENED] = case_id


def opened_section(found: current_advice.Answer) -> None:
    """A stored case whole beside the one in hand: both drawn, and every recorded field in which they differ."""
    case_id = store().get(_OPENED)
    stored = _read(case_id) if case_id is not None else None
    if stored is None:
        return
    from recommender.precedents.store.documents import differences

    here = found.analysis.case
    with st.container(border=True):
        st.subheader(words.told("screen.beside", other=stored.id, case=here.id), anchor=False)
        left, right = st.columns(2, gap="medium")
        with left:
            st.markdown(words.told("screen.this_case", case=here.id))
            framework, _ = current_advice.framework(found)
            if framework is not None:
                drawings.show(here, framework.design, provisional=framework.provisional, legend=False)
        with right:
            st.markdown(f"**{stored.id}** · {theme.literal(stored.title or '')}")
            if stored.design is not None:
                drawings.show(stored, stored.design, legend=False)
            if stored.review is not None and stored.review.teaching_note:
                note = theme.literal(stored.review.teaching_note)
                st.markdown(words.told("screen.teaching_note", note=note))
        rows: list[list[object]] = [
            [words.field(path), words.value_at(path, mine), words.value_at(path, theirs)]
            for path, mine, theirs in differences(here, stored)
            if path.partition(".")[0].partition("[")[0] not in _OF_THE_RECORD
        ]
        theme.table(["field", "this case", stored.id], rows[:_MOST_ROWS], caption="Where they differ")
        if len(rows) > _MOST_ROWS:
            st.write(words.told("and_more", n=len(rows) - _MOST_ROWS))
        st.button("Close it", on_click=_open, args=(None,), key="precedents.close")


def _at(site: int | None) -> Teeth | None:
    return tooth(site) if site else None


def _read(case_id: str) -> "Case | None":
    try:
        return library_in_use.library().get(case_id)
    except KeyError:
        return None


def _compared(shown: "list[Neighbour]") -> None:
    """Feature by feature, the weightiest first: here, and in each of the cards above."""
    wanted = st.segmented_control(
        "Compare", list(_ROWS), default="what differs", key="precedents.compare", required=True
    )
    accounts = [{line.feature: line for line in one.account if line.weight} for one in shown]
    features = {name: line for account in accounts for name, line in account.items()}
    rows: list[list[object]] = []
    for name, line in sorted(features.items(), key=lambda item: -item[1].weight):
        verdicts = {account[name].verdict for account in accounts if name in account}
        if verdicts.isdisjoint(_ROWS[wanted]):
            continue
        rows.append(
            [
                line.label,
                f"{line.weight:.0%}",
                words.value(line.here, line.unit),
                *(_there(account.get(name)) for account in accounts),
            ]
        )
    heads = ["feature", "weight", "this case", *(_name(one) for one in shown)]
    if rows:
        theme.table(heads, rows, numbers=(1,), caption=words.told("screen.by_feature", wanted=wanted))
    else:
        st.write("Nothing of that kind among these.")
    for one in shown:
        st.html(
            f'<p class="casebook-caution"><b>{theme.escape(_name(one))}</b>: {theme.escape(_tally(one))}</p>'
        )


def _name(neighbour: "Neighbour") -> str:
    stored = neighbour.situation
    return f"{stored.case_id}, {state.tooth(stored.site)}" if stored.site else stored.case_id


def _there(line: "FeatureAccount | None") -> str:
    if line is None:
        return "–"
    symbol, _ = words.LIKENESS[line.verdict]
    return f"{symbol} {words.value(line.there, line.unit)}"


def _tally(neighbour: "Neighbour") -> str:
    told = []
    for verdict, (_, name) in words.LIKENESS.items():
        lines = [line for line in neighbour.account if line.verdict == verdict and line.weight]
        if lines:
            weight = quantity(sum(line.weight for line in lines), "share")
            told.append(words.told("screen.of_the_weight", n=len(lines), how=name, share=weight))
    return ", ".join(told)
