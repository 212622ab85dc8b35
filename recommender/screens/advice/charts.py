"""Pictures of numbers, each with the same in a table beside it: bars that add up, layers of room, bands.

Meaning is carried by position, sign and words; colour only repeats it. The pictures are written as plain Vega-Lite:
they are drawn anew with every change on the page, and building them from Altair's objects, which check themselves at
every step, takes as long as working out the advice.
"""

from collections.abc import Sequence
from typing import Any

import streamlit as st

from recommender.domain.statement import quantity
from recommender.screens.ui import theme, words

_SHORT = 46
_ADDS, _TAKES, _SUM = "#2e7d93", "#b0622c", "#6b7176"
_PALE = ["#d9e4e7", "#e9dccb", "#dfe5d2", "#e6d8e5", "#e8e1c4"]
_DARK_INK = "#15191b"

Spec = dict[str, Any]


def short(text: str, most: int = _SHORT) -> str:
    """A text for an axis: cut at a word, with an ellipsis."""
    if len(text) <= most:
        return text
    return text[: most - 1].rsplit(" ", 1)[0] + "…"


def adding_up(lines: Sequence[tuple[str, float]], total_name: str, alt: str) -> None:
    """Bars that each begin where the one before ended, and the total, which they reach.

    Where the first bar is long, the axis begins short of its end, and says so, so that the others can be read.
    """
    rows = running(lines, total_name)
    start, end = _window([row["to"] for row in rows])
    for row in rows:
        row["end"] = max(row["from"], row["to"], start)
    scale = {"domain": [start, end + ((end - start) * 0.16 or 1.0)], "nice": False}
    bars = {
        "mark": {"type": "bar", "height": {"band": 0.72}, "clip": True},
        "encoding": {
            "x": {"field": "from", "type": "quantitative", "scale": scale, "title": None, "axis": _FIGURES},
            "x2": {"field": "to"},
            "color": {
                "field": "kind", "type": "nominal", "legend": None,
                "scale": {"domain": ["adds", "takes away", "total"], "range": [_ADDS, _TAKES, _SUM]},
            },
            "tooltip": [_tip("text", "line"), _tip("points", "points", "+.2f")],
        },
    }  # fmt: skip
    title = words.told("screen.axis_begins", start=quantity(start, "", 0)) if start > 0 else "points"
    _draw(rows, {"y": _rows("line", 270)}, [bars, _labels("end", 4)], {"step": 21}, title, alt)


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
    data = [{**row, "label": f"{row['layer']} {row['mm']:.1f}"} for row in rows]
    scale = {"domain": [0, max([*(row["end"] for row in rows), room or 0.0]) * 1.08], "nice": False}
    names = {"labelAngle": 0, "labelFontSize": 12, "ticks": False, "labelColor": theme.ink()}
    x = {"field": "stack", "type": "nominal", "title": None, "sort": None, "axis": names}
    bars = {
        "mark": {"type": "bar", "stroke": _DARK_INK, "strokeWidth": 1, "width": {"band": 0.9}},
        "encoding": {
            "x": x,
            "y": {"field": "start", "type": "quantitative", "scale": scale, "title": None, "axis": _FIGURES},
            "y2": {"field": "end"},
            "color": {"field": "layer", "type": "nominal", "legend": None, "scale": {"range": _PALE}},
            "tooltip": [_tip("layer"), _tip("low", "low", ".1f"), _tip("high", "high", ".1f")],
        },
    }
    text = {
        "mark": {"type": "text", "color": _DARK_INK, "fontSize": 12},
        "encoding": {"x": x, "y": {"field": "middle", "type": "quantitative"}, "text": {"field": "label"}},
    }
    drawn: list[Spec] = [bars, text]
    if room is not None:
        line = {"values": [{"room": room, "label": words.told("screen.room", room=quantity(room, "mm"))}]}
        y = {"field": "room", "type": "quantitative"}
        ink = {"value": theme.ink()}
        drawn.append(
            {
                "data": line,
                "mark": {"type": "rule", "strokeWidth": 3, "strokeDash": [7, 4]},
                "encoding": {"y": y, "color": ink},
            }
        )
        drawn.append(
            {
                "data": line,
                "mark": {
                    "type": "text", "align": "left", "baseline": "bottom", "dy": -4, "dx": 4, "fontSize": 12,
                    "fontWeight": "bold",
                },
                "encoding": {"x": {"value": 0}, "y": y, "text": {"field": "label"}, "color": ink},
            }
        )  # fmt: skip
    _draw(data, {}, drawn, 330, "mm from the ridge up", alt)


def bands(rows: Sequence[dict[str, Any]], title: str, alt: str) -> None:
    """One band from ``low`` to ``high`` in each row, named by ``name``, with its ``label``."""
    most = max((float(row["high"]) for row in rows), default=1.0)
    scale = {"domain": [0, most * 1.45], "nice": False}
    bars = {
        "mark": {"type": "bar", "height": {"band": 0.45}, "color": _ADDS},
        "encoding": {
            "x": {"field": "low", "type": "quantitative", "title": None, "scale": scale, "axis": _FIGURES},
            "x2": {"field": "high"},
            "tooltip": [_tip("name"), _tip("low", "low", ".2f"), _tip("high", "high", ".2f")],
        },
    }
    _draw(list(rows), {"y": _rows("name", 230)}, [bars, _labels("high", 5)], {"step": 30}, title, alt)


_FIGURES: Spec = {"labelFontSize": 12}


def _labels(at: str, away: int) -> Spec:
    """The ``label`` of each row, to the right of a place on the axis, so many pixels away."""
    return {
        "mark": {"type": "text", "align": "left", "dx": away, "fontSize": 12},
        "encoding": {
            "x": {"field": at, "type": "quantitative"},
            "text": {"field": "label"},
            "color": {"value": theme.ink()},
        },
    }


def _rows(field: str, width: int) -> Spec:
    """The axis that names the rows, in the order in which they are given."""
    axis = {"labelLimit": width, "labelFontSize": 12, "ticks": False, "labelColor": theme.ink()}
    return {"field": field, "type": "nominal", "sort": None, "title": None, "axis": axis}


def _tip(field: str, title: str | None = None, figures: str | None = None) -> Spec:
    kind = {"type": "nominal"} if figures is None else {"type": "quantitative", "format": figures}
    return {"field": field, "title": title or field, **kind}


def _draw(
    rows: list[dict[str, Any]], encoding: Spec, drawn: list[Spec], height: Any, title: str, alt: str
) -> None:
    """``title`` says what is measured, above the picture on the left, where nothing cuts it off."""
    spec = {
        "data": {"values": rows},
        "encoding": encoding,
        "layer": drawn,
        "height": height,
        "config": {"view": {"strokeWidth": 0}},
        "title": {
            "text": title, "anchor": "start", "fontSize": 12, "fontWeight": "normal", "color": theme.ink(), "dy": -2,
        },
    }  # fmt: skip
    st.vega_lite_chart(spec=spec, width="stretch", alt=alt)
