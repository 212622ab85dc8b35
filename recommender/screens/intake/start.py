"""Ways to begin: a case file, an example, a blank, the mouth of a precedent, a case in work."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.case import Case
from recommender.domain.limits import MOST_BYTES
from recommender.screens.library import data as library_data
from recommender.screens.session import drafts, library_in_use, state
from recommender.screens.ui import theme, words
from recommender.screens.ui.case_choice import choose

if TYPE_CHECKING:
    from streamlit.runtime.uploaded_file_manager import UploadedFile

_WAYS = ("A case file", "An example", "A blank arch", "Like a precedent", "A case in work")


def start_section() -> None:
    """How to begin; folded away once a case is in hand."""
    held = state.case()
    with st.expander("Begin with …", expanded=held is None):
        theme.note(words.NO_IDENTITY)
        way = st.segmented_control("Begin with", _WAYS, default=_WAYS[0], key="start.way") or _WAYS[0]
        {
            _WAYS[0]: _upload, _WAYS[1]: _example, _WAYS[2]: _blank, _WAYS[3]: _like_precedent, _WAYS[4]: _in_work,
        }[way]()  # fmt: skip


def free_id(stem: str) -> str:
    """``stem-1``, ``stem-2``, …: the first that neither the library nor a case in work has."""
    taken = {name for name, _, _ in drafts.kept()} | set(library_in_use.library().ids())
    number = 1
    while f"{stem}-{number}" in taken:
        number += 1
    return f"{stem}-{number}"


def _take(case: Case) -> None:
    """Take a case in hand and save its working copy; a working copy of the same id is opened, not written over."""
    state.open_case(case)
    state.change(case)


def _upload() -> None:
    given = st.file_uploader(
        words.told("intake.case_file_yaml", most_bytes=f"{MOST_BYTES / 1e6:.0f}"),
        type=["yaml", "yml", "json"],
        key=f"start.upload.{state.uploads()}",
        max_upload_size=MOST_BYTES // 1_000_000,
    )
    if given is not None:
        _read(given)


def _read(given: "UploadedFile") -> None:
    from recommender.domain.errors import CaseError
    from recommender.domain.reader import read_bytes

    try:
        case = read_bytes(given.getvalue(), given.name)
    except CaseError as error:
        count = len(error.problems)
        st.error(words.told("intake.not_taken_case", name=theme.literal(given.name), count=count))
        rows: list[list[object]] = [
            [
                problem.at,
                problem.field,
                problem.found,
                problem.allowed + (f" ({problem.hint})" if problem.hint else ""),
            ]
            for problem in error.problems
        ]
        theme.table(["where", "field", "found", "allowed"], rows, caption="What to mend")
        return
    stored = drafts.load(case.id)
    if stored is not None and stored.case != case:
        st.warning(
            words.told("intake.case_work_here", id=case.id, what=stored.saved_at[:16].replace("T", " "))
        )
        with st.container(horizontal=True):
            st.button(
                "Take the file", on_click=_take_over, args=(case, stored.revision), key="start.take_file"
            )
            st.button(
                "Go on with the one in work", on_click=_resume, args=(case.id,), key="start.resume_same"
            )
        return
    state.clear_upload()
    if stored is not None:
        state.open_draft(stored)
    else:
        _take(case)
    st.rerun()


def _take_over(case: Case, seen: int) -> None:
    stored = drafts.load(case.id)
    if stored is not None:
        state.open_case(stored.case, stored.choices, seen=seen)
    state.clear_upload()
    state.change(case, {})


def _example() -> None:
    if library_in_use.library_name() == "demo":
        st.write(words.INVENTED)
    chosen = _of_library("Case", "start.example")
    st.button(
        "Open it", on_click=_open_stored, args=(chosen,), disabled=chosen is None, key="start.open_example"
    )


def _of_library(label: str, key: str) -> str | None:
    """A case of the library by number or title; says so where it holds none."""
    heads = library_data.heads()
    if not heads:
        st.info("This library holds no cases.")
        return None
    return choose(label, heads, key)


def _open_stored(case_id: str | None) -> None:
    if case_id is not None:
        state.open_by_id(case_id)


def _blank() -> None:
    left, right = st.columns(2)
    arch = left.segmented_control(
        "Arch", ["maxilla", "mandible"], default="maxilla", key="start.arch",
        format_func=lambda arch: {"maxilla": "upper", "mandible": "lower"}[arch],
    )  # fmt: skip
    name = right.text_input(
        "Case id",
        value=free_id("case"),
        key="start.blank_id",
        help="Letters, digits, - and _; no name of a patient.",
    )
    st.button(
        "Start with a full arch", on_click=_start_blank, args=(arch or "maxilla", name), key="start.blank"
    )


def _start_blank(arch: str, name: str) -> None:
    _begin({"format": 1, "id": name.strip(), "arch": arch, "missing": []})


def _begin(data: dict[str, object]) -> None:
    from recommender.domain.errors import CaseError
    from recommender.domain.reader import read_value

    if drafts.load(str(data["id"])) is not None if _fits(str(data["id"])) else False:
        state.say(words.told("intake.case_work_already", id=str(data["id"])))
        return
    try:
        _take(read_value(data, "the new case"))
    except CaseError as error:
        state.say(
            "; ".join(
                words.told("intake.found_allowed", field=p.field, found=p.found, allowed=p.allowed)
                for p in error.problems
            )
        )


def _fits(name: str) -> bool:
    return 0 < len(name) <= 80 and all(c.isascii() and (c.isalnum() or c in "-_") for c in name)


def _like_precedent() -> None:
    chosen = _of_library("Precedent", "start.precedent")
    survey = st.checkbox(
        "Take its survey figures too (for practice: they were measured in another mouth)",
        key="start.with_survey",
    )
    st.button(
        "Make a new case like it", on_click=copy_precedent, args=(chosen, survey), disabled=chosen is None,
        key="start.copy",
    )  # fmt: skip


def copy_precedent(case_id: str | None, survey: bool = False) -> None:
    """A new case with the same teeth; its survey only if asked, its design, review and outcome never."""
    if case_id is None:
        return
    from recommender.precedents.store.documents import as_data

    data = as_data(library_in_use.library().get(case_id))
    kept = {"format", "arch", "missing", "absent"}
    if survey:
        left_out = {
            "id", "title", "asked", "survey", "design", "prescription", "dentist_answer", "outcome", "review",
            "source",
        }  # fmt: skip
        kept = set(data) - left_out
    new = {key: value for key, value in data.items() if key in kept}
    _begin({**new, "id": free_id("case"), "title": words.told("intake.like", case_id=case_id)})


def _in_work() -> None:
    kept = drafts.kept()
    if not kept:
        st.info("No case is in work yet.")
        return
    titles = {
        name: words.told("intake.saved", name=name, title=title, saved=f"{saved:%d %b %H:%M}")
        for name, title, saved in kept
    }
    chosen = st.selectbox(
        "Case in work",
        list(titles),
        format_func=lambda name: titles[name],
        index=None,
        key="start.in_work",
        placeholder="Choose a case",
    )
    st.button("Go on with it", on_click=_resume, args=(chosen,), disabled=chosen is None, key="start.resume")
    theme.note(words.told("intake.working_copies_kept", folder=drafts.folder()))


def _resume(case_id: str | None) -> None:
    if case_id is not None:
        state.clear_upload()
        state.open_by_id(case_id)
