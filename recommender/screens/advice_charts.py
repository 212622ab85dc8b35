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
    """Bars that each begin where the one before ended, and the total, which they reach.

    Where the first bar is long, the axis begins short of its end, and says so, so that the others can be read.
    """
    import altair as alt_module
    import pandas as pd

    frame = pd.DataFrame(running(lines, total_name))
    start, end = _window(frame["to"].tolist())
    frame["end"] = frame[["from", "to"]].max(axis=1).clip(lower=start)
    base = alt_module.Chart(frame)
    y = alt_module.Y("line:N", sort=None, title=None, axis=_names(270))
    scale = alt_module.Scale(domain=[start, end + ((end - start) * 0.16 or 1.0)], nice=False)
    title = f"points of 100 (the axis begins at {start:.0f})" if start > 0 else "points"
    bars = base.mark_bar(height={"band": 0.72}, clip=True).encode(
        y=y,
        x=alt_module.X("from:Q", scale=scale, title=None, axis=alt_module.Axis(labelFontSize=12)),
        x2="to:Q",
        color=alt_module.Color(
            "kind:N",
            legend=None,
            scale=alt_module.Scale(
                domain=["adds", "takes away", "total"], range=["#2e7d93", "#b0622c", "#6b7176"]
            ),
        ),
        tooltip=[alt_module.Tooltip("text:N", title="line"), alt_module.Tooltip("points:Q", format="+.2f")],
    )
    text = base.mark_text(align="left", dx=4, fontSize=12).encode(
        y=y, x="end:Q", text="label:N", color=_ink()
    )
    _draw((bars + text).properties(height=alt_module.Step(21), title=_title(title)), alt)


def running(lines: Sequence[tuple[str, float]], total_name: str) -> list[dict[str, Any]]:
    """The rows of the picture: each from where the one before ended to where it ends; the total from nothing.

    Each row is numbered, so that lines that read alike once they are cut short stay apart.
    """
    rows: list[dict[str, Any]] = []
    place = 0.0
    for index, (name, points) in enumerate(lines):
        rows.append(
            {
                "line": f"{index + 1}. {short(name)}", "text": name, "from": place, "to": place + points,
                "points": points, "label": f"{points:+.1f}", "kind": "adds" if points >= 0 else "takes away",
            }
        )  # fmt: skip
        place += points
    total = {"line": total_name, "text": total_name, "from": 0.0, "to": place, "points": place}
    return [*rows, {**total, "label": f"{place:.1f}", "kind": "total"}]


def _window(ends: Sequence[float]) -> tuple[float, float]:
    """From where to where the axis runs: from nothing, or from a round figure short of the least end."""
    low = min(ends, default=0.0)
    start = max(0.0, 5.0 * ((low - 4.0) // 5.0)) if low > 15.0 else min(0.0, low)
    return start, max([*ends, 0.0])


def layers(rows: Sequence[dict[str, Any]], room: float | None, alt: str) -> None:
    """Stacks of layers from the ridge up (``stack``, ``layer``, ``mm``, ``start``, ``end``), the room as a line."""
    import altair as alt_module
    import pandas as pd

    frame = pd.DataFrame(rows)
    frame["label"] = [f"{row['layer']} {row['mm']:.1f}" for row in rows]
    top = max([*frame["end"], room or 0.0]) * 1.08
    base = alt_module.Chart(frame)
    axis = alt_module.Axis(labelAngle=0, labelFontSize=12, ticks=False, labelColor=_colour())
    x = alt_module.X("stack:N", title=None, sort=None, axis=axis)
    scale = alt_module.Scale(domain=[0, top], nice=False)
    bars = base.mark_bar(stroke="#15191b", strokeWidth=1, width={"band": 0.9}).encode(
        x=x,
        y=alt_module.Y("start:Q", scale=scale, title=None, axis=alt_module.Axis(labelFontSize=12)),
        y2="end:Q",
        color=alt_module.Color("layer:N", legend=None, scale=alt_module.Scale(range=_PALE)),
        tooltip=[
            "layer:N",
            alt_module.Tooltip("low:Q", format=".1f"),
            alt_module.Tooltip("high:Q", format=".1f"),
        ],
    )
    text = base.mark_text(color="#15191b", fontSize=12).encode(x=x, y="middle:Q", text="label:N")
    drawn = bars + text
    if room is not None:
        line = alt_module.Chart(pd.DataFrame({"room": [room], "label": [f"room {room:.1f} mm"]}))
        drawn += line.mark_rule(strokeWidth=3, strokeDash=[7, 4]).encode(y="room:Q", color=_ink())
        drawn += line.mark_text(
            align="left", baseline="bottom", dy=-4, dx=4, fontSize=12, fontWeight="bold"
        ).encode(x=alt_module.value(0), y="room:Q", text="label:N", color=_ink())
    _draw(drawn.properties(height=330, title=_title("mm from the ridge up")), alt)


def bands(rows: Sequence[dict[str, Any]], title: str, alt: str, marks: Sequence[float] = ()) -> None:
    """One band from ``low`` to ``high`` in each row, named by ``name``; dashed marks where given."""
    import altair as alt_module
    import pandas as pd

    base = alt_module.Chart(pd.DataFrame(rows))
    y = alt_module.Y("name:N", title=None, sort=None, axis=_names(230))
    most = max((float(row["high"]) for row in rows), default=1.0)
    bars = base.mark_bar(height={"band": 0.45}, color="#2e7d93").encode(
        y=y,
        x=alt_module.X("low:Q", title=None, scale=alt_module.Scale(domain=[0, most * 1.45], nice=False)),
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
    _draw(drawn.properties(height=alt_module.Step(30), title=_title(title)), alt)


_INK = "#7d8489"
_PALE = ["#d9e4e7", "#e9dccb", "#dfe5d2", "#e6d8e5", "#e8e1c4"]


def _ink() -> Any:
    """The colour of writing in the current theme."""
    import altair as alt_module

    return alt_module.value(_colour())


def _colour() -> str:
    return "#e9e7e1" if getattr(st.context.theme, "type", None) == "dark" else "#1c2529"


def _names(width: int) -> Any:
    """The axis that names the rows."""
    import altair as alt_module

    return alt_module.Axis(labelLimit=width, labelFontSize=12, ticks=False, labelColor=_colour())


def _title(text: str) -> Any:
    """What is measured, above the picture on the left, where nothing cuts it off."""
    import altair as alt_module

    return alt_module.TitleParams(
        text, anchor="start", fontSize=12, fontWeight="normal", color=_colour(), dy=-2
    )


def _draw(chart: Any, alt: str) -> None:
    st.altair_chart(chart.configure_view(strokeWidth=0), width="stretch", alt=alt)
