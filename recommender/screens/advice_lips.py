"""A retained tooth from in front: its crown, the arm on it, and what the lip leaves in view."""

from typing import TYPE_CHECKING

import streamlit as st

from recommender.screens import answers, state, theme, words

if TYPE_CHECKING:
    from recommender.advice.model import OptionResult

_WIDE, _TALL, _EDGE = 74, 96, 12


def lip_picture(found: answers.Answer, tooth: int, option: "OptionResult") -> None:
    """Nothing is drawn for an option without an arm; the share is always told in words."""
    from recommender.domain.dentition import position
    from recommender.mechanics.display import shown_in_smile
    from recommender.mechanics.teeth import tooth_size

    made = found.working.engine.knowledge.catalogue.option("retainer", option.option)
    if made.arm is None:
        return
    case = found.working.case
    patient = case.patient
    surveyed = found.working.facts.surveyed.get(tooth)
    crown = (surveyed.crown_height_mm if surveyed else None) or tooth_size(tooth).crown_length_mm
    last = patient.last_tooth_in_smile if patient else None
    shown = shown_in_smile(
        case.arch, position(tooth), crown,
        patient.smile_line if patient else None,
        patient.lower_display if patient else None,
        position(last) if last is not None else None,
        patient.age if patient and isinstance(patient.age, int) else None,
    )  # fmt: skip
    share = option.facts.get("arm.visible_share")
    ends = share if isinstance(share, list) else [share, share]
    told = "how much of the arm shows is not known"
    if ends[0] is not None and ends[1] is not None:
        told = (
            f"{ends[0]:.0%} of the arm in view"
            if ends[0] == ends[1]
            else f"{ends[0]:.0%} to {ends[1]:.0%} of the arm in view"
        )
    name = f"{state.tooth(tooth)} {words.option('retainer', option.option)}"
    lip = f"a smile shows {min(shown.low, 1):.0%} to {min(shown.high, 1):.0%} of the crown"
    alt = f"{name}: {lip}; {told}."
    svg = _svg(
        case.arch,
        shown.low,
        shown.high,
        made.arm.surface,
        made.arm.level,
        made.arm.origin,
        made.arm.reach,
        alt,
    )
    st.html(
        f'<div style="display:flex;gap:.8rem;align-items:center">{svg}<p><b>{theme.escape(name)}</b><br>'
        f"{theme.escape(lip)}; {theme.escape(told)}.</p></div>"
    )


def _svg(
    arch: str,
    least: float,
    most: float,
    surface: str,
    level: tuple[float, float],
    origin: str,
    reach: float,
    alt: str,
) -> str:
    """Edge down in the upper arch and up in the lower; the part that may show is hatched between the two lip lines."""
    upper = arch == "maxilla"
    tall, wide = _TALL - 2 * _EDGE, _WIDE - 2 * _EDGE

    def at(from_edge: float) -> float:
        """Height in the picture of a share of the crown counted from its edge."""
        share = min(max(from_edge, 0.0), 1.15)
        return _EDGE + tall * ((1 - share) if upper else share)

    line_least, line_most = at(least), at(most)
    crown = (
        f'<rect x="{_EDGE}" y="{_EDGE}" width="{wide}" height="{tall}" rx="13" fill="none" '
        'stroke="currentColor" stroke-width="1.5"/>'
    )
    arm = ""
    if surface == "facial":
        if origin == "gingival":
            x = _EDGE + wide * 0.5
            arm = f'<path d="M{x:.1f} {at(1.12):.1f}L{x:.1f} {at(1 - level[1]):.1f}" '
        else:
            start, end = at(1 - level[0]), at(1 - level[1])
            length = wide * min(reach, 1.0)
            bend, turn, tip = (_EDGE + length * along for along in (0.4, 0.6, 1.0))
            arm = f'<path d="M{_EDGE} {start:.1f}C{bend:.1f} {start:.1f} {turn:.1f} {end:.1f} {tip:.1f} {end:.1f}" '
        arm += 'fill="none" stroke="currentColor" stroke-width="5" stroke-linecap="round"/>'
    lips = "".join(
        f'<path d="M2 {y:.1f}H{_WIDE - 2}" stroke="currentColor" stroke-width="1.6" stroke-dasharray="{dash}"/>'
        for y, dash in ((line_least, "5 3"), (line_most, "2 3"))
    )
    return (
        f'<svg role="img" aria-label="{theme.escape(alt)}" width="{_WIDE}" height="{_TALL}" '
        f'viewBox="0 0 {_WIDE} {_TALL}">{crown}{arm}{lips}</svg>'
    )
