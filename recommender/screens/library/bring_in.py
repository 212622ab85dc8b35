"""Bringing past work in: choose it, say what its columns mean, try it, then all of it or the valid rows."""

import hashlib
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.limits import MOST_UPLOAD_MB
from recommender.screens.library import data, table_columns, trial
from recommender.screens.session import person
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.precedents.store.importing.merging import Decision
    from recommender.precedents.store.importing.register import Register

_ENDINGS = ["yaml", "yml", "json", "jsonl", "zip", "csv", "tsv", "xlsx"]
_CHANGED: "dict[Decision, str]" = {
    "ask": "hold such a case back and name it",
    "keep": "keep the library's",
    "take": "take the file's",
}
_GUARDED = {"outcome": "follow-up", "dentist_answer": "the dentist's answer", "review": "review"}
_TRIED = "library.tried"


def part() -> None:
    """Draw this part."""
    st.write(
        "A folder or zip of case files (YAML or JSON), JSON Lines, or a table (CSV or Excel workbook). First a "
        "trial that writes nothing and reports every row; then everything or nothing, or the valid rows only."
    )
    if not data.may_write("import") or data.lacks_who():
        return
    path = _source()
    if path is None:
        return
    from recommender.api.bringing_in import is_table

    with data.told():
        register = table_columns.register(path) if is_table(path) else None
        if register is None and is_table(path):
            return
        _run(path, register)


def _source() -> Path | None:
    given = st.file_uploader(
        words.told("library.files_bring_each", most_upload_mb=MOST_UPLOAD_MB),
        type=_ENDINGS,
        accept_multiple_files=True,
        max_upload_size=MOST_UPLOAD_MB,
        key="library.files",
    )
    typed = (
        ""
        if person.by_log_in()
        else st.text_input(
            "Or a file or folder on the machine that runs this program",
            key="library.path",
            persist_state="session",
        )
    )
    if given:
        return _kept([(file.name, file.getvalue()) for file in given])
    if not typed.strip():
        return None
    path = Path(typed.strip()).expanduser()
    if not path.exists():
        st.error(words.told("library.there_no_such", path=theme.literal(path)))
        return None
    return path


def _kept(files: list[tuple[str, bytes]]) -> Path:
    """Uploaded files on disk for this session: one file as it is, several in a folder."""
    found = hashlib.sha256(b"".join(name.encode() + content for name, content in files)).hexdigest()[:16]
    if "library.uploads" not in st.session_state:
        st.session_state["library.uploads"] = tempfile.TemporaryDirectory(prefix="rpd-casebook-")
    home = Path(st.session_state["library.uploads"].name) / found
    if not home.is_dir():
        home.mkdir(mode=0o700)
        for name, content in files:
            (home / Path(name).name).write_bytes(content)
    return home if len(files) > 1 else home / Path(files[0][0]).name


def _run(path: Path, register: "Register | None") -> None:
    from recommender.precedents.store.gate import checked_reason
    from recommender.precedents.store.importing.reports import Terms

    left, right = st.columns([3, 2])
    with left:
        why = st.text_input(
            "Why (for the history)",
            value=words.told("library.from", name=path.name),
            key=f"library.why.{path.name}",
        )
    with right:
        keep = person.may("import_approved") and st.checkbox(
            "Take over approval as the source states it", key="library.keep_status"
        )
        skip = st.checkbox("Leave out cases that nearly repeat another", key="library.skip")
    theme.note(
        "Otherwise every case comes in as a draft, to be approved here. A case that is here already is merged field by "
        "field; where the file is silent, and in follow-up and review, the library's word stays."
    )
    with left:
        changed = st.radio(
            "A field that the file and the library both changed", list(_CHANGED), format_func=_CHANGED.__getitem__,
            key="library.changed", horizontal=True,
        )  # fmt: skip
    with right:
        named = st.multiselect(
            "Let the file overwrite this too",
            list(_GUARDED),
            format_func=_GUARDED.__getitem__,
            key="library.named",
        )
    terms = Terms(data.who(), checked_reason(why), keep_status=keep, skip_near=skip, changed=changed,
                  named=frozenset(named))  # fmt: skip
    stamp = _stamp(path, f"{terms.stamp} {register.stamp if register else ''}")
    if st.button("Try it: report every row, write nothing", type="primary", key="library.try"):
        st.session_state[_TRIED] = trial.run(path, register, terms, stamp, "try")
    tried: trial.Tried | None = st.session_state.get(_TRIED)
    if tried is None or tried.stamp != stamp:
        return
    trial.report(tried)
    if tried.done:
        return
    counts = tried.summary.counts
    ready = counts["new"] + counts["changed"] + (0 if skip else counts["near_duplicate"])
    refused = tried.summary.refused
    if not ready:
        st.info(
            "Nothing to bring in: every row says nothing new, is left out, waits for a decision or is invalid."
        )
        return
    with st.container(horizontal=True):
        whole = st.button(
            words.told(
                "library.bring_everything_cases",
                ready=ready,
            ), disabled=bool(refused), key="library.all",
            help="All of it or, where anything goes wrong, nothing.",
        )  # fmt: skip
        valid = st.button(
            words.told(
                "library.bring_valid_ones",
                ready=ready,
            ), disabled=not refused, key="library.valid",
            help="Kept in batches; stopped half-way, the same import goes on where it had come to.",
        )  # fmt: skip
    if whole or valid:
        done = trial.run(path, register, terms, stamp, "all" if whole else "valid")
        st.session_state[_TRIED] = (
            done if done.rejected else None
        )  # what was rejected can still be downloaded
        passed = (
            (" " + words.told("library.rows_were_done", passed_over=done.summary.passed_over))
            if done.summary.passed_over
            else ""
        )
        data.done(
            words.told("library.cases_brought", written=done.summary.written, name=path.name, passed=passed)
        )
        st.rerun()


def _stamp(path: Path, terms: str) -> str:
    from recommender.precedents.store.importing.rows import digest

    if (
        "library.uploads" in st.session_state
        and Path(st.session_state["library.uploads"].name) in path.parents
    ):
        # an upload is known by its content: its place differs from session to session
        files = sorted(path.iterdir()) if path.is_dir() else [path]
        total = hashlib.sha256()
        for file in files:
            total.update(file.name.encode() + b"\0" + file.read_bytes())
        total.update(terms.encode())
        return total.hexdigest()
    return digest(path, terms)
