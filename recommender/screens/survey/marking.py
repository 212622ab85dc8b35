"""What a click on the arch means in each step."""

import numpy as np
import streamlit as st

from recommender.domain.case import Case
from recommender.screens.session.visitor import store
from recommender.screens.survey import scan_in_hand as scans
from recommender.screens.survey.scan_in_hand import ScanInHand
from recommender.survey.cuts import Cut, nearest_cut
from recommender.survey.marks import ToothMarks
from recommender.survey.proposing import proposed_marks
from recommender.survey.result import Survey

STEPS = ("Level", "Side", "Teeth", "Path", "Margins", "Room", "Take over")
_PICKED_WITHIN_MM = 1.2
_STEP = "scan.step"


def step_now(kept: ScanInHand) -> str:
    """The first step that is not done."""
    marks = kept.marks
    if marks.level is None:
        return "Level"
    if marks.side is None:
        return "Side"
    if not any(entry.outline for entry in marks.teeth.values()):
        return "Teeth"
    if marks.path is None:
        return "Path"
    return "Margins"


def go_on(kept: ScanInHand) -> None:
    """To the first step that is not done."""
    store()[_STEP] = step_now(kept)


def go_to(step: str) -> None:
    """To a step by name."""
    store()[_STEP] = step


def reset_waiting(kept: ScanInHand) -> None:
    """Forget clicks that do not make a whole mark yet."""
    kept.waiting.clear()
    kept.picked = None


def on_arch(case: Case, kept: ScanInHand, result: Survey, step: str, x: float, y: float) -> None:
    """A click at (x, y) of the level frame."""
    place = scans.place_on_scan(result, x, y)
    if place is None or step not in ("Level", "Side", "Teeth", "Room"):
        return
    kept.trouble = ""
    if step == "Level":
        _level(case, kept, result, x, y)
    elif step == "Room":
        _room(case, kept, x, y, place)
    elif step == "Side":
        tooth = st.session_state.get("scan.side", next(iter(result.teeth)))
        scans.try_mark(case, kept, lambda: scans.mark(kept, side=(tooth, place)))
        if not kept.trouble:
            go_on(kept)
    else:
        _teeth(case, kept, result, np.array([x, y]), place)


def _teeth(case: Case, kept: ScanInHand, result: Survey, at: np.ndarray, place: np.ndarray) -> None:
    """A click near an end of an outline picks it up, the next one sets it down; another one seeks the teeth anew."""
    cut = kept.picked
    if cut is None:
        kept.picked = nearest_cut(result.located.frames, at, _PICKED_WITHIN_MM)
        if kept.picked is not None:
            kept.waiting = [kept.picked.place]
            return
        tooth = st.session_state.get("scan.tooth", next(iter(result.teeth)))
        scans.try_mark(case, kept, lambda: _stands_at(kept, tooth, place))
        return
    reset_waiting(kept)
    scans.try_mark(case, kept, lambda: _set_down(kept, result, cut, place))


def _level(case: Case, kept: ScanInHand, result: Survey, x: float, y: float) -> None:
    kept.waiting.append(np.array([x, y]))
    if len(kept.waiting) < 3:
        return
    heights = result.located.image.at(np.array(kept.waiting))
    points = result.located.in_file(np.column_stack([np.array(kept.waiting), heights]))
    reset_waiting(kept)
    scans.try_mark(case, kept, lambda: scans.mark(kept, level=points))
    if not kept.trouble and kept.marks.unit is not None:
        go_on(kept)


def _room(case: Case, kept: ScanInHand, x: float, y: float, place: np.ndarray) -> None:
    chosen = st.session_state.get("scan.room")
    if isinstance(chosen, tuple):
        kept.waiting.append(np.array([x, y]))
    elif chosen is not None:
        scans.try_mark(case, kept, lambda: scans.mark(kept, palate={**kept.marks.palate, str(chosen): place}))


def set_crest(case: Case, kept: ScanInHand, result: Survey, teeth: tuple[int, ...]) -> None:
    """The clicks so far are the crest line of that space."""
    flat = np.array(kept.waiting)
    points = result.located.in_file(np.column_stack([flat, result.located.image.at(flat)]))
    reset_waiting(kept)
    scans.try_mark(
        case, kept, lambda: scans.mark(kept, crests={**kept.marks.crests, tuple(sorted(teeth)): points})
    )


def _stands_at(kept: ScanInHand, tooth: int, place: np.ndarray) -> None:
    """Outlines hold a tooth where it is: to seek all anew they are let go, and margins with them."""
    teeth = {other: ToothMarks(inside=entry.inside) for other, entry in kept.marks.teeth.items()}
    teeth[tooth] = ToothMarks(inside=place)
    kept.confirmed.clear()
    scans.mark(kept, teeth=teeth)


def _set_down(kept: ScanInHand, result: Survey, cut: Cut, place: np.ndarray) -> None:
    proposed = proposed_marks(result).teeth
    for tooth, end in cut.ends:
        outline = dict(proposed[tooth].outline or {})
        outline[end] = place
        scans.mark_tooth(kept, tooth, outline=outline, margin=None)


def accept_teeth(case: Case, kept: ScanInHand, result: Survey) -> None:
    """Stand by the outlines of all teeth as they are drawn."""
    found = proposed_marks(result).teeth
    teeth = {
        tooth: ToothMarks(
            found[tooth].outline, entry.margin if (entry := kept.marks.teeth.get(tooth)) else None
        )
        for tooth in result.teeth
    }
    scans.try_mark(case, kept, lambda: scans.mark(kept, teeth=teeth, standing=result.standing))
    if not kept.trouble:
        go_on(kept)


def on_wall(case: Case, kept: ScanInHand, result: Survey, tooth: int, x: float, y: float) -> None:
    """A click on a wall laid flat, in its units: the gum margin passes there."""
    from recommender.survey.crown import CENTRES
    from recommender.survey.pictures.charts import flat_order

    degrees, order = flat_order()
    column = int(order[int(np.argmin(np.abs(degrees - x * 3)))])
    parts = result.parts[tooth]
    point = parts.margin.points[column] + np.array([0.0, 0.0, -y / 3])
    place = result.located.in_file(parts.surface.frame.world(point[None]))
    before = kept.marks.teeth.get(tooth, ToothMarks()).margin
    points = place if before is None else _replaced(result, tooth, before, place, float(CENTRES[column]))
    kept.trouble = ""
    scans.try_mark(case, kept, lambda: scans.mark_tooth(kept, tooth, margin=points))


def _replaced(
    result: Survey, tooth: int, before: np.ndarray, place: np.ndarray, azimuth: float
) -> np.ndarray:
    """The points with the new one; one marked before at nearly the same azimuth gives way to it."""
    frame = result.parts[tooth].surface.frame
    local = frame.local(result.located.level(before))
    own = np.arctan2(local[:, 1] / frame.half[1], local[:, 0] / frame.half[0])
    apart = np.abs((own - azimuth + np.pi) % (2 * np.pi) - np.pi)
    return np.vstack([before[apart > np.radians(12)], place])
