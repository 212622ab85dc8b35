"""The cases of the library: listed, filtered, looked at, taken in hand, and kept."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.library import data
from recommender.screens.session import drawings, library_in_use, person, state
from recommender.screens.ui import links, theme, words
from recommender.screens.ui.case_choice import ARCHES, STATES, choose, holding

if TYPE_CHECKING:
    from recommender.documents.proposal import Flag
    from recommender.domain.case import Case
    from recommender.precedents.store.records import Head

_CHOSEN = "library.case"


def part() -> None:
    """Draw this part."""
    _keep()
    found = _filtered(data.heads())
    if not found:
        st.info("No case fits. Clear a filter, or bring cases in.")
        return
    _list(found)
    case_id = choose("Look at a case", found, _CHOSEN)
    if case_id is not None:
        _case(case_id)


def _filtered(heads: "list[Head]") -> "list[Head]":
    text_column, *columns = st.columns([3, 2, 2, 3, 2])
    with text_column:
        text = st.text_input("Number or title holds", key="library.text", persist_state="session")
    kennedys = sorted({head.kennedy for head in heads if head.kennedy})
    with columns[0]:
        status = _any("State", list(STATES), "library.status", "case_state")
    with columns[1]:
        arch = _any("Arch", list(ARCHES), "library.arch", "upper_lower")
    with columns[2]:
        kennedy = _any("Class", kennedys, "library.kennedy", None)
    with columns[3]:
        outcome = _any("Outcome", ["known", "not known"], "library.outcome", None)
    return [
        head
        for head in holding(heads, text or "")
        if status in (None, head.status)
        and arch in (None, head.arch)
        and kennedy in (None, head.kennedy)
        and (outcome is None or head.outcome_known == (outcome == "known"))
    ]


def _any(label: str, options: list[str], key: str, terms: str | None) -> str | None:
    return st.selectbox(
        label, options, index=None, key=key, placeholder="any", persist_state="session",
        format_func=lambda name: words.term(terms, name) if terms else name,
    )  # fmt: skip


def _list(found: "list[Head]") -> None:
    import pandas as pd

    rows = [
        {
            "case": head.id,
            "state": words.term("case_state", head.status),
            "arch": words.term("upper_lower", head.arch),
            "class": head.kennedy or "none",
            "outcome": "known" if head.outcome_known else "not recorded",
            "title": head.title or "",
            "version": head.revision,
            "last changed (UTC)": head.updated_at[:16].replace("T", " "),
        }
        for head in found[: data.SHOWN]
    ]
    frame = pd.DataFrame(rows)
    if not data.is_database():
        frame = frame.drop(columns=["version", "last changed (UTC)"])

    def take() -> None:
        picked = st.session_state["library.list"]["selection"]["rows"]
        if picked:
            st.session_state[_CHOSEN] = rows[picked[0]]["case"]

    st.dataframe(
        frame, hide_index=True, height=min(38 + 35 * len(rows), 330), on_select=take, key="library.list",
        selection_mode="single-row", alt="The cases that fit; choose one below to look at it",
    )  # fmt: skip
    more = words.told("library.first_shown", shown=data.SHOWN) if len(found) > data.SHOWN else ""
    theme.note(words.told("library.cases_fit_tick", found=f"{len(found):,}", more=more))


def _case(case_id: str) -> None:
    from recommender.precedents.source import latest_of

    held = latest_of(library_in_use.library(), case_id)
    left, right = st.columns([3, 2], gap="large")
    with left:
        drawing(held)
    with right:
        summary(held)
        if st.button("Take this case in hand", type="primary", key="library.take"):
            take_in_hand(case_id)
        theme.note("It then stays selected on every page; the library keeps its own copy until you save.")
    if data.is_database() and person.may("see_drafts"):
        from recommender.screens.library.history import history

        history(case_id)


def take_in_hand(case_id: str) -> None:
    """Make the case the one in hand; a working copy of it that was begun before is gone on with."""
    if data.is_database():
        st.session_state.setdefault("library.opened", {})[case_id] = data.writing().get(case_id).revision
    state.open_by_id(case_id)
    data.done(words.told("library.hand", case_id=case_id))
    links.go("case")
    st.rerun()


def drawing(held: "Case") -> None:
    """The design drawn on its arch, with the same in words below."""
    if held.design is None:
        st.info("This case has no design recorded.")
        return
    told = drawings.show(held, held.design, faults=_faults(held))
    with st.expander("The drawing in words"):
        st.write(told)


def _faults(held: "Case") -> "tuple[Flag, ...]":
    """What cannot be made of a stored design; nothing for a case about which there is no advice."""
    from recommender.advice.analysis import NoAdviceError
    from recommender.documents.proposal import faults_in

    try:
        analysis = library_in_use.recommender().work(held)
    except NoAdviceError:
        return ()
    return faults_in(analysis, held.design) if held.design is not None else ()


def summary(held: "Case") -> None:
    """What a case is, how it was reviewed and how it fared."""
    from recommender.domain.labels import word_label
    from recommender.precedents.store.documents import kennedy_label, status

    st.markdown(f"**{held.id}**")
    if held.title:
        st.text(held.title)
    rows: list[list[object]] = [
        ["arch", word_label("arch", held.arch)],
        ["class", kennedy_label(held) or "none"],
        ["to be replaced", words.teeth(held.missing) or "none"],
        ["state", words.term("case_state", status(held))],
    ]
    if held.review is not None and held.review.reason:
        rows.append(["reason given", held.review.reason])
    if held.review is not None and held.review.teaching_note:
        rows.append(["teaching note", held.review.teaching_note])
    outcome = held.outcome
    if outcome is None:
        rows.append(["how it fared", "not recorded"])
    else:
        rows += [
            ["accepted", data.value(outcome.accepted)],
            ["followed", "not recorded" if outcome.followed_months is None else words.told(
                "library.months",
                followed_months=f"{outcome.followed_months:g}",
            )],
            ["still worn", data.value(outcome.still_worn)],
            ["satisfaction (1-5)", data.value(outcome.satisfaction)],
        ]  # fmt: skip
        for event in outcome.events or ():
            month = None if event.month is None else f"{event.month:g}"
            code = "screen.event" if month else "screen.event_no_month"
            site = state.tooth(event.tooth) if event.tooth else None
            rows.append(["event", words.told(code, event=words.plain(event.event), site=site, month=month)])
    theme.table(["", ""], rows, caption="In short")


def _keep() -> None:
    """The case in hand, kept in the library as a new case or a new version."""
    held = state.case()
    if held is None or not data.is_database() or not person.may("add"):
        return
    with st.expander(words.told("library.keep_case_hand", id=held.id)):
        if not data.may_write() or data.lacks_who():
            return
        stored = data.writing().held([held.id]).get(held.id)
        if stored is None:
            st.write("It is not in this library yet. It comes in as a draft.")
        else:
            from recommender.precedents.store.documents import differences

            changed = differences(stored.case, held)
            if not changed:
                st.write(words.told("library.library_has_just", revision=stored.revision))
                return
            theme.table(
                ["field", words.told("library.library_version", revision=stored.revision), "in hand"],
                [
                    [words.field(at), words.value_at(at, one), words.value_at(at, two)]
                    for at, one, two in changed[:20]
                ],
                caption=words.told("library.fields_differ", changed=len(changed)),
            )
        why = st.text_input("Why (for the history)", key="library.keep_why")
        if st.button("Keep it", key="library.keep"):
            with data.told():
                _save(held, None if stored is None else stored.revision, why)


def _save(held: "Case", stored: int | None, why: str) -> None:
    from recommender.curation.review import revise, warnings
    from recommender.domain.case import Review
    from recommender.precedents.store.errors import UnfitText
    from recommender.precedents.store.gate import checked_reason
    from recommender.precedents.store.looked_at import unseen

    checked_reason(why)
    opened = st.session_state.setdefault("library.opened", {})
    if stored is None:
        note = held.review.teaching_note if held.review else None
        data.writing().add(
            held.model_copy(update={"review": Review(status="draft", teaching_note=note)}),
            who=data.who(),
            why=why or words.told("library.taken_in"),
        )
        opened[held.id] = 1
        told = " ".join(warnings(unseen(data.writing(), held)))
        data.done(words.told("library.library_draft", id=held.id, told=told))
    else:
        if not why.strip():
            raise UnfitText("say in a few words why it was changed; it is kept with the case")
        # the version this case was taken in hand from: a save by somebody else since is told, not written over
        start = opened.get(held.id, stored)
        version, said = revise(data.writing(), held, opened=start, who=data.who(), why=why)
        opened[held.id] = version.revision
        data.done(words.told("library.version_kept", id=held.id, revision=version.revision, said=said))
    st.rerun()
