"""The steps after level and side: teeth, path, margins, taking over."""

import streamlit as st

from recommender.domain.case import Case
from recommender.screens.session import keys, state
from recommender.screens.session.visitor import store
from recommender.screens.survey import scan_in_hand as scans
from recommender.screens.survey.drawing import clicked_drawing
from recommender.screens.survey.marking import accept_teeth, go_to, on_wall
from recommender.screens.survey.scan_in_hand import ScanInHand
from recommender.screens.ui import links, theme, words
from recommender.survey.entry import dentition_of
from recommender.survey.paths import PathScore
from recommender.survey.pictures.charts import path_picture, radial_picture, wall_picture
from recommender.survey.record import (
    DIFFERS,
    NEW,
    other_path,
    recorded_path,
    taken_over,
    to_take_over,
)
from recommender.survey.result import Figure, Survey
from recommender.survey.statements import (
    figure_statement,
    gauge_statement,
    path_standing,
    path_statement,
    path_statements,
)

_TOOTH = "scan.margin_tooth"


def teeth_step(case: Case, kept: ScanInHand, result: Survey) -> None:
    """Look at the outlines, move what is wrong, stand by them."""
    st.subheader("Teeth", anchor=False)
    st.write(
        "Look at every number and outline. To move an end of a tooth, click its ring, then its new place; where two "
        "teeth touch, both ends move. Where a number stands on the wrong tooth, choose it here and click the middle of "
        "its tooth: all are then sought anew."
    )
    st.selectbox("Tooth", list(result.teeth), format_func=state.tooth, key="scan.tooth")
    if kept.picked is not None:
        st.info("Picked up: click its new place.")
    st.button(
        words.told(
            "screen.survey.all_outlines_right",
            teeth=len(result.teeth),
        ), type="primary", key="scan.accept_teeth",
        on_click=accept_teeth, args=(case, kept, result),
    )  # fmt: skip


def path_step(case: Case, kept: ScanInHand, result: Survey) -> None:
    """The plateau of equally good directions, and what each gives and costs."""
    from recommender.screens.survey.inks import inks

    st.subheader("Path of placement", anchor=False)
    search = result.search
    if search is None:
        st.write("No standing tooth borders a space that is to be restored: the cast stays level.")
        st.button(
            "Go on with the cast level",
            key="scan.path_level",
            on_click=_take_path,
            args=(case, kept, 0.0, 0.0),
        )
        return
    good = {words.said(path_statement(entry)): entry for entry in search.plateau}
    now = words.said(path_statement(result.path))
    names = list(good) if now in good else [now, *good]
    key = keys.view("scan.path", now)

    def chosen() -> None:
        if keys.edited(key) and st.session_state[key] in good:
            entry = good[st.session_state[key]]
            _take_path(case, kept, entry.tilt_ap_deg, entry.tilt_lateral_deg, stay=True)

    _open_about_path(result)
    st.selectbox("About equally good, least tilt first", names, names.index(now), key=key, on_change=chosen)
    level = next(entry for entry in search.scores if entry.tilt_ap_deg == 0 and entry.tilt_lateral_deg == 0)
    for line in path_statements(result.path, level):
        st.write(theme.literal(words.said(line)))
    st.button(
        f"Take this path: {now}", type="primary", key="scan.take_path", on_click=_take_path,
        args=(case, kept, result.path.tilt_ap_deg, result.path.tilt_lateral_deg),
    )  # fmt: skip

    own = recorded_path(case)
    if own is not None and own != (result.path.tilt_ap_deg, result.path.tilt_lateral_deg):
        st.button(
            words.told(
                "screen.survey.take_path_case",
                path_statement=words.said(path_statement(PathScore(*own, float('nan'), ()))),
            ),
            key="scan.take_recorded", on_click=_take_path, args=(case, kept, *own),
        )  # fmt: skip

    def placed(x: float, y: float) -> None:
        near = min(
            search.scores, key=lambda entry: (entry.tilt_lateral_deg - x) ** 2 + (entry.tilt_ap_deg + y) ** 2
        )
        _take_path(case, kept, near.tilt_ap_deg, near.tilt_lateral_deg, stay=True)

    clicked_drawing(
        path_picture(result, words.in_words(), inks()),
        placed,
        "scan.paths",
        "Paths of placement",
        "A click tries the nearest direction.",
    )


def _open_about_path(result: Survey) -> None:
    open_still = path_standing(result)
    if open_still is not None:
        st.info(theme.literal(words.said(open_still)))


def _take_path(case: Case, kept: ScanInHand, front: float, right: float, stay: bool = False) -> None:
    scans.try_mark(case, kept, lambda: scans.mark(kept, path=(front, right)))
    if not kept.trouble and not stay:
        go_to("Margins")


def _abutments(case: Case, result: Survey) -> list[int]:
    """What borders a space or is listed, first; then the other teeth."""
    first = set(dentition_of(case).beside_spaces()) | {entry.tooth for entry in case.abutments or ()}
    return sorted(result.teeth, key=lambda tooth: tooth not in first)


