"""Figures of several teeth or spaces in one table, written back by tooth number and never by row number."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import Any

import streamlit as st

from recommender.domain.case import Case
from recommender.domain.labels import field_unit
from recommender.domain.measures import Interval
from recommender.screens.intake.fields import interval_at, plain_shape, read_measure, told_at, value_at, write
from recommender.screens.session import state
from recommender.screens.ui import words

_FLAGS = {"yes": True, "no": False}
# Heads so short that every column of a table stands in a window 1280 wide; the whole name comes with the pointer.
_HEADS = {
    "undercuts_mm": "", "undercuts_level_mm": "", "embrasure_clearance_mm": "over ridge",
    "rest_clearance_mm": "over seat", "crown_height_mm": "crown height",
    "clearance_mm": "clearance", "width_mm": "width", "ridge_loss": "ridge loss",
    "facial_depth_mm": "facial depth", "set_teeth": "set teeth", "months_since_extraction": "healing",
    "vestibule_depth_mm": "sulcus depth", "tissue_undercut": "overhang", "frenum_near": "frenum in the way",
}  # fmt: skip


def grid(case: Case, title: str, rows: Mapping[str, str], columns: Sequence[str], place: str) -> None:
    """``rows`` maps row names to the path of the entry (``abutments[14]``); ``columns`` are paths below it.

    The editor keeps edits by row position, so its base stays as it was given while its own edits are the only
    changes; whenever the case says otherwise (another tooth, undo, another widget) it is drawn anew.
    """
    names = list(rows)
    want = [[_cell(value_at(case, p), p) for p in (f"{path}.{c}" for c in columns)] for path in rows.values()]
    key_base = f"grid.{place}"
    held = st.session_state.get(key_base)
    if (
        held is None
        or held["names"] != names
        or held["columns"] != list(columns)
        or _with_edits(held) != want
    ):
        revision = (held["revision"] + 1) if held else 0
        held = {
            "place": place, "names": names, "columns": list(columns), "cells": want, "revision": revision,
            "paths": list(rows.values()),
        }  # fmt: skip
        st.session_state[key_base] = held
    import pandas as pd

    first = next(iter(rows.values()))
    frame = pd.DataFrame(
        held["cells"], columns=list(columns), index=pd.Index(names, name="tooth"), dtype=object
    )
    key = _editor_key(place, held["revision"])
    st.data_editor(
        frame,
        key=key,
        column_config={column: _column(f"{first}.{column}", column) for column in columns},
        on_change=_edited,
        args=(place,),
        num_rows="fixed",
        width="stretch",
        row_height=34,
        placeholder="–",
        alt=f"{title}: {', '.join(names)}",
    )
    told_at([f"{path}.{column}" for path in rows.values() for column in columns], place)


def _editor_key(place: str, revision: int) -> str:
    return f"grid.{place}.editor.{revision}"


_WHOLE = r"^\s*\d{0,4}\s*$"
_ONE = r"-?\d{1,4}([.,]\d{0,3})?"
# one number, or a number with its bounds in brackets
_DECIMAL = rf"^\s*({_ONE}(\s*\(\s*{_ONE}\s*(to|-|–)\s*{_ONE}\s*\))?|[.,]\d{{1,3}})?\s*$"


def _with_edits(held: dict[str, Any]) -> list[list[Any]]:
    cells = [list(row) for row in held["cells"]]
    for row, column, value in edits(st.session_state.get(_editor_key(held["place"], held["revision"]))):
        if column in held["columns"]:
            path = f"{held['paths'][row]}.{column}"
            with suppress(ValueError):
                # "0,25" and "0.25" are the same entry: the table is not drawn anew for it
                cells[row][held["columns"].index(column)] = _cell(_read(value, path), path)
    return cells


def edits(said: Any) -> list[tuple[int, str, Any]]:
    """What a data editor reports as edited: (row position, column, value)."""
    changed = (said or {}).get("edited_rows", {})
    return [(int(row), column, value) for row, cells in changed.items() for column, value in cells.items()]


def _edited(place: str) -> None:
    held = st.session_state[f"grid.{place}"]
    for row, column, value in edits(st.session_state[_editor_key(place, held["revision"])]):
        path = f"{held['paths'][row]}.{column}"
        case = state.case()
        if case is None:
            return
        try:
            meant = _read(value, path)
        except ValueError as error:
            state.refuse(path, f"Not taken over: {words.field(path)}: {error}")
            continue
        if _cell(value_at(case, path), path) != _cell(meant, path):
            write(path, meant)


def _read(value: Any, path: str) -> Any:
    """The field's value that a cell stands for. Figures are typed as text, so that a decimal comma is a comma."""
    shape = plain_shape(path)
    if shape is not None and shape.kind == "flag":
        return _FLAGS.get(value, value)
    if shape is None or shape.kind not in ("whole", "number") or not isinstance(value, str):
        return value
    if interval_at(path) is not None:
        return read_measure(value, path)
    text = value.strip().replace(",", ".")
    if not text:
        return None
    return int(text) if shape.kind == "whole" and "." not in text else float(text)


def _is_flag(path: str) -> bool:
    shape = plain_shape(path)
    return shape is not None and shape.kind == "flag"


def _cell(value: Any, path: str) -> Any:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)) and not _is_flag(path):
        return f"{value:g}"
    if isinstance(value, Interval):
        return str(value)
    return value if isinstance(value, str) else None


def _column(path: str, column: str) -> Any:
    """The column of a field: its label and unit, the words or the range that are allowed."""
    shape = plain_shape(path)
    label = column_label(path, column)
    assert shape is not None
    if shape.kind == "flag":
        return st.column_config.SelectboxColumn(label, options=list(_FLAGS))
    if shape.kind == "word":
        return st.column_config.SelectboxColumn(label, options=list(shape.words), format_func=words.plain)
    if shape.kind not in ("whole", "number"):
        return st.column_config.TextColumn(label)
    name = words.field(path).split(", ", 1)[-1]
    limits = (
        {}
        if shape.low is None or shape.high is None
        else {"low": f"{shape.low:g}", "high": f"{shape.high:g}"}
    )
    span = words.told("intake.column", field=name, **limits)
    # A number column drops a typed comma and turns 0,5 into 5; text keeps it, and "_read" understands it.
    return st.column_config.TextColumn(
        label, help=span, validate=_WHOLE if shape.kind == "whole" else _DECIMAL
    )


def column_label(path: str, column: str) -> str:
    """Short head of a column: the zone or site where there is one, else the field; with its unit."""
    above, _, site = column.rpartition(".")
    if above:
        label = ", ".join(part for part in (_HEADS.get(above, ""), words.plain(site)) if part)
    else:
        label = _HEADS.get(column) or words.field(path).rsplit(", ", 1)[-1]
    # what measures undercuts is said above their table
    unit = "" if above.startswith("undercuts") or column == "set_teeth" else field_unit(path)
    return f"{label} ({unit})" if unit else label
