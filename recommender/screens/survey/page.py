"""Surveying a scanned cast: scan, level, side, teeth, path, margins, taking over."""

from collections.abc import Callable

import numpy as np
import streamlit as st

from recommender.api.surveying import survey_figures
from recommender.domain.case import Case
from recommender.domain.statement import Word, teeth
from recommender.screens.session import keys, state
from recommender.screens.session.visitor import store
from recommender.screens.survey import scan_in_hand as scans
from recommender.screens.survey.drawing import clicked_drawing
from recommender.screens.survey.inks import inks
from recommender.screens.survey.marking import STEPS, on_arch, reset_waiting, step_now
from recommender.screens.survey.room_step import room_step
from recommender.screens.survey.scan_in_hand import ScanInHand
from recommender.screens.survey.steps import margin_step, path_step, take_over_step, teeth_step
from recommender.screens.ui import links, theme, words
from recommender.survey.pictures.arch import arch_picture, tripod_places
from recommender.survey.result import Survey
from recommender.survey.settings import in_force, settings

PRIVATE = (
    "A scan identifies a person. It is kept in this session alone: not in the case, the library, a working "
    "copy, a log or the "
    "undo history, and it goes with this tab. The figures of confirmed teeth are all that a case gets."
)
_STEP = "scan.step"


def page() -> None:
    """Draw the page."""
    with in_force(survey_figures()):
        _page()


def _page() -> None:
    case = state.case()
    if case is None:
        st.info("Take in a case first: a survey needs the list of the teeth that stand.")
        links.link("case", "Take in a case")
        return
    kept = scans.in_hand(case)
    if kept is None:
        _scan_section(case)
        return
    with st.spinner("Surveying the scan …"):
        result = scans.surveyed(case, kept)
    _scan_line(kept, result)
    if kept.trouble:
        st.error(theme.literal(kept.trouble[:1].upper() + kept.trouble[1:] + "."))
    if result is None:
        return
    for doubt in result.doubts:
        st.warning(theme.literal(f"Doubt: {words.said(doubt)}."))
    step = _step_control(kept)
    left, right = st.columns([2, 3] if step == "Margins" else [3, 2], gap="medium")
    with left:
        _drawing(case, kept, result, step)
    with right:
        _STEP_BODIES[step](case, kept, result)
    _cannot_tell()


def _scan_section(case: Case) -> None:
    theme.note(PRIVATE)
    most = settings()["limits"]["bytes"] // 1_000_000
    unit = st.selectbox("Drawn in", list(settings()["units"]), key="scan.unit", width=160)
    given = st.file_uploader(
        words.told(
            "screen.survey.scan_cast_stl",
            most=most,
        ), type=["stl", "ply", "obj"], max_upload_size=most,
        key=f"scan.file.{state.uploads()}",
    )  # fmt: skip
    if given is not None:
        with st.spinner("Reading the scan …"):
            wrong = scans.take(case, given.getvalue(), None if unit == "mm" else unit)
        if wrong:
            st.error(theme.literal(wrong[:1].upper() + wrong[1:] + "."))
        else:
            state.clear_upload()  # the picker lets its copy of the file go
            st.rerun()
    st.button(
        "Try it with an invented cast", key="scan.invented", on_click=scans.take_invented, args=(case,),
        help="Made for the teeth of this case in some seconds; no patient stands behind it.",
    )  # fmt: skip
    _cannot_tell()


def _scan_line(kept: ScanInHand, result: Survey | None) -> None:
    with st.container(horizontal=True, vertical_alignment="center"):
        told = words.told(
            "screen.survey.invented_scan" if kept.invented else "screen.survey.scan",
            triangles=f"{kept.scan.triangles:,}",
            edge_mm=f"{kept.scan.raw.edge_mm:.2f}",
        )
        if result is not None:
            told = words.told(
                "screen.survey.scan_of", scan=told, n=len(result.teeth), teeth=teeth(result.teeth)
            )
        st.html(words.told("screen.survey.list_complete", told=theme.escape(told)), width="stretch")
        st.button("Put the scan away", key="scan.away", on_click=scans.put_away)


def _step_control(kept: ScanInHand) -> str:
    now = str(store().get(_STEP) or step_now(kept))
    key = keys.view(_STEP, now)

    def chosen() -> None:
        if keys.edited(key):
            reset_waiting(kept)
            store()[_STEP] = st.session_state[key]

    st.segmented_control("Step", list(STEPS), default=now, key=key, required=True, on_change=chosen)
    return now


def _drawing(case: Case, kept: ScanInHand, result: Survey, step: str) -> None:
    points = [np.asarray(place) for place in kept.waiting]
    if step == "Take over":
        points = tripod_places(result)
    svg = arch_picture(
        result, words.in_words(), inks(), points,
        walls=step in ("Path", "Margins", "Room", "Take over"),
    )  # fmt: skip

    def placed(x: float, y: float) -> None:
        on_arch(case, kept, result, step, x, -y)

    viewer = "right" if result.arch == "maxilla" else "left"
    clicked_drawing(
        svg, placed, "scan.arch", "The cast from above, in ink",
        words.told("screen.survey.seen_above_looking", viewer=viewer, hint=Word("step_hint", step)),
    )  # fmt: skip


def _level_step(case: Case, kept: ScanInHand, result: Survey) -> None:
    st.subheader("Level and unit", anchor=False)
    st.write(
        "Click three points of the plane that is to lie level, far apart: an incisor's edge and a cusp far "
        "back on each side, "
        "say. Until then the cast lies on the crests of its teeth, which is no bench's level."
    )
    if kept.waiting:
        st.write(words.told("screen.survey.points_set", waiting=len(kept.waiting)))
    if result.level_confirmed:
        st.success("Three points set. Click three others to set them anew.")
    centres = np.array([part.surface.frame.centre[:2] for part in result.parts.values()])
    wide = float(np.ptp(centres[:, 0]))
    key = keys.view("scan.mm", kept.marks.unit is not None)

    def agreed() -> None:
        if keys.edited(key):
            scans.mark(kept, unit=kept.scan.unit if st.session_state[key] else None)

    st.checkbox(
        words.told("screen.survey.unit_right_row", wide=f"{wide:.0f}"), kept.marks.unit is not None,
        key=key, on_change=agreed,
    )  # fmt: skip


def _side_step(_: Case, kept: ScanInHand, result: Survey) -> None:
    st.subheader("Side", anchor=False)
    st.write("A mirrored scan cannot be told from a true one if teeth are missing alike on both sides.")
    teeth = list(result.teeth)
    first = kept.marks.side[0] if kept.marks.side is not None else teeth[0]
    st.selectbox(
        "Click on this tooth in the drawing",
        teeth,
        teeth.index(first),
        format_func=state.tooth,
        key="scan.side",
    )
    if result.side_confirmed:
        st.success(words.told("screen.where_listed", tooth=state.tooth(first)))


def _cannot_tell() -> None:
    with st.expander("What a scan cannot tell"):
        st.write(words.told("screen.survey.not_in_a_scan", listed="; ".join(settings()["not_in_a_scan"])))
        st.write(
            "Figures are bands. Where a band straddles a gauge, the gauge in the hand decides. Reading and "
            "hand have not been "
            "compared on a printed cast yet."
        )


_STEP_BODIES: dict[str, Callable[[Case, ScanInHand, Survey], None]] = {
    "Level": _level_step,
    "Side": _side_step,
    "Teeth": teeth_step,
    "Path": path_step,
    "Margins": margin_step,
    "Room": room_step,
    "Take over": take_over_step,
}
