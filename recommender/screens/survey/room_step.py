"""Room to the opposing teeth over drawn crest lines, and the length of the palate."""

import streamlit as st

from recommender.domain.case import Case
from recommender.domain.statement import teeth
from recommender.screens.session import state
from recommender.screens.survey import scan_in_hand as scans
from recommender.screens.survey.marking import set_crest
from recommender.screens.survey.scan_in_hand import ScanInHand
from recommender.screens.ui import theme, words
from recommender.survey.demo import demo_opposing
from recommender.survey.entry import dentition_of
from recommender.survey.errors import ScanError
from recommender.survey.result import Figure, Survey
from recommender.survey.scan import scan_of_bytes
from recommender.survey.settings import settings
from recommender.survey.statements import figure_statement


def room_step(case: Case, kept: ScanInHand, result: Survey) -> None:
    """The opposing scan, crest lines, the two places of the palate, and what follows."""
    st.subheader("Room and palate", anchor=False)
    if kept.opposing is None:
        _opposing(case, kept)
    choices: list[object] = [space.teeth for space in result.spaces]
    if result.palate is not None:
        choices += ["incisive_papilla", "vibrating_line"]
    if choices:
        chosen = st.selectbox("Mark", choices, format_func=_name, key="scan.room")
        if isinstance(chosen, tuple):
            st.write("Click along the crest of the ridge, from one end of the space to the other.")
            st.button(
                words.told(
                    "screen.survey.set_crest_line",
                    waiting=len(kept.waiting),
                ), disabled=len(kept.waiting) < 2, key="scan.crest",
                on_click=set_crest, args=(case, kept, result, chosen),
            )  # fmt: skip
    rows: list[list[object]] = []
    for space in result.spaces:
        where = ", ".join(map(state.tooth, space.teeth))
        rows.append([words.told("screen.survey.width_space", where=where), _figure(space.width_mm)])
        rows.append([words.told("screen.survey.room_over_ridge", where=where), _figure(space.clearance_mm)])
    for tooth, entry in result.teeth.items():
        if tooth not in dentition_of(case).beside_spaces():
            continue
        for what, figures in (("rest", entry.rest_clearance_mm), ("embrasure", entry.embrasure_clearance_mm)):
            for site, figure in figures.items():
                rows.append([f"{state.tooth(tooth)}, {what}, {site}", _figure(figure)])
    if result.palate is not None:
        for name, figure in (
            ("depth of the vault", result.palate.vault_mm), ("height of the rugae", result.palate.rugae_mm),
            ("length of the palate", result.palate.length_mm),
        ):  # fmt: skip
            rows.append([name, _figure(figure)])
    theme.table(["", "mm (nine in ten)"], rows, caption="Widths, room and palate")


def _figure(figure: Figure) -> str:
    return words.said(figure_statement(figure))


def _name(choice: object) -> str:
    if isinstance(choice, tuple):
        return words.told("screen.survey.crest", teeth=teeth(choice))
    return str(choice).replace("_", " ")


def _opposing(case: Case, kept: ScanInHand) -> None:
    most = settings()["limits"]["bytes"] // 1_000_000
    given = st.file_uploader(
        "The opposing arch, closed in occlusion and in the same frame", type=["stl", "ply", "obj"],
        max_upload_size=most, key=f"scan.opposing_file.{state.uploads()}",
    )  # fmt: skip
    if given is not None:
        try:
            mesh = scan_of_bytes(given.getvalue(), None if kept.scan.unit == "mm" else kept.scan.unit).mesh
        except ScanError as error:
            st.error(theme.literal(scans.refusal(error)))
        else:
            with st.spinner("Laying the arches on each other …"):
                scans.try_mark(case, kept, lambda: setattr(kept, "opposing", mesh))
            state.clear_upload()  # what was refused is not tried over and over, and the picker lets its copy go
            st.rerun()
    if kept.invented:
        st.button(
            "Add an invented opposing arch", key="scan.opposing_demo", on_click=_invented, args=(case, kept)
        )


def _invented(case: Case, kept: ScanInHand) -> None:
    mesh = demo_opposing(dentition_of(case), case.id)
    scans.try_mark(case, kept, lambda: setattr(kept, "opposing", mesh))
