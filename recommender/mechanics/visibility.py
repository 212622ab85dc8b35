"""How much of a clasp arm the lips and the curve of the arch leave in view.

An arm is a straight run on the developed facial surface: from ``start`` to ``end`` across (0 mesial, 1
distal) and between two levels up the crown (0 gingival, 1 occlusal). A stretch of it shows if it lies below the lip
line (above it, in the lower arch) and if the surface there faces the onlooker. Both tests cut a straight run
at one place, so the lengths come in closed form.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from recommender.mechanics.arch import place_teeth
from recommender.mechanics.bands import Band, exact
from recommender.mechanics.figures import figure_band, figures, remembered
from recommender.mechanics.teeth import tooth_size


@dataclass(frozen=True, slots=True)
class FacialRun:
    """One straight stretch of metal on the facial side of a tooth.

    ``start`` and ``end`` across the surface (0 mesial to 1 distal), ``levels`` up the crown at those ends;
    ``follows_survey_line``: a suprabulge stretch, which moves with the survey line.
    """

    start: float
    end: float
    levels: tuple[float, float]
    follows_survey_line: bool = True


@remembered()
def turned_away_deg(tooth: int) -> float:
    """Angle between straight ahead and the outward normal of the tooth's facial surface (degrees)."""
    from math import atan2, degrees

    arch = "maxilla" if tooth < 30 else "mandible"
    x, y = place_teeth(arch)[tooth].normal
    return degrees(atan2(abs(x), y))


def seen_across(tooth: int) -> Band:
    """Share of the facial surface, from mesial, that an onlooker faces from in front, aside, half profile."""
    block = figures("view")
    half = float(block["half_turn_deg"])
    turned = turned_away_deg(tooth)
    shares = [
        min(max((90.0 + float(aside) - turned + half) / (2 * half), 0.0), 1.0) for aside in block["aside_deg"]
    ]
    return Band(*shares)


def _seen_length(
    run: FacialRun, shift: float, crown_share: float, across: float, width: float, height: float
) -> float:
    """Length (mm) of the run that is in view, for one height of the lip and one direction of view."""
    if crown_share <= 0:
        return 0.0
    moved = shift if run.follows_survey_line else 0.0
    first, last = run.levels[0] + moved, run.levels[1] + moved
    length = float((((run.end - run.start) * width) ** 2 + ((last - first) * height) ** 2) ** 0.5)
    low, high = _above(first, last, 1.0 - crown_share)
    near, far = _above(-run.start, -run.end, -across)
    return length * max(0.0, min(high, far) - max(low, near))


def _above(first: float, last: float, limit: float) -> tuple[float, float]:
    """The part of a straight run from ``first`` to ``last`` that is at or over ``limit``, as shares of it."""
    if first == last:
        return (0.0, 1.0) if first >= limit else (0.0, 0.0)
    cut = min(max((limit - first) / (last - first), 0.0), 1.0)
    return (cut, 1.0) if last > first else (0.0, cut)


def visible_share(
    tooth: int,
    runs: Sequence[FacialRun],
    crown_share: Band,
    survey_line: str | None = "middle",
    crown_mm: float | None = None,
) -> Band:
    """Share of a full facial run of metal that shows (0-1).

    ``crown_share``: share of the crown in view (``display.shown_in_smile`` or ``shown_at_rest``). The seen
    length is held against the arm's own length or the width of the facial surface, whichever is more, so that
    a short arm shows less than a whole one. No run at all (an arm wholly on the lingual) gives exactly 0. A
    survey line that was not recorded spans all three levels.
    """
    if not runs or crown_share.high <= 0:
        return exact(0.0)
    size = tooth_size(tooth)
    width, height = size.mesiodistal_mm, crown_mm or size.crown_length_mm
    across = seen_across(tooth)
    levels = figures("survey_line")
    middle = float(levels[survey_line]) if survey_line is not None else float(levels["middle"])
    shifts = (middle, middle, middle)
    if survey_line is None:
        shifts = (float(levels["gingival"]), middle, float(levels["occlusal"]))
    shares = []
    for shift, crown, seen in zip(
        shifts,
        (crown_share.low, crown_share.typical, crown_share.high),
        (across.low, across.typical, across.high),
        strict=True,
    ):
        lengths = [_seen_length(run, shift, crown, seen, width, height) for run in runs]
        whole = max(width, sum(_whole_length(run, width, height) for run in runs))
        shares.append(min(sum(lengths) / whole, 1.0))
    return Band(min(shares), min(max(shares[1], min(shares)), max(shares)), max(shares))


def _whole_length(run: FacialRun, width: float, height: float) -> float:
    across, up = (run.end - run.start) * width, (run.levels[1] - run.levels[0]) * height
    return float((across**2 + up**2) ** 0.5)


def runs_of_arm(
    origin_side: str,
    origin: str,
    surface: str,
    reach: float,
    level: tuple[float, float],
    path: str = "round",
    short_facial_arm: bool = False,
) -> tuple[FacialRun, ...]:
    """The stretches of an assembly that lie on the facial of its tooth.

    ``origin_side`` is ``mesial`` or ``distal``: where the arm starts. A bar arm comes up from the gum at
    ``reach`` across, from a level run below the margin. An arm that starts on the lingual reaches the facial
    only with what it reaches beyond its own surface, from the other side. ``short_facial_arm`` adds the
    bracing arm that stops before the middle of the tooth, from the side of the origin.
    """
    runs: list[FacialRun] = []
    if origin == "gingival":
        runs.extend(_bar_runs(origin_side, reach, level))
    elif surface == "facial":
        runs.append(_run(origin_side, min(reach, 1.0), level))
        if path == "back" and reach > 1:
            # The arm turns back: its end runs home under its start.
            back = _run(origin_side, 1.0, (level[1], level[0]))
            share = min(reach - 1.0, 1.0)
            start, end = (1 - share, 1.0) if origin_side == "mesial" else (0.0, share)
            runs.append(FacialRun(start, end, (level[1], level[1]), back.follows_survey_line))
    elif surface == "lingual" and path == "round" and reach > 1:
        other = "distal" if origin_side == "mesial" else "mesial"
        runs.append(_run(other, min(reach - 1.0, 1.0), (level[1], level[1])))
    if short_facial_arm:
        block = figures("survey_line")
        high, low = (float(value) for value in block["short_arm_level"])
        runs.append(_run(origin_side, float(block["short_arm_reach"]), (high, low)))
    return tuple(runs)


def _run(origin_side: str, reach: float, level: tuple[float, float]) -> FacialRun:
    if origin_side == "mesial":
        return FacialRun(0.0, reach, level)
    return FacialRun(1.0 - reach, 1.0, (level[1], level[0]))


def _bar_runs(origin_side: str, reach: float, level: tuple[float, float]) -> tuple[FacialRun, ...]:
    """The rise of a bar arm on the crown; what lies below the gum margin counts as part of its length."""
    across = reach if origin_side == "mesial" else 1.0 - reach
    start, end = (0.0, across) if origin_side == "mesial" else (across, 1.0)
    below = -figure_band(figures("arms")["bar"]["below_margin"]).typical
    return (
        FacialRun(start, end, (below, below), follows_survey_line=False),
        FacialRun(across, across, (below, level[1]), follows_survey_line=False),
    )
