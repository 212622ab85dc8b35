"""One field of the case as a widget, whatever its kind: the widget shows the case and writes back to it.

Left empty means not recorded. A list has "none of them" beside its words, because an empty list is a finding.
"""

import re
from collections.abc import Sequence
from typing import Any

import streamlit as st
from pydantic import ValidationError

from recommender.domain.case import Case
from recommender.domain.dentition import ARCH_ORDER
from recommender.domain.fields import get_field, split
from recommender.domain.labels import field_unit
from recommender.domain.measures import Interval
from recommender.domain.shape import Shape, declared, single
from recommender.screens.session import keys, state
from recommender.screens.session.visitor import store
from recommender.screens.ui import theme, words
from recommender.survey.settings import settings

_ASKED_BACK = "casebook.asked_back"
_NONE = "none of them"
_OLDEST = 90
_LEFT_OUT = "not recorded"


def gauges() -> tuple[float, ...]:
    """What an undercut is measured with: nothing, and the depths of the gauges in common use, in mm."""
    return (0.0, *settings()["gauges_mm"])


def plain_shape(path: str) -> Shape | None:
    """The shape of a single value at a path: of several forms the one that is no record and no mapping."""
    return single(declared(split(path)))


def step_of(path: str) -> float:
    """Step of a number: the gauges for undercuts, a tenth for other lengths, one for the rest."""
    if "undercuts" in path:
        return 0.25
    return 0.1 if field_unit(path) == "mm" else 1.0


def value_at(case: Case, path: str) -> Any:
    """The single value at a path; ``None`` where none is recorded, or one of another form (by site, by tooth)."""
    try:
        found = get_field(case, path)
    except ValueError:
        return None
    return found if isinstance(found, (bool, int, float, str, list, Interval)) else None


def field_input(case: Case, path: str, place: str) -> None:
    """Draw the widget of a field; ``place`` keeps its key apart from other widgets of the same field."""
    shape = plain_shape(path)
    if shape is None:
        return
    base = f"field.{place}.{path}"
    label = words.field(path)
    unit = field_unit(path)
    if unit:
        label = f"{label} ({unit})"
    now = value_at(case, path)
    if path == "patient.age":
        _age(now, label, base)
    elif shape.kind == "word":
        _pick(path, label, base, list(shape.words), now, words.plain)
    elif shape.kind == "flag":
        _pick(path, label, base, [True, False], now, words.value)
    elif shape.kind == "tooth":
        _pick(path, label, base, list(ARCH_ORDER[case.arch]), now, state.tooth)
    elif isinstance(now, Interval):
        _interval(path, label, base, now)
    elif shape.kind in ("number", "whole"):
        _number(path, label, base, shape, now)
    elif shape.kind == "list" and shape.item is not None:
        teeth = shape.item.kind == "tooth"
        options: list[Any] = list(ARCH_ORDER[case.arch]) if teeth else list(shape.item.words)
        _several(path, label, base, options, now, state.tooth if teeth else words.plain)
    told_at([path], place)


def _pick(path: str, label: str, base: str, options: list[Any], now: Any, shown: Any) -> None:
    chosen = now if now in options else None
    key = keys.view(base, chosen)
    st.selectbox(
        label,
        [None, *options],
        format_func=lambda o: _LEFT_OUT if o is None else shown(o),
        key=key,
        on_change=_write,
        args=(path, key),
        placeholder="not recorded",
        index=0 if chosen is None else options.index(chosen) + 1,
    )


def _number(path: str, label: str, base: str, shape: Shape, now: Any) -> None:
    whole = shape.kind == "whole"
    kind: Any = int if whole else float
    step: Any = step_of(path)
    shown = None if now is None else kind(now)
    key = keys.view(base, shown)
    st.number_input(
        label,
        min_value=None if shape.low is None else kind(shape.low),
        max_value=None if shape.high is None else kind(shape.high),
        value=shown,
        step=1 if whole else step,
        format=None if whole else ("%.2f" if step == 0.25 else "%.1f"),
        key=key,
        on_change=_write,
        args=(path, key),
        placeholder="not recorded",
    )


def interval_at(path: str) -> Shape | None:
    """The shape of an interval at a path; ``None`` where the format has none there."""
    shape = declared(split(path))
    return (
        next((choice for choice in shape.choices if choice.is_interval), None) if shape is not None else None
    )


_NUMBER = r"[-+]?\d{1,4}(?:[.,]\d{0,3})?"
INTERVAL = re.compile(rf"\s*({_NUMBER})\s*\(\s*({_NUMBER})\s*(?:to|-|–)\s*({_NUMBER})\s*\)\s*")


def read_measure(text: str, path: str) -> Any:
    """A number, or ``0.3 (0.2 to 0.4)`` as an interval, as the field holds it; empty is not recorded.

    ``ValueError`` for anything else.
    """
    found, shape = INTERVAL.fullmatch(text), interval_at(path)
    if found is not None and shape is not None and shape.model is not None:
        value, low, high = (float(part.replace(",", ".")) for part in found.groups())
        try:
            return shape.model.model_validate({"low": low, "value": value, "high": high})
        except ValidationError:
            raise ValueError(
                f"{text.strip()}: write the value and its bounds, as in 0.3 (0.2 to 0.4)"
            ) from None
    plain = text.strip().replace(",", ".")
    return float(plain) if plain else None


