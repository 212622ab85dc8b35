"""What a path gives and costs, and how a figure stands to the gauges, in words."""

from collections.abc import Callable, Sequence

import numpy as np

from recommender.survey.paths import AbutmentTerms, PathScore
from recommender.survey.result import Figure
from recommender.survey.settings import settings

Name = Callable[[int], str]


def path_name(path: PathScore) -> str:
    """A direction as a bench sets it: ``front down 2.5°, right down 5°``, or ``level``."""
    told = []
    for value, down, up in (
        (path.tilt_ap_deg, "front down", "front up"),
        (path.tilt_lateral_deg, "right down", "left down"),
    ):
        if value:
            told.append(f"{down if value > 0 else up} {abs(value):g}°")
    return ", ".join(told) or "level"


def path_words(path: PathScore, level: PathScore | None, name: Name = str) -> list[str]:
    """A line an abutment: what the path gives and what it costs, against the cast level where that is known."""
    before = {term.tooth: term for term in level.terms} if level is not None else {}
    return [f"{name(term.tooth)}: {_abutment(term, before.get(term.tooth))}" for term in path.terms]


def _abutment(term: AbutmentTerms, before: AbutmentTerms | None) -> str:
    told = []
    gauges: Sequence[float] = settings()["gauges_mm"]
    if not np.isfinite(term.facial_mm):
        told.append("no facial zone can be read")
    elif term.facial_mm < gauges[0]:
        told.append(f"too little facial undercut ({term.facial_mm:.2f} mm)")
    elif term.facial_mm <= gauges[1]:
        told.append(f"a facial undercut of {term.facial_mm:.2f} mm")
    else:
        told.append(f"a deep facial undercut ({term.facial_mm:.2f} mm), for wire or to be reduced")
    for side, depth in term.guiding_mm.items():
        if depth < settings()["path"]["guiding_plane_mm"] / 2:
            told.append(f"the {side} side nearly parallel")
        else:
            told.append(f"{depth:.2f} mm to block out or prepare on the {side} side")
    if np.isfinite(term.lingual_mm) and term.lingual_mm >= gauges[0]:
        told.append(f"lingual undercut {term.lingual_mm:.2f} mm in the way of a rigid part")
    if before is not None and np.isfinite(before.facial_mm) and np.isfinite(term.facial_mm):
        change = term.facial_mm - before.facial_mm
        if abs(change) >= 0.1:
            told.append(f"{abs(change):.2f} mm {'more' if change > 0 else 'less'} facial undercut than level")
    if (
        before is not None
        and np.isfinite(before.facial_mm)
        and before.facial_mm < gauges[0] <= term.facial_mm
    ):
        told.append("found only by tilting: it does not resist a straight pull")
    return "; ".join(told)


def figure_words(figure: Figure) -> str:
    """A figure with its band, or why there is none."""
    if figure.value is None:
        return f"not measured: {figure.why}"
    check = f" ({figure.check})" if figure.check else ""
    return f"{figure.value:.2f} ({figure.low:.2f} to {figure.high:.2f}){check}"


def gauge_words(figure: Figure) -> str:
    """How the band stands to the gauges: which surely touches, and which has to be tried by hand."""
    if figure.low is None or figure.high is None:
        return ""
    gauges: Sequence[float] = settings()["gauges_mm"]
    sure = [gauge for gauge in gauges if figure.low >= gauge]
    open_gauges = [gauge for gauge in gauges if figure.low < gauge <= figure.high]
    told = f"{sure[-1]:.2f} touches" if sure else f"less than {gauges[0]:.2f}"
    if open_gauges:
        tried = " and ".join(f"{gauge:.2f}" for gauge in open_gauges)
        return (f"{told}; " if sure else "") + f"try {tried} by hand"
    return told
