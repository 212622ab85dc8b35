"""The short way: the few fields that decide most cases, on one screen an arch."""

import streamlit as st

from recommender.domain.case import Case
from recommender.domain.vocabulary import ZONES
from recommender.screens.intake.fields import field_input, told_at, write
from recommender.screens.intake.tooth_figures import tooth_figures

_COLUMNS = 4
_MOST_SPACES = 6
# Lips and wish, then what the connector lies on.
_FIELDS = {
    "maxilla": (
        "patient.smile_line", "patient.aesthetic_priority", "palate.torus", "palate.vault", "patient.gag_reflex",
    ),
    "mandible": (
        "patient.lower_display", "patient.aesthetic_priority", "floor.depth_mm", "floor.torus", "floor.lingual_tilt",
    ),
}  # fmt: skip


def short_section(case: Case) -> None:
    """Undercuts on a drawing of each tooth, the room over each space, lips and wish, palate or floor."""
    from recommender.domain.kennedy import spaces
    from recommender.screens.intake.survey import considered

    teeth, found = considered(case), spaces(case)
    if not teeth:
        return
    st.subheader("What decides most cases", anchor=False)
    tooth_figures(case, teeth, write, "take_in.figures")
    told_at([f"abutments[{tooth}].undercuts_mm.{zone}" for tooth in teeth for zone in ZONES], "figures")
    paths = [f"spans[{space.name}].clearance_mm" for space in found[:_MOST_SPACES]] + list(_FIELDS[case.arch])
    for first in range(0, len(paths), _COLUMNS):
        for column, path in zip(st.columns(_COLUMNS), paths[first : first + _COLUMNS], strict=False):
            with column:
                field_input(case, path, "short")
