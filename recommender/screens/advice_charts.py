"""Pictures of numbers, each with the same in a table beside it: bars that add up, layers of room, bands.

Meaning is carried by position, sign and words; colour only repeats it.
"""

from collections.abc import Sequence
from typing import Any

import streamlit as st

_SHORT = 46


def short(text: str, most: int = _SHORT) -> str:
    """A text for an axis: cut at a word, with an ellipsis."""
    if len(text) <= most:
        return text
    return text[: most - 1].rsplit(" ", 1)[0] + "…"


def adding_up(lines: Sequence[tuple[str, float]], total_name: str, alt: str) -> None:
    """Bars that each begin where the one before ended, and the total, which they reach."""
    import altair as alt_module
    import pandas as pd

    rows, place = [], 0.0
    for index, (name, points) in enumerate(lines):
        rows.append(
            {
                "order": index, "line": short(name), "text": name, "from": place, "to": place + points,
                "points": points, "label": f"{points:+.1f}", "kind": "adds" if points >= 0 else "takes away",
            }
        )  # fmt: skip
        place += points
    rows.append(
        {
            "order": len(lines), "line": total_name, "text": total_name, "from": 0.0, "to": place, "points": place,
            "label": f"{place:.1f}", "kind": "total",
        }
    )  # fmt: skip
    frame = pd.DataFrame(rows)
    # Two lines may read alike once they are cut short; the order in front keeps them apart.
    frame["line"] = [f"{i + 1}. {text}" if i < len(lines) else text for i, text in enumerate(frame["line"])]
    base = alt_module.Chart(frame)
    y = alt_module.Y(
        "line:N", sort=alt_module.EncodingSortField("order"), title=None,
        axis=alt_module.Axis(labelLimit=330, labelFontSize=12, ticks=False),
    )  # fmt: skip
    bars = base.mark_bar(height={"band": 0.72}).encode(
        y=y,
        x=alt_module.X("from:Q", title="points of 100, adding up from the left"),
        x2="to:Q",
        color=alt_module.Color(
            "kind:N", title=None, legend=alt_module.Legend(orient="top"),
            scale=alt_module.Scale(domain=["adds", "takes away", "total"], range=["#2e7d93", "#b0622c", "#6b7176"]),
        ),
        tooltip=[alt_module.Tooltip("text:N", title="line"), alt_module.Tooltip("points:Q", format="+.2f")],
    )  # fmt: skip
    text = base.mark_text(align="left", dx=4, fontSize=12).encode(
        y=y, x=alt_module.X("end:Q"), text="label:N", color=_ink(),
    ).transform_calculate(end="max(datum.from, datum.to)")  # fmt: skip
    _draw((bars + text).properties(height=alt_module.Step(21)), alt)


def layers(rows: Sequence[dict[str, Any]], room: float | None, alt: str) -> None:
    """Layers stacked from the ridge up (``layer``, ``mm``, ``low``, ``high``, ``stack``), the room as a line."""
    import altair as alt_module
    import pandas as pd

    frame = pd.DataFrame(rows)
    frame["label"] = [f"{row['layer']} {row['mm']:.1f}" for row in rows]
    base = alt_module.Chart(frame)
    y = alt_module.Y("stack:N", title=None, sort=None, axis=alt_module.Axis(labelLimit=240, labelFontSize=12))
    bars = base.mark_bar(stroke="#15191b", strokeWidth=1, height={"band": 0.8}).encode(
        y=y,
        x=alt_module.X("start:Q", title="mm from the ridge up"),
        x2="end:Q",
        color=alt_module.Color(
            "layer:N", legend=None, scale=alt_module.Scale(range=_PALE)
        ),
        tooltip=["layer:N", alt_module.Tooltip("low:Q", format=".1f"), alt_module.Tooltip("high:Q", format=".1f")],
    )  # fmt: skip
    text = base.mark_text(color="#15191b", fontSize=11, limit=150).encode(y=y, x="middle:Q", text="label:N")
    drawn = bars + text
    if room is not None:
        rule = alt_module.Chart(pd.DataFrame({"room": [room], "label": [f"room {room:.1f} mm"]}))
        drawn += rule.mark_rule(strokeWidth=3, strokeDash=[6, 3], color=_INK).encode(x="room:Q")
        drawn += rule.mark_text(dy=-6, align="left", dx=4, baseline="bottom", fontSize=12, color=_INK).encode(
            x="room:Q", y=alt_module.value(0), text="label:N"
        )
    _draw(drawn.properties(height=alt_module.Step(44)), alt)


def bands(rows: Sequence[dict[str, Any]], title: str, alt: str, marks: Sequence[float] = ()) -> None:
    """One band from ``low`` to ``high`` in each row, named by ``name``; dashed marks where given."""
    import altair as alt_module
    import pandas as pd

    base = alt_module.Chart(pd.DataFrame(rows))
    y = alt_module.Y("name:N", title=None, sort=None, axis=alt_module.Axis(labelLimit=260, labelFontSize=12))
    bars = base.mark_bar(height={"band": 0.45}, color="#2e7d93").encode(
        y=y,
        x=alt_module.X("low:Q", title=title),
        x2="high:Q",
        tooltip=[
            "name:N",
            alt_module.Tooltip("low:Q", format=".2f"),
            alt_module.Tooltip("high:Q", format=".2f"),
        ],
    )
    text = base.mark_text(align="left", dx=5, fontSize=12).encode(
        y=y, x="high:Q", text="label:N", color=_ink()
    )
    drawn = bars + text
    if marks:
        rule = alt_module.Chart(pd.DataFrame({"at": list(marks)}))
        drawn += rule.mark_rule(strokeDash=[5, 4], strokeWidth=2, color=_INK).encode(x="at:Q")
    _draw(drawn.properties(height=alt_module.Step(30)), alt)


_INK = "#7d8489"
_PALE = ["#d9e4e7", "#e9dccb", "#dfe5d2", "#e6d8e5", "#e8e1c4"]


def _ink() -> Any:
    """The colour of writing in the current theme."""
    import altair as alt_module

    dark = getattr(st.context.theme, "type", None) == "dark"
    return alt_module.value("#e9e7e1" if dark else "#1c2529")


def _draw(chart: Any, alt: str) -> None:
    st.altair_chart(chart.configure_view(strokeWidth=0), width="stretch", alt=alt)
