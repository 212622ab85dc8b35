"""Export, backup, and a backup put back; what mends a damaged library stands in ``mend``."""

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.limits import MOST_UPLOAD_MB
from recommender.screens.library import data
from recommender.screens.session import library_in_use, person
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from streamlit.delta_generator import DeltaGenerator

    from recommender.precedents.store.exporting.export import Progress

_FORMS = {
    "zip-yaml": ("YAML files in a zip", "cases.zip", "application/zip"),
    "zip-json": ("JSON files in a zip", "cases.zip", "application/zip"),
    "jsonl": ("JSON Lines, one case a line", "cases.jsonl", "application/x-ndjson"),
    "csv": ("table, CSV", "cases.csv", "text/csv"),
    "xlsx": (
        "table, workbook",
        "cases.xlsx",
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ),
    "turtle": ("linked data, Turtle", "cases.ttl", "text/turtle"),
    "json-ld": ("linked data, JSON-LD", "cases.jsonld", "application/ld+json"),
}


def part() -> None:
    """Draw this part."""
    st.markdown("#### Export")
    st.write(
        "Each form reads back as the same cases. In tables, what a spreadsheet would take for a formula is made "
        "harmless."
    )
    _export()
    if data.is_database() and person.may("backup"):
        st.markdown("#### Backup")
        _backup()
    if data.is_database() and person.may("restore"):
        st.markdown("#### Put a backup back")
        _restore()
    if data.is_database() and person.may("repair"):
        st.markdown("#### Look for damage")
        from recommender.screens.library.mend import mend

        mend()


def _export() -> None:
    left, right = st.columns(2)
    with left:
        form = st.selectbox("As", list(_FORMS), format_func=lambda name: _FORMS[name][0], key="library.form")
    with right:
        status = st.selectbox(
            "Cases", [None, "approved", "draft", "retired"], key="library.out_status",
            format_func=lambda name: name or "all of them",
        )  # fmt: skip
    sound = data.is_database() and st.checkbox(
        "Of a damaged library: what is sound, and say what is left out", key="library.sound"
    )
    wanted = (form, status, sound, library_in_use.library_version())
    if st.button("Make the file", key="library.make_file"):
        st.session_state.pop("library.file", None)
        with data.told():
            bar = st.progress(0.0, "Writing …")
            total = max(len(data.heads()), 1)
            person.require("export")
            left_out: dict[str, str] = {}
            try:
                made = _written(
                    str(form), status, left_out if sound else None, lambda n: _tell(bar, n, total)
                )
            finally:
                bar.empty()
            st.session_state["library.file"] = (wanted, made, left_out)
    kept = st.session_state.get("library.file")
    if kept is not None and kept[0] == wanted:
        _, name, mime = _FORMS[str(form)]
        if kept[2]:
            theme.table(
                ["case", "what is wrong"], [[one, why] for one, why in kept[2].items()],
                caption=words.told("library.left_out_damaged", n=len(kept[2])),
            )  # fmt: skip
        st.download_button(
            words.told("library.download_bytes", name=name, n=f"{len(kept[1]):,}"),
            kept[1],
            name,
            mime,
            on_click="ignore",
            key="library.get_file",
        )


def _tell(bar: "DeltaGenerator", done: int, total: int) -> None:
    if done % 20 == 0:
        bar.progress(min(done / total, 1.0), words.told("library.cases_d", done=done))


def _written(form: str, status: str | None, left_out: dict[str, str] | None, progress: "Progress") -> bytes:
    from recommender.api.taking_out import reader, write

    read = reader(library_in_use.library(), status, left_out)
    with tempfile.TemporaryDirectory(prefix="rpd-casebook-") as folder:
        path = Path(folder) / _FORMS[form][1]
        write(form, read, path, progress)
        return path.read_bytes()


def _backup() -> None:
    from recommender.precedents.store import backup
    from recommender.precedents.store.records import now

    st.write("A copy of everything with its history, verified while it is made; it opens like any library.")
    if st.button("Make a backup", key="library.backup"):
        with data.told(), tempfile.TemporaryDirectory(prefix="rpd-casebook-") as folder:
            name = f"casebook-{now()[:16].replace(':', '').replace('T', '-')}.db"
            path = Path(folder) / name
            with st.spinner("Copying and verifying …"):
                backup.back_up(data.writing(), path)
            stamp = path.with_name(f"{name}.sha256").read_text(encoding="utf-8")
            st.session_state["library.backup_file"] = (name, path.read_bytes(), stamp)
    kept = st.session_state.get("library.backup_file")
    if kept is not None:
        name, content, stamp = kept
        with st.container(horizontal=True):
            st.download_button(
                words.told("library.download_bytes_a", name=name, content=f"{len(content):,}"),
                content,
                name,
                on_click="ignore",
                key="library.get_backup",
            )
            st.download_button(
                words.told("library.checksum_sha", name=name),
                stamp,
                f"{name}.sha256",
                on_click="ignore",
                key="library.get_stamp",
            )
        theme.note("Keep the two together: a backup is put back only if it matches its checksum.")


def _restore() -> None:
    from recommender.precedents.store import backup

    if not data.may_write("restore"):
        return
    given = st.file_uploader(
        words.told("library.backup_checksum_db", most_upload_mb=MOST_UPLOAD_MB),
        type=["db", "sha256"], accept_multiple_files=True, key="library.restore_files", max_upload_size=MOST_UPLOAD_MB,
    )  # fmt: skip
    files = {Path(file.name).name: file for file in given or ()}
    name = next((name for name in files if name.endswith(".db")), None)
    if name is None or f"{name}.sha256" not in files:
        if files:
            st.warning("Two files are needed: NAME.db and NAME.db.sha256.")
        return
    sure = st.checkbox(
        "Make this library what the backup holds (a backup of what is there now is made first)"
    )
    if st.button("Put it back", disabled=not sure, key="library.restore"):
        with data.told(), tempfile.TemporaryDirectory(prefix="rpd-casebook-") as folder:
            for each, file in files.items():
                (Path(folder) / each).write_bytes(file.getvalue())
            before = backup.restore(data.writing(), Path(folder) / name, backup.place_of(data.writing()))
            data.forget()
            data.done(words.told("library.library_what_holds", name=name, before=before))
            st.rerun()
