"""Charts of a survey: a radial one a tooth with its bands, the wall laid flat, and the paths with their plateau."""

import numpy as np

from recommender.domain.statement import say
from recommender.domain.statement import tooth as one_tooth
from recommender.survey.arrays import Floats
from recommender.survey.crown import CENTRES
from recommender.survey.pictures.ink import (
    LIGHT,
    Inks,
    Says,
    circle,
    contour_segments,
    hatch_of,
    line,
    picture,
    segments,
    words,
)
from recommender.survey.result import Survey
from recommender.survey.settings import settings
from recommender.survey.undercuts import ABOVE_MARGIN_MM, ROWS, survey_line
from recommender.survey.zones import ZONES

# Facial above, mesial to the left; degrees anticlockwise from the right.
_ANGLES = {
    "midfacial": 90, "distofacial": 45, "distal": 0, "distolingual": -45, "midlingual": -90, "mesiolingual": -135,
    "mesial": 180, "mesiofacial": 135,
}  # fmt: skip
_SHORT = {
    "mesiofacial": "MF", "midfacial": "F", "distofacial": "DF", "mesiolingual": "ML", "midlingual": "L",
    "distolingual": "DL", "mesial": "M", "distal": "D",
}  # fmt: skip
_FULL_MM, _RADIUS = 1.0, 40.0


def radial_picture(survey: Survey, tooth: int, says: Says, inks: Inks = LIGHT) -> str:
    """Undercuts of a tooth by zone: a wedge to the value, a line over the band, a ring at the value with level cast."""
    parts = []
    gauges = settings()["gauges_mm"]
    for gauge in (*gauges, _FULL_MM):
        parts.append(circle(0, 0, _RADIUS * gauge, inks.pale, 0.25))
        place = np.array([0.93, -0.3]) * _RADIUS * gauge
        parts.append(words(place[0], place[1], f"{gauge:.2f}", 3.0, inks.pale, halo=inks.paper))
    entry = survey.teeth[tooth]
    for zone in ZONES:
        angle = np.radians(_ANGLES[zone])
        toward = np.array([np.cos(angle), -np.sin(angle)])
        parts.append(words(toward[0] * 46, toward[1] * 46 + 1.5, _SHORT[zone], 4.4, inks.ink))
        figure, level = entry.undercuts_mm[zone], entry.undercuts_level_mm[zone]
        if figure.value is None or figure.low is None or figure.high is None:
            parts.append(words(toward[0] * 20, toward[1] * 20 + 1.5, "?", 5.0, inks.pale))
            continue
        reach = _RADIUS * min(figure.value, _FULL_MM)
        fan = np.radians(np.linspace(_ANGLES[zone] - 17, _ANGLES[zone] + 17, 9))
        wedge = np.vstack([[0, 0], np.column_stack([np.cos(fan), -np.sin(fan)]) * reach])
        hatch = hatch_of(figure.value, gauges)
        parts.append(line(wedge, inks.ink, 0.4, closed=True, fill=inks.paper if hatch == "none" else hatch))
        ends = np.array([figure.low, min(figure.high, _FULL_MM * 1.08)]) * _RADIUS
        parts.append(line(toward * ends[:, None], inks.paper, 2.0))
        parts.append(line(toward * ends[:, None], inks.ink, 1.0))
        if level.value is not None:
            x, y = toward * _RADIUS * min(level.value, _FULL_MM)
            parts.append(circle(x, y, 1.3, inks.ink, 0.5, inks.paper))
    parts.append(words(0, -53, says.tooth(tooth), 6, inks.ink, bold=True))
    notes = [says.text(say(f"survey.picture.zones_{name}")) for name in ("note", "key")]
    parts += [words(0, 55 + 4.2 * index, text, 3.1, inks.ink) for index, text in enumerate(notes)]
    return picture(parts, (-56, -60, 112, 123), inks, _title(says, "zones", tooth), 3.2)


def wall_picture(survey: Survey, tooth: int, says: Says, inks: Inks = LIGHT) -> str:
    """The wall of a crown laid flat: across degrees from the middle of the facial, upward mm above the gum margin."""
    x, order = flat_order()
    drawn = wall_parts(survey, tooth, says, inks, x, order)
    return picture(drawn, (-62, -36, 124, 43), inks, _title(says, "wall", tooth), 7.0)


def _title(says: Says, name: str, tooth: int) -> str:
    return says.text(say(f"survey.picture.{name}", tooth=one_tooth(tooth)))