def margin_step(case: Case, kept: ScanInHand, result: Survey) -> None:
    """One tooth after another: margin looked at, corrected, confirmed."""
    from recommender.screens.survey.inks import inks

    st.subheader("Gum margins", anchor=False)
    teeth = _abutments(case, result)
    now = store().get(_TOOTH)
    if now not in teeth:
        now = next((tooth for tooth in teeth if tooth not in kept.confirmed), teeth[0])
    key = keys.view(_TOOTH + ".choice", now)

    def chosen() -> None:
        if keys.edited(key):
            store()[_TOOTH] = st.session_state[key]

    done = kept.confirmed

    def named(tooth: int) -> str:
        return f"{state.tooth(tooth)} ✓" if tooth in done else state.tooth(tooth)

    st.selectbox("Tooth", teeth, teeth.index(now), format_func=named, key=key, on_change=chosen)

    def confirm() -> None:
        kept.confirmed.add(now)
        left = [tooth for tooth in teeth if tooth not in kept.confirmed]
        first = [tooth for tooth in left if tooth in dentition_of(case).beside_spaces()]
        store()[_TOOTH] = (first or left or [now])[0]
        if not first:
            go_to("Take over")

    st.button(
        words.told("screen.margin_right", tooth=state.tooth(now)),
        type="primary",
        key="scan.confirm",
        on_click=confirm,
    )

    def placed(x: float, y: float) -> None:
        on_wall(case, kept, result, now, x, y)

    label = state.tooth(now)
    clicked_drawing(
        wall_picture(result, now, words.in_words(), inks()), placed, "scan.wall", words.told(
            "screen.survey.wall_tooth_laid",
            label=label,
        ),
        "A click says: here runs the margin. Its line is drawn as the base, so the wall moves.", 3.0,
    )  # fmt: skip
    st.image(radial_picture(result, now, words.in_words(), inks()), width=360)
    rows: list[list[object]] = [
        [
            zone,
            words.said(figure_statement(figure)),
            words.said(gauges) if (gauges := gauge_statement(figure)) else "",
            _causes(figure),
        ]
        for zone, figure in result.teeth[now].undercuts_mm.items()
    ]
    heads = ["zone", "undercut, mm (nine in ten)", "gauges", "unsure by, mm"]
    theme.table(heads, rows, caption=words.told("screen.survey.tooth_path", label=label))


def _causes(figure: Figure) -> str:
    """What makes the band, as standard deviations, the greatest first; nothing where a cause adds next to nothing."""
    greatest = sorted(figure.causes.items(), key=lambda cause: -cause[1])
    return ", ".join(f"{name} {spread:.2f}" for name, spread in greatest if spread >= 0.005)


def take_over_step(case: Case, kept: ScanInHand, result: Survey) -> None:
    """What would enter the case, beside what stands there."""
    st.subheader("Into the case", anchor=False)
    lacking = [
        word
        for word, there in (
            ("the unit", result.unit_confirmed), ("the level", result.level_confirmed), ("the side",
            result.side_confirmed),
            ("the margin of a tooth", bool(kept.confirmed)),
        )
        if not there
    ]  # fmt: skip
    if lacking:
        st.warning("Not confirmed yet: " + ", ".join(lacking) + ".")
        return
    _open_about_path(result)
    rows = to_take_over(result, case)
    differing = [row.path for row in rows if row.how == DIFFERS]
    overwrite: list[str] = []
    if differing:
        st.write(
            "Some figures differ from what is recorded. What is recorded stays unless it is chosen here."
        )
        overwrite = st.multiselect("Replace", differing, format_func=words.field, key="scan.overwrite")
    other = [row.path for row in other_path(rows) if row.path not in overwrite]
    if other:
        st.warning(
            "The case records another path of placement, and these figures hold at their own. Replace its tilt, or "
            "take the recorded path under Path."
        )
    names = ", ".join(state.tooth(tooth) for tooth in result.confirmed)
    st.button(
        words.told(
            "screen.survey.take_over_figures",
            names=names,
        ), type="primary", key="scan.take_over", on_click=_into_case,
        args=(result, case, tuple(overwrite)), disabled=bool(other),
    )  # fmt: skip
    st.download_button(
        "Keep the marks", scans.marks_file(kept), "marks.yaml", "application/yaml", key="scan.marks",
        help="What was marked and confirmed, without the scan: for surveying the same scan again in a terminal. "
        "Keep it beside the scan, and as safe.",
    )  # fmt: skip
    if case.survey is not None and case.survey.confirmed:
        told = ", ".join(state.tooth(tooth) for tooth in case.survey.confirmed)
        st.success(words.told("screen.survey.case_holds_figures", told=told))
        links.link("advice", "To the advice")
        links.link("talk", "Letter and ticket")
    table: list[list[object]] = [
        [
            words.field(row.path),
            "" if row.before is None else _short(row.before),
            _short(row.after),
            "" if row.how == NEW else row.how,
        ]
        for row in rows
    ]
    theme.table(["field", "recorded", "from the scan", ""], table, caption="What is taken over")


def _into_case(result: Survey, case: Case, overwrite: tuple[str, ...]) -> None:
    new, _ = taken_over(result, case, overwrite)
    state.change(new)


def _short(value: object) -> str:
    if isinstance(value, dict) and set(value) == {"low", "value", "high"}:
        return words.told(
            "screen.survey.to",
            value=f"{value['value']:g}",
            low=f"{value['low']:g}",
            high=f"{value['high']:g}",
        )
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
