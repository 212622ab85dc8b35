"""What the parts of the practice page share: the learner, the cases to set, the exercises made of them."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.library import data
from recommender.screens.session import library_in_use, person

if TYPE_CHECKING:
    from recommender.curation.teaching.exercises import Examiner, Exercise
    from recommender.curation.teaching.learners import Progress
    from recommender.domain.case import Case

_ALIAS = "casebook.alias"
POOL = 40  # exercises worked out to choose among, drawn over the library


def ask_alias() -> None:
    """The field for the learner's alias; in a team it is that of the log-in."""
    if person.current() is not None:
        return
    text = st.text_input(
        "Your alias (no name)", key=_ALIAS, persist_state="session", max_chars=40, placeholder="blue heron",
        help="Results are kept under it. Letters, digits and spaces; choose something that names nobody.",
    )  # fmt: skip
    if (text or "").strip() and alias() is None:
        st.warning("An alias has 1 to 40 letters, digits, spaces and . _ / - and starts with a letter.")


def alias() -> str | None:
    """The alias, if one was given that can be kept."""
    from recommender.precedents.store.errors import UnfitText
    from recommender.precedents.store.gate import checked_who

    found = person.current()
    if found is not None:
        return found.alias
    text = str(st.session_state.get(_ALIAS) or "").strip()
    try:
        return checked_who(text) if text else None
    except UnfitText:
        return None


def approved() -> dict[str, int]:
    """The approved cases with their revision (0 where the library keeps none)."""
    return {head.id: head.revision for head in data.heads() if head.status == "approved"}


def made(case_id: str, revision: int) -> "Exercise":
    """The exercise of one case."""
    return _made(data.where(), library_in_use.library_version(), case_id, revision)


@st.cache_resource(show_spinner=False, max_entries=400)
def _made(place: str, version: str, case_id: str, revision: int) -> "Exercise":
    from recommender.curation.teaching.exercises import exercise

    del place, version  # only parts of the key
    return exercise(stored(case_id), revision, library_in_use.recommender())


def examiner(exercise: "Exercise") -> "Examiner":
    """What answers to an exercise are held against, worked out once."""
    return _examiner(data.where(), library_in_use.library_version(), exercise.case_id)


@st.cache_resource(show_spinner=False, max_entries=8)
def _examiner(place: str, version: str, case_id: str) -> "Examiner":
    from recommender.curation.teaching.exercises import Examiner

    del place, version  # only parts of the key
    return Examiner(stored(case_id), library_in_use.recommender())


def stored(case_id: str) -> "Case":
    """The stored case behind an exercise, with its design."""
    return library_in_use.library().get(case_id)


def usable(case_id: str) -> bool:
    """Whether a case can be set: it has a design, and something is to be replaced."""
    held = stored(case_id)
    return held.design is not None and bool(held.missing)


def pool() -> "Sequence[Exercise]":
    """Exercises to choose among."""
    return _pool(data.where(), library_in_use.library_version())


@st.cache_resource(show_spinner="Working out how hard the exercises are …", max_entries=2)
def _pool(place: str, version: str) -> "list[Exercise]":
    from recommender.curation.teaching.choice import spread

    del place, version  # only parts of the key
    held = approved()
    drawn = [case_id for case_id in spread(held, 2 * POOL) if usable(case_id)][:POOL]
    return [made(case_id, held[case_id]) for case_id in drawn]


def progress() -> "Progress | None":
    """What is kept of the learner; ``None`` without an alias or a library that keeps results."""
    from recommender.curation.teaching import learners

    name = alias()
    if name is None or not data.is_database():
        return None
    return learners.progress(data.writing(), name)