def flat_order() -> tuple[Floats, Floats]:
    """Degrees from the middle of the facial by column, mesial to the left, and the columns in that order."""
    degrees = (np.degrees(CENTRES) - 90 + 180) % 360 - 180
    order = np.argsort(degrees, kind="stable")
    return degrees[order], order


def wall_parts(survey: Survey, tooth: int, says: Says, inks: Inks, x: Floats, order: Floats) -> list[str]:
    """The drawing of a wall, 3 units a degree of nine across and 3 units a mm upward."""
    entry = survey.parts[tooth]
    laid = entry.at_path
    across, up = x / 3, -ROWS * 3
    depth = laid.depth[order]
    grid_x, grid_y = np.meshgrid(across, up, indexing="ij")
    parts = []
    for column in np.flatnonzero(laid.shut[order]):
        box = np.array([[-0.9, 0.5], [0.9, 0.5], [0.9, -30], [-0.9, -30]]) + np.array([across[column], 0.0])
        parts.append(line(box, inks.pale, 0.05, closed=True, fill="url(#h25)"))
    for gauge, width in zip(settings()["gauges_mm"], (0.15, 0.3, 0.5), strict=True):
        parts.append(segments(contour_segments(depth, gauge, grid_x, grid_y), inks.ink, width))
        high = np.argwhere(depth >= gauge)
        if len(high):
            i, j = high[len(high) // 2]
            parts.append(words(across[i], up[j], f"{gauge:.2f}", 1.8, inks.ink, halo=inks.paper))
    line_mm = np.where(laid.shut, np.nan, survey_line(laid))[order]
    parts.append(line(np.column_stack([across, -line_mm * 3]), inks.ink, 0.6))
    parts.append(line(np.array([[-60, 0], [60, 0]]), inks.ink, 0.3))
    least = -3 * ABOVE_MARGIN_MM
    parts.append(line(np.array([[-60, least], [60, least]]), inks.ink, 0.25, dashes="0.1 0.9"))
    for degrees, name in (
        (-90, "mesial"),
        (0, "facial"),
        (90, "distal"),
        (165, "lingual"),
        (-165, "lingual"),
    ):
        parts.append(words(degrees / 3, -33, name, 2.4, inks.ink))
    for height in range(0, 10, 2):
        parts.append(words(-60.5, -height * 3 + 0.6, str(height), 1.8, inks.pale, anchor="end"))
    parts.append(words(0, 5, says.text(say("survey.picture.wall_note")), 2.0, inks.ink))
    return parts


def path_picture(survey: Survey, says: Says, inks: Inks = LIGHT) -> str:
    """The directions looked at: filled where about equally good, a ring at the one taken, a cross at level."""
    if survey.search is None:
        nothing = [words(0, 0, says.text(say("survey.picture.no_abutment")), 2, inks.ink)]
        return picture(nothing, (-20, -10, 40, 20), inks, says.text(say("survey.picture.paths")), 9.0)
    parts = [circle(0, 0, radius, inks.pale, 0.08) for radius in (5, 10, 15)]
    parts += [
        words(0, -radius - 0.2, f"{radius}°", 0.9, inks.pale, halo=inks.paper) for radius in (5, 10, 15)
    ]
    good = {(entry.tilt_ap_deg, entry.tilt_lateral_deg) for entry in survey.search.plateau}
    for entry in survey.search.scores:
        x, y = entry.tilt_lateral_deg, -entry.tilt_ap_deg
        if (entry.tilt_ap_deg, entry.tilt_lateral_deg) in good:
            parts.append(circle(x, y, 0.6, inks.ink, 0.1, inks.ink))
        else:
            parts.append(circle(x, y, 0.15, inks.pale, 0.05, inks.pale))
    parts.append(line(np.array([[-0.9, 0], [0.9, 0]]), inks.ink, 0.15))
    parts.append(line(np.array([[0, -0.9], [0, 0.9]]), inks.ink, 0.15))
    parts.append(circle(survey.path.tilt_lateral_deg, -survey.path.tilt_ap_deg, 1.1, inks.ink, 0.25))
    for height, name in ((18.6, "axes"), (20.2, "key")):
        parts.append(words(0, height, says.text(say(f"survey.picture.paths_{name}")), 1.1, inks.ink))
    return picture(parts, (-18, -18, 36, 39), inks, says.text(say("survey.picture.paths")), 12.0)
