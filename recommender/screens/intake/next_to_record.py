"""What is worth recording next: the gaps that would change the advice, each with its field, in places that keep still.

Every field keeps its place while somebody works. An entry stays in sight until the next one is made, so that it can
be looked at and corrected; then, with that entry and at no other moment, the next gap takes its place. What hangs on
each is worked out when the page has been quiet for a moment, and until then stands as it was.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.case import Case
from recommender.domain.fields import asked_in_vain, get_field
from recommender.screens.intake.arch import problems
from recommender.screens.intake.fields import field_input, plain_shape
from recommender.screens.session import current_advice, state
from recommender.screens.session.visitor import store
from recommender.screens.ui import links, theme, words

if TYPE_CHECKING:
    from recommender.advice.model import Gap

SLOTS, _COLUMNS = 6, 3
_IDLE_SECONDS = 0.7
_KEPT, _NOTHING = "casebook.next", "casebook.no_advice"


@dataclass(slots=True)
class Places:
    """The fields shown for one case, with what hangs on each.

    ``waiting`` are all gaps, the most telling first; ``settled`` are places that give way at the next entry. ``case``
    and ``key`` say for which case and which answer that was.
    """

    case_id: str
    paths: list[str] = field(default_factory=lambda: [""] * SLOTS)
    waiting: list[str] = field(default_factory=list)
    notes: dict[str, str] = field(default_factory=dict)
    settled: set[str] = field(default_factory=set)
    told: str = ""
    case: Case | None = None
    key: object = None

    def entered(self, case: Case) -> None:
        """After an entry: what was settled before it gives way to the next gaps; what it settled stays in sight."""
        if case is self.case:
            return
        self.case = case
        self.paths = ["" if path in self.settled or not _has(case, path) else path for path in self.paths]
        self._fill(case)
        self.settled = {path for path in self.paths if path and not is_open(case, path)}

    def worked_out(self, case: Case, notes: Mapping[str, str], told: str, key: object) -> None:
        """With a new answer: empty places are filled; those that stand stay where they are."""
        self.waiting, self.notes, self.told, self.key = list(notes), dict(notes), told, key
        self._fill(case)
        self.settled |= {path for path in self.paths if path and path not in notes}

    def _fill(self, case: Case) -> None:
        coming = [path for path in self.waiting if path not in self.paths and is_open(case, path)]
        self.paths = [path or (coming.pop(0) if coming else "") for path in self.paths]


def next_section(case: Case) -> None:
    """The list, in its places; brought up to date when the page has been quiet for a moment."""
    if not case.missing:
        return
    st.subheader("Worth recording next", anchor=False)
    places = _places(case)
    places.entered(case)
    found = None if problems(case) else current_advice.kept()
    if found is not None and places.key != found.key:
        gaps = _gaps(found)
        places.worked_out(case, {path: bears_on(gap) for path, gap in gaps.items()}, _told(gaps), found.key)
    theme.note(places.told or words.told("intake.working_out"))
    # row by row, so that their order stays where columns wrap
    for first in range(0, SLOTS, _COLUMNS):
        for column, number in zip(st.columns(_COLUMNS), range(first, first + _COLUMNS), strict=True):
            with column, st.container(key=f"casebook_slot_{number}", gap="xxsmall"):
                if _has(case, places.paths[number]):
                    _slot(case, places, places.paths[number])
    with st.container(horizontal=True, vertical_alignment="center"):
        st.button(
            "The most telling first", key="next.afresh", on_click=_afresh,
            help="Leave off what is recorded by now and put the list in order again.",
        )  # fmt: skip
        links.link("advice", "To the advice →")
    waiting = not problems(case) and current_advice.kept() is None and store().get(_NOTHING) is not case
    st.fragment(_when_quiet, run_every=_IDLE_SECONDS if waiting else None)()


def _places(case: Case) -> Places:
    held: Places | None = store().get(_KEPT)
    if held is None or held.case_id != case.id:
        held = store()[_KEPT] = Places(case.id)
    return held


def _afresh() -> None:
    held: Places | None = store().get(_KEPT)
    if held is not None:
        store()[_KEPT] = Places(held.case_id)


def _gaps(found: current_advice.Answer) -> "dict[str, Gap]":
    """What is not recorded and has a field here, the most telling first."""
    from recommender.advice.explanation.counterfactuals.links import plain_path

    gaps: dict[str, Gap] = {}
    for gap in found.whole.not_recorded:
        path = plain_path(gap.field)
        if plain_shape(path) is not None and not gap.asked:
            gaps.setdefault(path, gap)
    return gaps


def _told(gaps: "Mapping[str, Gap]") -> str:
    leading = sum(bool(gap.could_lead) for gap in gaps.values())
    if not gaps:
        return words.told("intake.nothing_could_change")
    return words.told(
        "intake.gaps_could_bring" if leading else "intake.no_gap_could_bring", leading=leading, gaps=len(gaps)
    )


def is_open(case: Case, path: str) -> bool:
    """Whether the case has this field and it is neither recorded nor asked in vain."""
    from recommender.domain.checks import may_be_asked

    return may_be_asked(case, path) and not asked_in_vain(case, path)


def _has(case: Case, path: str) -> bool:
    """Whether the case has a place for this field: a tooth that is gone by now has none."""
    from recommender.domain.checks import may_be_asked

    return bool(path) and (may_be_asked(case, path) or _recorded(case, path))


def _recorded(case: Case, path: str) -> bool:
    try:
        return get_field(case, path) is not None
    except ValueError:
        return False


def _slot(case: Case, places: Places, path: str) -> None:
    field_input(case, path, "next")
    recorded, vain = _recorded(case, path), asked_in_vain(case, path)
    note = "recorded" if recorded else "asked; not known" if vain else places.notes.get(path, "")
    theme.note(note or words.told("intake.no_more"))
    st.button(
        "Asked; not known", key=f"next.asked.{path}", on_click=asked, args=(path,), type="tertiary",
        disabled=recorded or vain,
    )  # fmt: skip


def _when_quiet() -> None:
    """The first run leaves the page alone; the next one, when nothing else was asked for, does the work."""
    if current_advice.kept() is not None:
        return
    held = state.case()
    if held is None or store().get(_NOTHING) is held:
        return
    if store().get("next.waited") is not held:
        store()["next.waited"] = held
        return
    from recommender.advice.analysis import NoAdviceError

    try:
        current_advice.answer()
    except NoAdviceError:
        store()[_NOTHING] = held  # until something is changed there is nothing to work out
        return
    st.rerun(scope="app")


def bears_on(gap: "Gap") -> str:
    """Where a gap could bring another part to the front; else where it moves scores."""
    told = [words.path_title(path) for path in gap.could_lead or gap.would_change]
    more = (" " + words.told("intake.more", told=len(told) - 2)) if len(told) > 2 else ""
    return words.told(
        "intake.could_change" if gap.could_lead else "intake.moves_scores",
        decisions=", ".join(told[:2]) + more,
    )


def asked(path: str) -> None:
    """Note that a field was asked and cannot be had."""
    held = state.case()
    if held is not None and not asked_in_vain(held, path):
        state.change(held.model_copy(update={"asked": [*(held.asked or ()), path]}))