def _interval(path: str, label: str, base: str, now: Interval) -> None:
    """A measure that is known within bounds; one number in its place makes it exact."""
    key = keys.view(base, str(now))
    st.text_input(
        label, value=str(now), key=key, on_change=_write_measure, args=(path, key),
        help="Known within bounds. Write one number where it was measured again.",
    )  # fmt: skip


def _write_measure(path: str, key: str) -> None:
    if not keys.edited(key):
        return
    try:
        write(path, read_measure(str(st.session_state[key]), path))
    except ValueError as error:
        state.refuse(path, f"Not taken over: {error}")


def _age(now: Any, label: str, base: str) -> None:
    shown = _OLDEST if now == "90+" else now
    key = keys.view(base, shown)
    st.number_input(
        label,
        min_value=0,
        max_value=120,
        value=shown,
        step=1,
        key=key,
        on_change=_write_age,
        args=(key,),
        placeholder="not recorded",
        help="From 90 on it is kept as 90+, so that nobody can be told by it.",
    )


def _several(path: str, label: str, base: str, options: list[Any], now: Any, shown: Any) -> None:
    chosen = [_NONE] if now == [] else list(now or [])
    key = keys.view(base, chosen)
    st.multiselect(
        label,
        [_NONE, *options],
        default=chosen,
        format_func=lambda o: _NONE if o == _NONE else shown(o),
        key=key,
        on_change=_write_several,
        args=(path, key),
        placeholder="not recorded",
    )


def _write(path: str, key: str) -> None:
    if not keys.edited(key):
        return
    value = st.session_state[key]
    if isinstance(value, float):
        value = round(value, 3)
    write(path, value)


def _write_age(key: str) -> None:
    if not keys.edited(key):
        return
    value = st.session_state[key]
    state.change_field("patient.age", "90+" if value is not None and value >= _OLDEST else value)


def _write_several(path: str, key: str) -> None:
    if not keys.edited(key):
        return
    chosen = list(st.session_state[key])
    if not chosen:
        write(path, None)
        return
    # "None of them" and a word exclude each other: the one chosen last stays.
    write(path, [] if chosen[-1] == _NONE else [word for word in chosen if word != _NONE])


def write(path: str, value: Any, *, sure: bool = False) -> bool:
    """Set a field of the case in hand. A single value that stands for all sites or teeth is spread over them first
    when one of them is set by itself. An undercut that is no gauge's is asked back, unless the person is ``sure``."""
    held = state.case()
    if held is None:
        return False
    kept = store()
    kept.pop(_ASKED_BACK, None)
    if not sure and "undercuts" in path and isinstance(value, float) and value not in gauges():
        kept[_ASKED_BACK] = (path, value)
        return False
    try:
        changed = spread(held, path)
        from recommender.domain.fields import with_field

        return state.change(with_field(changed, path, value), at=path)
    except ValueError as error:
        state.refuse(path, f"Not taken over: {error}")
        return False


def told_at(paths: Sequence[str], place: str) -> None:
    """Below the field or table of these paths: why an entry was not taken over, or whether it is meant."""
    for path in paths:
        text = state.refused(path)
        if text:
            theme.refusal(text)
    asked = store().get(_ASKED_BACK)
    if asked is None or asked[0] not in paths:
        return
    path, value = asked
    nearest = min(gauges(), key=lambda gauge: abs(gauge - value))
    known = ", ".join(f"{gauge:.2f}" for gauge in gauges()[1:])
    theme.refusal(words.told("screen.no_gauge", field=words.field(path), value=f"{value:g}", gauges=known))
    with st.container(horizontal=True):
        for name, meant in (("keep", value), ("gauge", nearest)):
            st.button(
                words.told("screen.keep_mm", value=f"{value:g}")
                if name == "keep"
                else words.told("screen.mm_meant", value=f"{nearest:.2f}"),
                key=f"field.{place}.asked_back.{name}", on_click=_meant, args=(path, meant),
            )  # fmt: skip


def _meant(path: str, value: float) -> None:
    write(path, value, sure=True)


def spread(case: Case, path: str) -> Case:
    """The case with the value above ``path`` spread over its sites or teeth, where it is a single value."""
    from recommender.domain.fields import with_field
    from recommender.domain.findings import ContourZones, RestRoom
    from recommender.domain.kennedy import spaces

    steps = split(path)
    above, last = path[: path.rindex(str(steps[-1]))].rstrip(".["), steps[-1]
    if len(steps) < 2:
        return case
    single = value_at(case, above)
    if single is None or isinstance(single, list):
        return case
    if isinstance(last, int):
        space = next((space for space in spaces(case) if last in space.teeth), None)
        teeth = space.teeth if space is not None else (last,)
        return with_field(case, above, dict.fromkeys(teeth, single))
    for model in (RestRoom, ContourZones):
        names = model.model_fields
        named = "rest_clearance" in above if model is RestRoom else "contour" in above
        if named and last in names:
            return with_field(case, above, model(**dict.fromkeys(names, single)))
    return case
