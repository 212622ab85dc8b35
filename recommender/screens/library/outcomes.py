"""How cases fared: follow-up added over time, and how long each option lasted."""

from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING, get_args

import streamlit as st

from recommender.domain.statement import Word
from recommender.screens.library import data, pictures
from recommender.screens.session import person, state
from recommender.screens.session.whole_library import looked_through
from recommender.screens.ui import theme, words
from recommender.screens.ui.case_choice import choose

if TYPE_CHECKING:
    from recommender.curation.survival import Point, Survival
    from recommender.domain.case import Case

_YES_NO = {"not recorded": None, "yes": True, "no": False}
_KINDS = ("retainer", "connector", "replacement")


def part() -> None:
    """Draw this part."""
    _survival()
    if data.is_database():
        if person.may("follow_up"):
            st.markdown("#### Add a follow-up")
            _follow_up()
    else:
        theme.note("A follow-up is added in a library of your own.")


def _survival() -> None:
    from recommender.curation.survival import figures

    known = figures()
    labels = {one.id: one.label for one in known.definitions}
    left, middle, right = st.columns([3, 2, 2])
    with left:
        chosen = st.selectbox(
            "What counts as failure", list(labels), index=list(labels).index(known.default),
            format_func=labels.__getitem__, key="library.definition", persist_state="session",
        )  # fmt: skip
    with middle:
        kind = st.selectbox(
            "Of",
            list(_KINDS),
            format_func=partial(words.term, "decisions"),
            key="library.kind",
            persist_state="session",
        )
    with right:
        drafts = st.checkbox("Count drafts too", key="library.drafts", persist_state="session")
    meant = known.definition(chosen)
    data.say(words.told("library.failure_counted_here", text=theme.escape(meant.text)))
    found = _worked_out(chosen, kind, drafts)
    if not found.curves:
        st.info("No case of this library was followed.")
        return
    if data.where() == "demo":
        data.invented("These outcomes were made up; the curves say nothing about real work.")
    told = [curve for curve in found.curves if not curve.too_few]
    if told:
        names = {curve.option: words.option(kind, curve.option) for curve in told}
        picked = st.multiselect(
            "Options drawn", list(names), default=list(names)[:3], format_func=names.__getitem__, max_selections=6,
            key=f"library.curves.{kind}",
        )  # fmt: skip
        drawn = [curve for curve in told if curve.option in picked]
        if drawn:
            st.altair_chart(
                pictures.survival([(names[curve.option], curve) for curve in drawn]), width="stretch",
                alt=words.told("library.share_not_failed", kind=Word("decisions", kind)),
            )  # fmt: skip
    _table(found, kind)


def _table(found: "Survival", kind: str) -> None:
    months = [point.month for point in found.curves[0].points]
    rows: list[list[object]] = [
        [
            words.option(kind, curve.option),
            curve.cases,
            curve.units,
            curve.failures,
            *(_said(point) for point in curve.points),
        ]
        for curve in found.curves
    ]
    theme.table(
        ["option", "dentures", "followed", "failed", *(words.told(
            "library.months_a",
            month=f"{month:g}",
        ) for month in months)], rows,
        numbers=(1, 2, 3),
        caption=words.told("library.not_failed_brackets", confidence=f"{found.confidence:.0%}"),
    )  # fmt: skip
    theme.note(words.told("library.kaplan_el_meier", caution=found.caution))
    for reason, number in sorted(found.left_out.items()):
        theme.note(words.told("library.left_out_parts", number=number, reason=reason))


def _said(point: "Point") -> str:
    if point.survival is None:
        return words.told("library.too_few_say", at_risk=point.at_risk)
    return f"{point.survival:.0%} ({point.low:.0%}–{point.high:.0%}), n {point.at_risk}"


def _worked_out(definition: str, kind: str, drafts: bool) -> "Survival":
    from recommender.curation.survival import figures, survival
    from recommender.precedents.store.documents import status

    def work(cases: "Iterator[Case]") -> "Survival":
        counted = (case for case in cases if drafts or status(case) != "draft")
        return survival(counted, figures().definition(definition), kind)

    return looked_through(("survival", definition, kind, drafts), work, "Working out survival …")


def _follow_up() -> None:
    from recommender.domain import vocabulary

    if not data.may_write("follow_up") or data.lacks_who():
        return
    case_id = choose("Case", data.heads(), "library.followed")
    if case_id is None:
        return
    held = data.writing().get(case_id)
    outcome = held.case.outcome
    if outcome is not None and outcome.followed_months is not None:
        st.write(words.told("library.followed_months_so", followed_months=f"{outcome.followed_months:g}"))
    order = sorted({part.tooth for part in (held.case.design.retainers or ())} if held.case.design else ())
    with st.form(f"library.follow.{case_id}.{held.revision}", border=False):
        first, second, third, fourth = st.columns(4)
        with first:
            months = st.number_input("Months since fitting", 0.0, 1200.0, None, 1.0, format="%.0f")
        with second:
            accepted = st.selectbox("Accepted by the dentist", list(_YES_NO))
        with third:
            worn = st.selectbox("Still worn", list(_YES_NO))
        with fourth:
            pleased = st.number_input("Satisfaction (1 low to 5 high)", 1, 5, None, 1)
        fifth, sixth, seventh = st.columns(3)
        with fifth:
            event = st.selectbox("Event", [None, *get_args(vocabulary.EventKind)], format_func=_event)
        with sixth:
            tooth = st.selectbox("at tooth", [None, *order, *held.case.missing], format_func=_tooth)
        with seventh:
            month = st.number_input("in month", 0.0, 1200.0, None, 1.0, format="%.0f")
        why = st.text_input("Why (for the history)", value="follow-up")
        sent = st.form_submit_button("Add the follow-up", type="primary")
    theme.note("What is left out is not recorded and changes nothing. An approved case stays approved.")
    if sent:
        with data.told():
            from recommender.curation.outcomes import FollowUp, add_follow_up
            from recommender.domain.case import Event
            from recommender.precedents.store.gate import checked_reason

            events = () if event is None else (Event(event=event, tooth=tooth, month=month),)
            version = add_follow_up(
                data.writing(), case_id,
                FollowUp(months, _YES_NO[accepted], _YES_NO[worn], None if pleased is None else int(pleased), events),
                who=data.who(), why=checked_reason(why), opened=held.revision,
            )  # fmt: skip
            data.done(words.told("library.follow_up_kept", case_id=case_id, revision=version.revision))
            st.rerun()


def _event(kind: str | None) -> str:
    return "none to add" if kind is None else words.plain(kind)


def _tooth(number: int | None) -> str:
    return words.told("library.no_one_tooth") if number is None else state.tooth(number)
