"""The survey of every tooth: undercuts with bands, survey line, crown height."""

import numpy as np

from recommender.domain.statement import say
from recommender.survey.arrays import Floats
from recommender.survey.bands import Bands, undercut_bands
from recommender.survey.crown import CrownSurface
from recommender.survey.dimensions import crown_size
from recommender.survey.frames import ToothFrame
from recommender.survey.locating import Located
from recommender.survey.margins import Margin, find_margin, marked, on_surface
from recommender.survey.marks import ToothMarks
from recommender.survey.result import Figure, LineHeight, ToothParts, figure, not_measured
from recommender.survey.settings import settings
from recommender.survey.undercuts import Wall, by_zones, survey_line, wall, zone_undercuts
from recommender.survey.zones import ZONES

LEVEL = np.array([0.0, 0.0, 1.0])


def margin_of(surface: CrownSurface, place: Located, marks: ToothMarks | None) -> Margin:
    """The margin a person marked, else the one that is found."""
    found = find_margin(surface, crown_size(surface.frame.tooth).length)
    if marks is not None and marks.margin is not None:
        return marked(surface, place.level(marks.margin), found)
    return on_surface(surface, found, settings()["margin"]["found_spread_mm"], "found")


def parts_of(surface: CrownSurface, margin: Margin, up: Floats, roughness_mm: float) -> ToothParts:
    """The wall at a path (level frame) and with the cast level, and the bands at the path."""
    local = surface.frame.direction(up)
    at_path = wall(surface, margin, local)
    level = at_path if np.allclose(up, LEVEL) else wall(surface, margin, LEVEL)
    bands = undercut_bands(surface, margin, local, at_path, roughness_mm)
    return ToothParts(surface, margin, at_path, level, bands)


def undercut_figures(parts: ToothParts) -> dict[str, Figure]:
    """Undercuts at the path by zone."""
    limit = settings()["margin"]["implausible_undercut_mm"]
    found = {}
    for index, zone in enumerate(ZONES):
        value = parts.bands.value[index]
        reason = _why_not(parts.surface.frame, parts.at_path, zone, value)
        if reason:
            found[zone] = not_measured(reason)
            continue
        check = say("survey.look_at_the_margin") if value > limit else None
        found[zone] = Figure(
            round(float(parts.bands.low[index]), 2), round(float(value), 2), round(float(parts.bands.high[index]), 2),
            None, _causes(parts.bands, index), check,
        )  # fmt: skip
    return found


def _causes(bands: Bands, index: int) -> dict[str, float]:
    return {
        "margin": round(float(bands.margin[index]), 3),
        "tilt": round(float(bands.tilt[index]), 3),
        "surface": round(float(bands.surface[index]), 3),
    }


def _why_not(frame: ToothFrame, laid: Wall, zone: str, value: float) -> str:
    touching = dict(zip(("mesial", "distal"), frame.lines, strict=True))
    if touching.get(zone) is not None:
        return "touches_neighbour"
    if np.isfinite(value):
        return ""
    columns = by_zones(np.zeros(len(laid.shut)), laid.shut)[ZONES.index(zone)]
    return "hole" if np.isfinite(columns) else "neighbour_in_the_way"


def level_figures(parts: ToothParts, at_path: dict[str, Figure]) -> dict[str, Figure]:
    """Undercuts with the cast level, with the spread found at the path."""
    values = zone_undercuts(parts.level)
    found = {}
    for index, zone in enumerate(ZONES):
        if at_path[zone].value is None:
            found[zone] = at_path[zone]
        elif not np.isfinite(values[index]):
            found[zone] = not_measured("hole")
        else:
            causes = _causes(parts.bands, index)
            spread = settings()["bands"]["cover_sds"] * float(np.sqrt(sum(sd**2 for sd in causes.values())))
            found[zone] = figure(float(values[index]), spread, causes)
    return found


def contour_figures(parts: ToothParts) -> dict[str, LineHeight]:
    """The survey line by zone, as height above the margin and third of the crown."""
    laid = parts.at_path
    lines = by_zones(survey_line(laid), laid.shut)
    margins = by_zones(laid.margin, np.zeros_like(laid.shut))
    sure_mm = settings()["bands"]["survey_line_sure_mm"]
    found = {}
    for index, zone in enumerate(ZONES):
        crown = laid.top - margins[index]
        if not np.isfinite(lines[index]) or not crown > 0:
            continue
        share = float(lines[index] / crown)
        third = "gingival" if share < 1 / 3 else "middle" if share < 2 / 3 else "occlusal"
        near = min(abs(share - 1 / 3), abs(share - 2 / 3)) * crown
        found[zone] = LineHeight(round(float(lines[index]), 1), third, bool(near > sure_mm))
    return found


def crown_height(parts: ToothParts) -> Figure:
    """Clinical crown on the facial, along the path."""
    margins = by_zones(parts.at_path.margin, np.zeros_like(parts.at_path.shut))
    height = parts.at_path.top - margins[ZONES.index("midfacial")]
    if not np.isfinite(height) or height <= 0:
        return not_measured("hole")
    spread = settings()["bands"]["cover_sds"] * float(np.hypot(parts.margin.spread_mm, 0.1))
    return figure(float(height), spread, {"margin": parts.margin.spread_mm})
