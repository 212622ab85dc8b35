"""Everything that can be recorded: figures of abutments and spaces in tables, the rest in fields, folded by subject."""

import re

import streamlit as st

from recommender.domain.case import Case
from recommender.domain.findings import Abutment, Floor, Occlusion, Palate, Patient, Records
from recommender.domain.measures import Record
from recommender.domain.vocabulary import ZONES
from recommender.screens.intake.fields import field_input
from recommender.screens.intake.grid import grid
from recommender.screens.session import keys, state
from recommender.screens.ui import theme, words

_ABUTMENTS: dict[str, tuple[str, ...]] = {
    "Undercuts": tuple(f"undercuts_mm.{zone}" for zone in ZONES),
    "Crown and survey line": (
        "kind", "crown_height_mm", "contour_height", "contour_height_lingual", "tilt", "recession_mm",
    ),
    "Room": (
        "lingual_clearance_mm", "embrasure_clearance_mm.mesial", "embrasure_clearance_mm.distal",
        "opposing_adjustable",
    ),
    "Room for rests": (
        "rest_clearance_mm", "rest_clearance_mm.mesial", "rest_clearance_mm.distal", "rest_clearance_mm.cingulum",
        "rest_clearance_mm.incisal",
    ),
    "Health": (
        "mobility", "bone_support", "probing_mm", "disease", "restoration", "crown_material",
    ),
    "Gum and sulcus": ("vestibule_depth_mm", "tissue_undercut", "frenum_near", "preparable"),
    "Undercuts, cast level": tuple(f"undercuts_level_mm.{zone}" for zone in ZONES),
}  # fmt: skip
_LISTS = ("rest_seats", "guiding_planes", "permitted")
_SPACES = (
    "clearance_mm", "width_mm", "facial_depth_mm", "set_teeth", "ridge", "ridge_loss", "months_since_extraction",
    "tissue_undercut",
)  # fmt: skip


def survey_section(case: Case) -> None:
    """Everything else that can be recorded, folded by subject, with how much of it is."""
    st.subheader("All that can be recorded", anchor=False)
    theme.note("Left empty means not recorded, which is never the same as zero, none or no.")
    upper = case.arch == "maxilla"
    bearing, part = ("Palate", "palate") if upper else (words.told("intake.floor"), "floor")
    names = list(Palate.model_fields if upper else Floor.model_fields)
    for title, name, draw in (
        ("Abutments", "abutments", _abutments),
        ("Spaces", "spans", _spaces),
        ("Patient and smile", "patient", lambda held: _fields(held, "patient", list(Patient.model_fields))),
        ("Bite and opposing teeth", "occlusion", _bite),
        ("Casts and records", "records", lambda held: _fields(held, "records", list(Records.model_fields))),
        (bearing, part, lambda held: _fields(held, part, names)),
        ("Teeth that will not last", "lasting", _lasting),
        ("Asked; not known", "asked", _asked),
    ):
        box = theme.fold(f"{title} · {_count(case, name)}", f"survey.fold.{name}")
        if box.open:
            with box:
                draw(case)


def _count(case: Case, part: str) -> str:
    """How many fields of a part of the case are recorded."""
    from recommender.domain.fields import recorded_fields

    if part == "asked":
        return words.told("intake.noted", n=len(case.asked or ()))
    parts = ("planned_extractions", "future_loss_likely") if part == "lasting" else (part,)
    return words.told(
        "intake.recorded", n=sum(re.split(r"[.[]", path)[0] in parts for path in recorded_fields(case))
    )


def _bite(case: Case) -> None:
    _fields(case, "occlusion", [name for name in Occlusion.model_fields if name != "contacts"])
    _contacts(case)


def _lasting(case: Case) -> None:
    for name in ("planned_extractions", "future_loss_likely"):
        field_input(case, name, "survey")


