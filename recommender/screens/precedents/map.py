"""The map of the library with the case in hand: a picture, what it leaves out, and the same as a table."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.statement import quantity
from recommender.screens.session import state
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.advice.model import Decision
    from recommender.precedents.library import PrecedentLibrary
    from recommender.precedents.model import Situation

_SHAPES = [
    "circle",
    "square",
    "triangle-up",
    "diamond",
    "cross",
    "triangle-down",
    "triangle-right",
    "triangle-left",
]


def map_section(
    library: "PrecedentLibrary", asked: "Decision", situation: "Situation", approved_only: bool
) -> None:
    """Draw it; every choice has its own shape as well as its colour."""
    import altair as alt
    import pandas as pd

    from recommender.curation.projection import neighbours_on, project

    found = project(library, situation, approved_only=approved_only)
    if found is None:
        st.write(words.told("screen.nothing_to_map"))
        return
    st.write(
        words.told(
            "screen.map",
            carried=quantity(found.carried, "share"),
            near=found.near,
            kept=found.kept_near,
            left_out=found.left_out or None,
        )
    )
    frame = pd.DataFrame(
        {
            "x": place.x, "y": place.y, "case": place.case_id, "site": state.tooth(place.site) if place.site else "",
            "chose": words.option(asked.kind, place.choice), "likeness": 1 - place.difference,
            "fared": words.fared(place.verdict),
        }
        for place in found.places
    )  # fmt: skip
    choices = list(dict.fromkeys(frame.groupby("chose").size().sort_values(ascending=False).index))
    shapes = [_SHAPES[index % len(_SHAPES)] for index in range(len(choices))]
    axis = alt.Axis(labels=False, ticks=False, grid=False, title=None, domain=False)
    dots = (
        alt.Chart(frame)
        .mark_point(filled=True, size=85, opacity=0.85)
        .encode(
            x=alt.X("x:Q", axis=axis, scale=alt.Scale(zero=False, padding=20)),
            y=alt.Y("y:Q", axis=axis, scale=alt.Scale(zero=False, padding=20)),
            shape=alt.Shape(
                "chose:N", scale=alt.Scale(domain=choices, range=shapes),
                legend=alt.Legend(orient="right", title="chose", labelLimit=220),
            ),
            color=alt.Color("chose:N", scale=alt.Scale(domain=choices)),
            tooltip=["case:N", "site:N", "chose:N", alt.Tooltip("likeness:Q", format=".2f"), "fared:N"],
        )
    )  # fmt: skip
    here = pd.DataFrame({"x": [found.here[0]], "y": [found.here[1]], "label": ["this case"]})
    ink = theme.ink()
    mark = (
        alt.Chart(here)
        .mark_point(shape="cross", size=420, strokeWidth=3, filled=False, color=ink)
        .encode(x="x:Q", y="y:Q")
    )
    text = (
        alt.Chart(here)
        .mark_text(dy=-18, fontWeight="bold", fontSize=13, color=ink)
        .encode(x="x:Q", y="y:Q", text="label:N")
    )
    st.altair_chart(
        (dots + mark + text).properties(height=430).configure_view(strokeWidth=0),
        width="stretch",
        alt="Map of the library around this case; the table below lists the nearest.",
    )
    rows: list[list[object]] = [
        [
            place.case_id,
            f"{1 - place.difference:.2f}",
            words.option(asked.kind, place.choice),
            words.fared(place.verdict),
        ]
        for place in neighbours_on(found.places, 12)
    ]
    theme.table(
        ["case", "likeness on the map's own scale", "chose", "how it fared"], rows, numbers=(1,),
        caption="The truly nearest (a gap on either side counts as the expected difference)",
    )  # fmt: skip
