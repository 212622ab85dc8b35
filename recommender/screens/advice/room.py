"""What can be measured of the framework: room over the ridge, force of the arms, how much shows."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.statement import Quantity, Said, quantity, say, several
from recommender.domain.statement import tooth as one_tooth
from recommender.screens.advice.charts import bands, layers
from recommender.screens.session import current_advice, state
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.advice.model import Decision, Framework, OptionResult


def room_section(found: current_advice.Answer, framework: "Framework") -> None:
    """Three pictures, each with its figures in words."""
    st.subheader("Room, hold and show", anchor=False)
    with st.container(key="casebook_wrap_room"):
        left, right = st.columns(2, gap="large")
    with left:
        _space(found, framework)
    with right:
        _force(found, framework)
        _shows(found, framework)


def _space(found: current_advice.Answer, framework: "Framework") -> None:
    from recommender.mechanics.space import layers_of

    st.markdown("**Room over the ridge**")
    teeth = list(framework.replacements)
    if not teeth:
        return
    if st.session_state.get("advice.room_tooth") not in teeth:
        st.session_state["advice.room_tooth"] = min(teeth, key=lambda tooth: _left(found, framework, tooth))
    tooth = st.selectbox("At", teeth, format_func=state.tooth, key="advice.room_tooth")
    part = framework.replacements[tooth]
    stack = layers_of(part)
    if not stack:
        st.write(words.told("screen.no_layers", option=words.option("replacement", part)))
        return
    # where the room is known within bounds, the least of it is what can be counted on
    room = found.analysis.facts.space(tooth).fact("span.clearance_mm").low
    rows = []
    for name in ("low", "typical", "high"):
        place = 0.0
        head = {"low": "at the thinnest", "typical": "as usual", "high": "at the thickest"}[name]
        for layer in stack:
            mm = float(getattr(layer.thickness_mm, name))
            rows.append(
                {
                    "stack": head, "layer": words.plain(layer.name), "mm": mm, "start": place, "end": place + mm,
                    "middle": place + mm / 2, "low": layer.thickness_mm.low, "high": layer.thickness_mm.high,
                }
            )  # fmt: skip
            place += mm
    told = several(
        say(
            "screen.layer",
            name=Said(words.plain(layer.name)),
            thickness=Quantity(layer.thickness_mm.low, layer.thickness_mm.high, "mm"),
        )
        for layer in stack
    )
    layers(rows, room, words.told("screen.layers", tooth=one_tooth(tooth), layers=told))
    option = found.analysis.decide(_decision("replacement", tooth)).option(part)
    left = _band(option.facts.get("space.left_mm"))
    fails = option.facts.get("space.fails_at")
    if room is None:
        st.write(words.told("screen.no_clearance"))
    elif left is not None:
        st.write(
            words.told(
                "screen.room_left",
                room=quantity(room, "mm"),
                low=quantity(left[0]),
                high=quantity(left[1], "mm"),
                fails=None if fails in (None, "none") else words.plain(fails),
            )
        )
    rows_of: list[list[object]] = [
        [
            words.plain(x.name),
            f"{x.thickness_mm.low:.1f}",
            f"{x.thickness_mm.typical:.1f}",
            f"{x.thickness_mm.high:.1f}",
        ]
        for x in stack
    ]
    theme.table(
        ["layer, from the ridge up", "thinnest", "usual", "thickest (mm)"], rows_of, numbers=(1, 2, 3)
    )


def _left(found: current_advice.Answer, framework: "Framework", tooth: int) -> float:
    """The least room that is left over at a tooth; where it is not known, more than anywhere."""
    option = found.analysis.decide(_decision("replacement", tooth)).option(framework.replacements[tooth])
    band = _band(option.facts.get("space.left_mm"))
    return float("inf") if band is None else band[0]


def _decision(kind: str, tooth: int) -> "Decision":
    from recommender.advice.model import Decision

    return Decision(kind, tooth)


def _band(value: object) -> tuple[float, float] | None:
    if isinstance(value, (int, float)):
        return float(value), float(value)
    if isinstance(value, list) and None not in value:
        return float(value[0]), float(value[1])
    return None


def _retained(found: current_advice.Answer, framework: "Framework") -> "list[tuple[int, OptionResult]]":
    return [
        (tooth, found.analysis.decide(_decision("retainer", tooth)).option(part))
        for tooth, part in framework.retainers.items()
    ]


def _force(found: current_advice.Answer, framework: "Framework") -> None:
    st.markdown("**Hold: pull needed to lift each arm over the bulge**")
    rows, unknown = [], []
    for tooth, option in _retained(found, framework):
        band = _band(option.facts.get("arm.force_n"))
        engaged = option.facts.get("arm.engaged_mm")
        if band is None or not isinstance(engaged, (int, float)):
            # a band over every depth that a tip could lie in tells one arm from no other
            if option.option not in ("none", "rest_only"):
                unknown.append(state.tooth(tooth))
            continue
        rows.append(
            {
                "name": f"{state.tooth(tooth)} {words.option('retainer', option.option)}",
                "low": band[0],
                "high": band[1],
                "label": words.told(
                    "screen.force", low=quantity(band[0]), high=quantity(band[1], "N"), deep=f"{engaged:g}"
                ),
            }
        )
    if rows:
        told = "; ".join(f"{row['name']}: {row['label']}" for row in rows)
        bands(
            rows,
            "newtons, from published measurements; a band, no promise",
            words.told("screen.force_bands", told=told),
        )
        theme.table(["arm", "band"], [[row["name"], row["label"]] for row in rows])
    if unknown:
        st.write(words.told("screen.force_not_known", teeth=", ".join(unknown)))


def _shows(found: current_advice.Answer, framework: "Framework") -> None:
    from recommender.screens.advice.lips import lip_picture

    st.markdown("**Show: what a smile leaves in view**")
    for tooth, option in _retained(found, framework):
        lip_picture(found, tooth, option)
    if framework.metal_on_show is not None:
        st.write(words.told("screen.metal_in_view", arms=quantity(framework.metal_on_show)))