def _asked(case: Case) -> None:
    """Fields that were asked and cannot be had: taken off the list, they are asked again."""
    from recommender.domain.checks import may_be_asked

    st.write("What was asked and cannot be had is not asked again. It still counts as not recorded.")
    parts: dict[str, type[Record]] = {"patient": Patient, "occlusion": Occlusion, "records": Records}
    parts |= {"palate": Palate} if case.arch == "maxilla" else {"floor": Floor}
    known = [f"{part}.{name}" for part, model in parts.items() for name in model.model_fields]
    known += [
        f"abutments[{t}].{name}"
        for t in considered(case)
        for name in Abutment.model_fields
        if name != "tooth"
    ]
    now = list(case.asked or ())
    open_ = [path for path in known if path not in now and may_be_asked(case, path)]
    key = keys.view("survey.asked", now)
    st.multiselect(
        "Asked; not known", [*now, *open_], default=now, format_func=words.field, key=key,
        on_change=_write_asked, args=(key,), placeholder="nothing",
    )  # fmt: skip


def _write_asked(key: str) -> None:
    held = state.case()
    if held is not None and keys.edited(key):
        state.change(held.model_copy(update={"asked": list(st.session_state[key]) or None}))


def considered(case: Case) -> list[int]:
    """The teeth that the survey asks about: the abutments listed and the teeth beside the spaces, in arch order."""
    from recommender.domain.dentition import in_arch_order
    from recommender.domain.kennedy import spaces

    listed = {abutment.tooth for abutment in case.abutments or ()}
    beside = {tooth for space in spaces(case) for tooth in space.borders}
    return in_arch_order(case.arch, listed | beside)


def _abutments(case: Case) -> None:
    teeth = considered(case)
    if not teeth:
        st.write("Mark a missing tooth or an abutment first.")
        return
    subject = st.segmented_control(
        "Figures", list(_ABUTMENTS), default="Undercuts", key="survey.subject", required=True
    )
    if subject.startswith("Undercuts"):
        st.write(
            "The deepest gauge that touches, at this path of placement: 0.25, 0.50 or 0.75 mm "
            "(0.010, 0.020, 0.030 inch)."
        )
    rows = {state.tooth(tooth): f"abutments[{tooth}]" for tooth in teeth}
    grid(case, subject, rows, _ABUTMENTS[subject], f"abutments.{subject}")
    st.markdown("**One tooth: seats, guiding planes, permitted preparation**")
    if st.session_state.get("survey.tooth") not in teeth:
        st.session_state["survey.tooth"] = teeth[0]
    tooth = st.selectbox("Tooth", teeth, format_func=state.tooth, key="survey.tooth")
    for column, name in zip(st.columns(len(_LISTS)), _LISTS, strict=True):
        with column:
            field_input(case, f"abutments[{tooth}].{name}", "survey")


def _spaces(case: Case) -> None:
    from recommender.domain.kennedy import spaces

    found = spaces(case)
    if not found:
        st.write("No tooth is marked as missing yet.")
        return
    rows = {words.teeth(space.teeth): f"spans[{space.name}]" for space in found}
    grid(case, "Spaces", rows, _SPACES, "spaces")
    st.markdown("**Clearance tooth by tooth**")
    columns = st.columns(4)
    teeth = [(space.name, tooth) for space in found for tooth in space.teeth]
    for index, (name, tooth) in enumerate(teeth):
        with columns[index % 4]:
            field_input(case, f"spans[{name}].clearance_mm[{tooth}]", "survey")


def _contacts(case: Case) -> None:
    st.markdown("Contacts on the teeth to be replaced")
    columns = st.columns(3)
    for index, tooth in enumerate(case.missing):
        with columns[index % 3]:
            field_input(case, f"occlusion.contacts[{tooth}]", "survey")


def _fields(case: Case, part: str, names: list[str]) -> None:
    columns = st.columns(3)
    for index, name in enumerate(names):
        with columns[index % 3]:
            field_input(case, f"{part}.{name}", "survey")
