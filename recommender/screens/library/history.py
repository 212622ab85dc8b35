"""The versions of one case: who changed what, when and why; compared, and brought back."""

import streamlit as st

from recommender.screens.library import data
from recommender.screens.session import person
from recommender.screens.ui import theme, words


def history(case_id: str) -> None:
    """Draw the history of a case of a database library."""
    found = data.writing().history(case_id)
    with st.expander(words.told("library.history_version", n=len(found))):
        rows: list[list[object]] = [
            [
                version.revision,
                words.plain(version.kind),
                version.who,
                version.at[:16].replace("T", " "),
                version.why or "no reason given",
                "" if version.intact else words.told("library.changed_behind"),
            ]
            for version in reversed(found)
        ]
        theme.table(
            ["version", "what", "who", "when (UTC)", "why", ""],
            rows,
            caption=words.told("library.versions", case_id=case_id),
        )
        if len(found) > 1:
            _compare(case_id)
            if person.may("edit"):
                _restore(case_id)


def _compare(case_id: str) -> None:
    from recommender.precedents.store.documents import differences

    found = {version.revision: version for version in data.writing().history(case_id)}
    left, right = st.columns(2)
    with left:
        first = st.selectbox(
            "Compare version", list(found), index=len(found) - 2, key=f"library.first.{case_id}"
        )
    with right:
        second = st.selectbox(
            "with version", list(found), index=len(found) - 1, key=f"library.second.{case_id}"
        )
    changed = differences(found[first].case, found[second].case)
    if not changed:
        st.write("The two say the same.")
        return
    theme.table(
        ["field", words.told("library.version", first=first), words.told("library.version", first=second)],
        [
            [words.field(path), words.value_at(path, one), words.value_at(path, two)]
            for path, one, two in changed
        ],
        caption=words.told("library.fields_differ", changed=len(changed)),
    )


def _restore(case_id: str) -> None:
    latest = data.writing().get(case_id).revision
    with st.form(f"library.restore.{case_id}", border=False):
        earlier = st.selectbox("Bring back version", list(range(latest - 1, 0, -1)))
        why = st.text_input("Why")
        sent = st.form_submit_button("Bring it back")
    theme.note("It becomes a new version; what came between stays readable.")
    if not sent or data.lacks_who():
        return
    with data.told():
        from recommender.precedents.store.gate import checked_reason

        checked_reason(why)
        version = data.writing().restore(case_id, earlier, opened=latest, who=data.who(), why=why)
        data.done(
            words.told(
                "library.version_latest_again", case_id=case_id, earlier=earlier, revision=version.revision
            )
        )
        st.rerun()
