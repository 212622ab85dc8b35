"""A retained tooth from in front: its crown, the arm on it, and what the lip leaves in view."""

import base64
from typing import TYPE_CHECKING

import streamlit as st

from recommender.domain.statement import Quantity
from recommender.screens.session import current_advice, state
from recommender.screens.ui import theme, words

if TYPE_CHECKING:
    from recommender.advice.model import OptionResult
    from recommender.domain.options import Arm
    from recommender.mechanics.bands import Band

_WIDE, _TALL, _EDGE = 84, 104, 14


def lip_picture(found: current_advice.Answer, tooth: int, option: "OptionResult") -> None:
    """Nothing is drawn for an option without an arm; the share is always told in words as well."""
    made = found.analysis.engine.knowledge.catalogue.option("retainer", option.option)
    if made.arm is None:
        return
    shown = _shown(found, tooth)
    name = f"{state.tooth(tooth)} {words.option('retainer', option.option)}"
    until = _until(found)
    open_ = shown.low <= 0.0 and shown.high >= 1.0
    lip = (
        words.told("screen.smile_not_known", until=until)
        if open_
        else words.told("screen.smile_shows", share=_share(shown.low, shown.high))
    )
    told = _told(option.facts.get("arm.visible_share"), until)
    data = base64.b64encode(_svg(found.analysis.case.arch, shown, made.arm).encode()).decode()
    st.html(
        f'<div class="casebook-lip"><img alt="{theme.escape(f"{name}: {lip}; {told}.")}" '
        f'src="data:image/svg+xml;base64,{data}">'
        f"<p><b>{theme.escape(name)}</b><br>{theme.escape(lip)}; {theme.escape(told)}.</p></div>"
    )


def _shown(found: current_advice.Answer, tooth: int) -> "Band":
    """Share of the crown that a smile leaves in view, from what the case records of the lips."""
    from recommender.domain.dentition import position
    from recommender.domain.measures import expected
    from recommender.mechanics.display import shown_in_smile
    from recommender.mechanics.teeth import tooth_size

    case = found.analysis.case
    patient = case.patient
    surveyed = found.analysis.facts.surveyed.get(tooth)
    crown = expected((surveyed.crown_height_mm if surveyed else None) or tooth_size(tooth).crown_length_mm)
    if patient is None:
        return shown_in_smile(case.arch, position(tooth), crown)
    last = None if patient.last_tooth_in_smile is None else position(patient.last_tooth_in_smile)
    age = patient.age if isinstance(patient.age, int) else None
    return shown_in_smile(
        case.arch, position(tooth), crown, patient.smile_line, patient.lower_display, last, age
    )


def _share(low: float, high: float) -> Quantity:
    low, high = min(max(low, 0.0), 1.0), min(max(high, 0.0), 1.0)
    return Quantity(low, high, "share")


def _until(found: current_advice.Answer) -> str:
    """What would tell how much a smile shows."""
    upper = found.analysis.case.arch == "maxilla"
    return words.field("patient.smile_line" if upper else "patient.lower_display").casefold()


def _told(share: object, until: str) -> str:
    ends = share if isinstance(share, list) else [share, share]
    known = [float(end) for end in ends if isinstance(end, (int, float))]
    if len(known) < 2:
        return words.told("screen.arm_not_known")
    if known[0] <= 0.0 and known[1] >= 1.0:
        return words.told("screen.arm_not_known", until=until)
    return words.told("screen.arm_shows", share=_share(known[0], known[1]))


def _svg(arch: str, shown: "Band", arm: "Arm") -> str:
    """Edge down in the upper arch, up in the lower; the lip is shaded, palely where it may or may not cover."""
    upper = arch == "maxilla"
    tall, wide = _TALL - 2 * _EDGE, _WIDE - 2 * _EDGE

    def at(from_edge: float) -> float:
        share = min(max(from_edge, 0.0), 1.12)
        return _EDGE + tall * ((1 - share) if upper else share)

    gum = 2.0 if upper else _TALL - 2.0

    def lip(share: float, depth: str) -> str:
        top, bottom = sorted((at(share), gum))
        return (
            f'<rect x="2" y="{top:.1f}" width="{_WIDE - 4}" height="{bottom - top:.1f}" fill="#b98b80" '
            f'fill-opacity="{depth}"/><path d="M2 {at(share):.1f}H{_WIDE - 2}" stroke="#5b3a33" '
            'stroke-width="1.2" stroke-dasharray="4 2"/>'
        )

    crown = (
        f'<rect x="{_EDGE}" y="{_EDGE}" width="{wide}" height="{tall}" rx="14" fill="#fbf8ef" '
        'stroke="#1c2529" stroke-width="1.6"/>'
    )
    metal = 'fill="none" stroke="#1c2529" stroke-width="5.5" stroke-linecap="round"/>'
    drawn = ""
    if arm.surface == "facial" and arm.origin == "gingival":
        middle = _EDGE + wide * 0.5
        drawn = f'<path d="M{middle:.1f} {at(1.12):.1f}V{at(1 - arm.level[1]):.1f}" {metal}'
    elif arm.surface == "facial":
        start, end = at(1 - arm.level[0]), at(1 - arm.level[1])
        bend, turn, tip = (_EDGE + wide * min(arm.reach, 1.0) * along for along in (0.4, 0.6, 1.0))
        curve = f"M{_EDGE} {start:.1f}C{bend:.1f} {start:.1f} {turn:.1f} {end:.1f} {tip:.1f} {end:.1f}"
        drawn = f'<path d="{curve}" {metal}'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_WIDE}" height="{_TALL}" viewBox="0 0 {_WIDE} {_TALL}">'
        f'<rect width="{_WIDE}" height="{_TALL}" fill="#fff"/>{crown}{drawn}'
        f"{lip(shown.low, '.35')}{lip(shown.high, '.45')}</svg>"
    )
