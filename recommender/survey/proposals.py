"""From cuts along the arch line to proposed tooth frames."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy import ndimage

from recommender.domain.dentition import is_anterior, quadrant
from recommender.survey.arrays import Floats, unit
from recommender.survey.dimensions import crown_size
from recommender.survey.frames import Line, ToothFrame
from recommender.survey.lines import STEP_MM
from recommender.survey.settings import settings
from recommender.survey.splitting import GAP, SEAM, TOOTH, Split

_MOST_TURN_DEG = {True: 25.0, False: 15.0}  # front teeth are turned more by crowding than back teeth by drift


def frames_of(split: Split, arch: str) -> list[ToothFrame]:
    """A frame for every tooth of a split, with its contact lines, from the viewer's left to right."""
    proposals: list[tuple[ToothFrame, tuple[Floats, Floats], tuple[bool, bool]]] = []
    for index, item in enumerate(split.items):
        if item.kind == TOOTH:
            free = (_opens(split, index - 1, -1), _opens(split, index + 1, 1))
            frame, ends = _frame(split, index, item.teeth[0], arch, free)
            proposals.append((frame, ends, free))
    joined = []
    for index, (frame, ends, free) in enumerate(proposals):
        lines: list[Line | None] = [None, None]
        for end, other in ((0, index - 1), (1, index + 1)):
            if not free[end] and 0 <= other < len(proposals):
                neighbour, their_ends, _ = proposals[other]
                lines[end] = ((ends[end] + their_ends[1 - end]) / 2, unit(frame.facial + neighbour.facial))
        left = _on_left(frame.tooth, arch)
        joined.append(replace(frame, lines=(lines[1], lines[0]) if left else (lines[0], lines[1])))
    return joined


def _on_left(tooth: int, arch: str) -> bool:
    """Whether a tooth stands on the viewer's left, where mesial points along the line."""
    return quadrant(tooth) == (1 if arch == "maxilla" else 3)


def _opens(split: Split, index: int, step: int) -> bool:
    """Whether a tooth has no neighbour in contact at the item beside it."""
    closed = settings()["teeth"]["contact_mm"]
    while 0 <= index < len(split.items) and split.items[index].kind in (SEAM, GAP):
        if (split.cuts[index + 1] - split.cuts[index]) * STEP_MM >= closed:
            return True
        index += step
    return not 0 <= index < len(split.items)


def _frame(
    split: Split, index: int, tooth: int, arch: str, free: tuple[bool, bool]
) -> tuple[ToothFrame, tuple[Floats, Floats]]:
    signals, start, end = split.signals, split.cuts[index], split.cuts[index + 1]
    size = crown_size(tooth)
    patch = signals.heights[start : end + 1]
    top = (
        float(np.nanpercentile(patch, 98)) if np.isfinite(patch).any() else float(np.nanmax(signals.heights))
    )
    # at a free end the contact lies within the tooth; at a neighbour it lies on the cut
    places = [
        _contact_place(split, cut, 8 * sign if open_end else 0)
        for cut, sign, open_end in ((start, 1, free[0]), (end, -1, free[1]))
    ]
    ends = (
        signals.line[start] + signals.straight.normals[start] * places[0],
        signals.line[end] + signals.straight.normals[end] * places[1],
    )
    middle = (start + end) // 2
    most = _MOST_TURN_DEG[is_anterior(tooth)]
    tangent = _within(unit(ends[1] - ends[0]), signals.straight.tangents[middle], most)
    normal = np.array([-tangent[1], tangent[0]])
    inner, outer = _across(split, start, end, top - min(0.60 * size.length, 5.2), size.faciolingual)
    centre = signals.line[middle] + signals.straight.normals[middle] * (inner + outer) / 2
    first, last = (ends[0] - centre) @ tangent, (ends[1] - centre) @ tangent
    centre = centre + tangent * (first + last) / 2
    mesial = tangent if _on_left(tooth, arch) else -tangent
    half = (float(last - first) / 2, max((outer - inner) / 2, 1.8))
    return ToothFrame(tooth, np.append(centre, top - size.length), mesial, normal, half), ends


def _within(tangent: Floats, along: Floats, most_deg: float) -> Floats:
    """The tangent, turned no more than ``most_deg`` off the line of the arch."""
    angle = np.degrees(np.arctan2(along[0] * tangent[1] - along[1] * tangent[0], along @ tangent))
    if abs(angle) <= most_deg:
        return tangent
    turn = np.radians(np.sign(angle) * most_deg)
    return np.array([
        np.cos(turn) * along[0] - np.sin(turn) * along[1], np.sin(turn) * along[0] + np.cos(turn) * along[1],
    ])  # fmt: skip


def _contact_place(split: Split, cut: int, inward: int) -> float:
    """Where across the arch a contact lies: the middle of the hump of the heights along the cut."""
    signals = split.signals
    across = signals.straight.across
    along = np.round(cut + inward + signals.shear[cut] * across / STEP_MM).astype(int)
    heights = signals.heights[np.clip(along, 0, len(signals.heights) - 1), np.arange(len(across))]
    seen = np.isfinite(heights) & (np.abs(across) < 4.5)
    if not seen.any():
        return 0.0
    heights = ndimage.gaussian_filter1d(np.where(seen, heights, -99.0), 1.0)
    weight = np.clip(heights - (heights.max() - 1.2), 0, None) * np.exp(-((across / 4.5) ** 2))
    return float((weight * across).sum() / max(weight.sum(), 1e-6))


def _across(split: Split, start: int, end: int, level: float, published: float) -> tuple[float, float]:
    """From where to where across the arch a tooth stands above a level."""
    across = split.signals.straight.across
    with np.errstate(invalid="ignore"):
        above = split.signals.heights[start : end + 1] > level
    spans: list[tuple[float, float]] = []
    rows: Sequence[np.ndarray] = list(above[int(0.3 * (end - start)) : int(0.7 * (end - start)) + 1])
    for row in rows:
        label, count = ndimage.label(row)
        if count:
            sizes = ndimage.sum_labels(row, label, range(1, count + 1))
            own = np.flatnonzero(label == 1 + int(np.argmax(sizes)))
            spans.append((float(across[own[0]]), float(across[own[-1]])))
    inner, outer = (float(v) for v in np.median(spans, axis=0)) if spans else (-published / 2, published / 2)
    if outer - inner > 1.25 * published:  # ran out over the gum: the facial end is clean
        inner = outer - published * 1.05
    if outer - inner < 0.8 * published:  # the lingual of a front tooth is not seen from above
        inner = outer - published * 0.95
    return inner, outer
