"""Designs drawn on their arch, kept while nothing on them changes: pages are drawn anew far more often."""

import base64
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens.session import state
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.documents.drawing import Spot
    from recommender.documents.proposal import Flag
    from recommender.domain.case import Case
    from recommender.domain.designs import Design


def show(
    case: "Case",
    design: "Design",
    *,
    provisional: bool = False,
    labels: bool = True,
    plain: bool = False,
    legend: bool = True,
    reasons: Mapping[str, str] | None = None,
    faults: "Sequence[Flag]" = (),
) -> str:
    """Draw a design on its arch; gives the same in words, which the picture also carries.

    ``labels``: what each part is, beside the arch. ``plain``: without labels, legend and undercuts, for small pictures.
    ``legend``: what the signs mean, below it. ``reasons``: what a part says to the pointer after its name, by decision
    (``retainer:14``, ``connector``). ``faults``: what cannot be made, each flagged at its part.
    """
    svg, alt, spots = _drawn(
        case.model_dump_json(exclude_none=True),
        design.model_dump_json(exclude_none=True),
        state.numbering(),
        provisional,
        labels and not plain,
        not plain,
        legend and not plain,
        tuple(sorted((reasons or {}).items())),
        theme.colours(),
        tuple((flag.tooth, words.said(flag.said)) for flag in faults),
        faults,
    )
    small = " casebook-small" if plain else ""
    data = base64.b64encode(svg.encode()).decode()
    image = f'<img alt="{theme.escape(alt)}" src="data:image/svg+xml;base64,{data}">'
    st.html(f'<div class="casebook-drawing{small}"><div>{image}{spots}</div></div>')
    return alt


@st.cache_data(show_spinner=False, max_entries=300)
def _drawn(
    case: str,
    design: str,
    numbering: str,
    provisional: bool,
    labels: bool,
    undercuts: bool,
    legend: bool,
    reasons: tuple[tuple[str, str], ...],
    colours: tuple[str, str],
    flagged: tuple[tuple[int, str], ...],
    _faults: "Sequence[Flag]",
) -> tuple[str, str, str]:
    """SVG in the colours of the page, words, and what answers to the pointer. The key: case and design as JSON,
    faults as their words (``flagged``).
    """
    from recommender.documents.drawing import arch_drawing
    from recommender.domain.case import Case
    from recommender.domain.designs import Design

    made = arch_drawing(
        Case.model_validate_json(case),
        Design.model_validate_json(design),
        numbering=numbering,
        provisional=provisional,
        with_labels=labels,
        with_legend=legend,
        with_undercuts=undercuts,
        reasons=dict(reasons),
        faults=_faults,
    )
    return made.in_colours(*colours), made.alt_text, "".join(_spot(spot) for spot in made.spots)


def _spot(spot: "Spot") -> str:
    """A part that tells its name and reason to the pointer; the words of the picture tell them to those who listen."""
    corners = [f"{100 * x:.2f}% {100 * y:.2f}%" for ring in spot.rings for x, y in (*ring, spot.rings[0][0])]
    shape = f"clip-path: polygon(evenodd, {', '.join(corners)})"
    return f'<span aria-hidden="true" title="{theme.escape(spot.title)}" style="{shape}"></span>'
