"""Designs drawn on their arch, kept while nothing on them changes: pages are drawn anew far more often."""

import base64
from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.session import state
from recommender.screens.ui import theme

if TYPE_CHECKING:
    from recommender.domain.case import Case, Design


def show(
    case: "Case", design: "Design", *, provisional: bool = False, labels: bool = True, plain: bool = False
) -> str:
    """Draw a design on its arch; gives the same in words, which the picture also carries.

    ``labels``: what each part is, beside the arch. ``plain``: without labels, legend and undercuts, for small pictures.
    """
    svg, alt = _drawn(
        case.model_dump_json(exclude_none=True),
        design.model_dump_json(exclude_none=True),
        state.numbering(),
        provisional,
        labels and not plain,
        not plain,
    )
    small = " casebook-small" if plain else ""
    data = base64.b64encode(svg.encode()).decode()
    # paper-white, which the drawing is made for, in both themes
    image = f'<img alt="{theme.escape(alt)}" src="data:image/svg+xml;base64,{data}">'
    st.html(f'<div class="casebook-drawing{small}">{image}</div>')
    return alt


@st.cache_data(show_spinner=False, max_entries=300)
def _drawn(
    case: str, design: str, numbering: str, provisional: bool, labels: bool, rest: bool
) -> tuple[str, str]:
    """SVG and words; case and design as JSON, which is their key."""
    from recommender.documents.drawing import arch_drawing
    from recommender.domain.case import Case, Design

    made = arch_drawing(
        Case.model_validate_json(case),
        Design.model_validate_json(design),
        numbering=numbering,
        provisional=provisional,
        with_labels=labels,
        with_legend=rest,
        with_undercuts=rest,
    )
    return made.svg, made.alt_text
