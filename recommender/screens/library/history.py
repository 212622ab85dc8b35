"""The versions of one case: who changed what, when and why; compared, and brought back."""

import streamlit as st

from recommender.screens.library import data
from recommender.screens.session import person
from recommender.screens.ui import theme, words


def history(case_id: str) -> None:
    """Draw the history of a case of a database library."""
    found = data.writing().history(case_id)
    with st.expander(f"History: {len(found)} version{'s' if len(found) > 1 else ''}"):
        rows: list[list[object]] = [
            [
                version.revision,
                words.plain(version.kind),
                version.who,
                version.at[:16].replace("T", " "),
                version.why or "no reason given",
                "" if version.intact else "✕ changed behind the program's back",
            ]
            for version in reversed(found)
        ]
        theme.table(
            ["version", "what", "who", "when (UTC)", "why", ""], rows, caption=f"Versions of {case_id}"
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
        ["field", f"version {first}", f"version {second}"],
        [[words.field(path), words.value_at(path, one), words.value_at(path, two)] for path, one, two in changed],
        caption=f"{len(changed)} fields differ",
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
        data.done(f"{case_id}: version {earlier} is the latest again, as version {version.revision}.")
        st.rerun()
