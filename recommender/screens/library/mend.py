"""A library looked through for damage, and mended from its own history or from a backup."""

import tempfile
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.limits import MOST_UPLOAD_MB
from recommender.screens.library import data
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.precedents.store.repairing import Repaired

_FOUND, _MENDED = "library.damage", "library.mended"


def mend() -> None:
    """Draw this part."""
    st.write(
        "Every case is held against the checksum it was saved with. What is damaged is mended from its own history, or "
        "from a backup; whatever is not as it was saved is told."
    )
    place = data.where()
    mended = st.session_state.get(_MENDED)
    if mended is not None and mended[0] == place:
        _tell(mended[1])
    if st.button("Look the library through", key="library.look"):
        st.session_state.pop(_MENDED, None)
        with st.spinner("Looking at every case …"):
            st.session_state[_FOUND] = (place, _damage())
    kept = st.session_state.get(_FOUND)
    if kept is None or kept[0] != place:
        return
    if not kept[1]:
        st.write("✓ Nothing is damaged.")
        return
    theme.table(
        ["what is wrong"], [[data.on_page(line)] for line in kept[1]], caption=f"Damage: {len(kept[1])}"
    )
    given = st.file_uploader(
        words.told("library.backup_take_what", most_upload_mb=MOST_UPLOAD_MB),
        type=["db"], key="library.spare", max_upload_size=MOST_UPLOAD_MB,
    )  # fmt: skip
    sure = st.checkbox(
        "Mend it; the damaged file is kept beside it under another name", key="library.mend_sure"
    )
    if st.button("Mend the library", disabled=not sure, key="library.mend"):
        with (
            data.told(),
            tempfile.TemporaryDirectory(prefix="rpd-casebook-") as folder,
            st.spinner("Mending …"),
        ):
            spare = None
            if given is not None:
                spare = Path(folder) / "backup.db"
                spare.write_bytes(given.getvalue())
            st.session_state[_MENDED] = (place, _mended(spare))
            st.session_state.pop(_FOUND)
            data.forget()
            st.rerun()


def _damage() -> list[str]:
    """A line for each thing that is wrong; a library of which nothing can be read is one."""
    from recommender.precedents.store.checking import find
    from recommender.precedents.store.errors import LibraryError

    try:
        return find(data.writing()).lines()
    except LibraryError as error:
        return [str(error)]


def _mended(spare: Path | None) -> "Repaired":
    from recommender.precedents.store.databases import open_database
    from recommender.precedents.store.repairing import repair

    with nullcontext() if spare is None else open_database(str(spare)) as backup:
        return repair(data.writing(), backup)


def _tell(done: "Repaired") -> None:
    """What was mended and how, and what was lost; it stays until the library is looked through again."""
    kept = (
        (" " + words.told("library.damaged_file_beside", name=theme.literal(done.kept.name)))
        if done.kept
        else ""
    )
    st.success(words.told("library.mended_cases_not", told=len(done.told), lost=len(done.lost), kept=kept))
    rows: list[list[object]] = [[case_id, "; ".join(told)] for case_id, told in done.told.items()]
    rows += [[case_id, f"✕ lost: {why}"] for case_id, why in done.lost.items()]
    rows += [["beside the cases", line] for line in done.beside]
    if rows:
        theme.table(["case", "what became of it"], rows, caption="Not as it was saved")
