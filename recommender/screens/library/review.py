"""The review queue: drafts looked at, approved or sent back, and approved cases retired, always with who and why."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.library import data
from recommender.screens.library.cases import drawing, summary
from recommender.screens.ui import theme, words
from recommender.screens.ui.case_choice import choose

if TYPE_CHECKING:
    from recommender.precedents.store.records import Version


def part() -> None:
    """Draw this part."""
    st.write(
        "Draft → approved → retired. A case that goes against a rule, or a text that may identify a patient, "
        "is approved only after somebody looked at it and said why."
    )
    if not data.is_database():
        st.info(
            "This library is read-only: its cases were reviewed when it was made. Make your own to review cases."
        )
        return
    wanted = st.radio(
        "Show", ["draft", "approved", "retired"], horizontal=True, key="library.queue", persist_state="session",
        format_func={"draft": "drafts, to be reviewed", "approved": "approved", "retired": "retired"}.__getitem__,
    )  # fmt: skip
    found = [head for head in data.heads() if head.status == wanted]
    if not found:
        st.info(
            {"draft": "No draft waits for review."}.get(wanted, words.told("library.no_case", wanted=wanted))
        )
        return
    theme.note(words.told("library.cases_c", found=f"{len(found):,}"))
    case_id = choose("Case to review", found, "library.review")
    if case_id is None:
        rows: list[list[object]] = [
            [head.id, head.title or "", head.kennedy or "none", head.updated_at[:16].replace("T", " ")]
            for head in found[:40]
        ]
        theme.table(["case", "title", "class", "last changed (UTC)"], rows, caption="Waiting, by number")
        return
    held = data.writing().get(case_id)
    left, right = st.columns([3, 2], gap="large")
    with left:
        drawing(held.case)
    with right:
        summary(held.case)
    if not data.may_write("approve") or data.lacks_who():
        return
    if wanted == "draft":
        _change(held)
        _against(held)
        _identity(held)
        _approve(held)
    else:
        _move(held, "draft")
    if wanted != "retired":
        _move(held, "retired")


def _change(held: "Version") -> None:
    """A change of an approved case: what it changes, and the decision against it."""
    from recommender.curation.review import turn_down
    from recommender.precedents.store.documents import differences

    serving = data.writing().serving_of([held.case_id])[held.case_id]
    if serving.revision == held.revision:
        return
    changed = [one for one in differences(serving.case, held.case) if one[0] != "review.status"]
    theme.table(
        [
            "field",
            words.told("library.approved_serves_version", revision=serving.revision),
            words.told("library.changed_version", revision=held.revision),
        ],
        [
            [words.field(path), words.value_at(path, one), words.value_at(path, two)]
            for path, one, two in changed[:40]
        ],
        caption=words.told("library.change_approved_case", changed=len(changed)),
    )
    theme.note(
        "Until you decide, advice is drawn from the approved version. Approve the change, or turn it down."
    )
    with st.expander("Turn the change down"), st.form("library.turn_down", border=False):
        why = st.text_input("Reason")
        if st.form_submit_button("Turn it down"):
            with data.told():
                version = turn_down(
                    data.writing(), held.case_id, who=data.who(), reason=why, opened=held.revision
                )
                data.done(
                    words.told("library.approved_version", case_id=held.case_id, revision=version.revision)
                )
                st.rerun()


def _against(held: "Version") -> None:
    from recommender.curation.contradictions import contradictions

    found = contradictions(held.case)
    if not found:
        st.write("✓ No choice of the design goes against a rule.")
        return
    rows: list[list[object]] = []
    for one in found:
        for block in one.blocks:
            rows.append(
                [
                    words.decision(one.decision),
                    words.option(one.decision.kind, one.option),
                    words.listed("status", one.status),
                    words.said(block.statement),
                    block.source,
                ]
            )
    theme.table(
        ["decision", "chosen", "the rules say", "why", "source"],
        rows,
        caption="△ Choices that go against a rule",
    )
    theme.note("Approved all the same, the reason is kept with the case and shown wherever it is cited.")


def _identity(held: "Version") -> None:
    from recommender.precedents.store import looked_at

    hits = looked_at.unseen(data.writing(), held.case)
    if not hits:
        st.write("✓ No text looks as if it could identify a patient, or each was looked at.")
        return
    theme.table(
        ["where", "looks like", "text"],
        [[hit.field, hit.label, hit.found] for hit in hits],
        caption="△ Texts that may identify a patient",
    )
    with st.form("library.look", border=False):
        note = st.text_input("I looked at these texts; they identify nobody, because")
        sent = st.form_submit_button("Looked at")
    theme.note("If one does identify somebody, take the case in hand, take the text out and keep it again.")
    if sent:
        with data.told():
            seen = looked_at.look_at(data.writing(), held.case_id, who=data.who(), note=note)
            data.done(words.told("library.texts_looked", case_id=held.case_id, seen=len(seen)))
            st.rerun()


def _approve(held: "Version") -> None:
    from recommender.curation.review import approve, obstacles

    before = held.case.review.teaching_note if held.case.review else None
    reason = st.text_area(
        "Reason (needed where a choice goes against a rule)", key=f"library.reason.{held.case_id}", height=80
    )
    note = st.text_area(
        "Teaching note (what a learner should see in this case)", value=before or "", height=80,
        key=f"library.note.{held.case_id}",
    )  # fmt: skip
    standing = obstacles(data.writing(), held.case, reason)
    for line in standing:
        data.say(f"✕ Stands in the way: {theme.escape(data.on_page(words.said(line)))}")
    if st.button("Approve", type="primary", disabled=bool(standing), key="library.approve"):
        with data.told():
            version = approve(
                data.writing(), held.case_id, who=data.who(), reason=reason, opened=held.revision,
                teaching_note=note if note != (before or "") else None,
            )  # fmt: skip
            data.done(
                words.told("library.approved_version_counts", case_id=held.case_id, revision=version.revision)
            )
            st.rerun()


def _move(held: "Version", to: str) -> None:
    from recommender.curation.review import reopen, retire

    label = {"draft": "Make it a draft again", "retired": "Retire it"}[to]
    with st.expander(label), st.form(f"library.move.{to}", border=False):
        if to == "retired":
            st.write(
                "A retired case no longer counts as a precedent; it stays in the library and opens as before."
            )
        why = st.text_input("Reason")
        if st.form_submit_button(label):
            with data.told():
                act = retire if to == "retired" else reopen
                version = act(data.writing(), held.case_id, who=data.who(), reason=why, opened=held.revision)
                data.done(
                    words.told("library.version_b", case_id=held.case_id, to=to, revision=version.revision)
                )
                st.rerun()
