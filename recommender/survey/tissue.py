"""The tissue round the teeth: an overhang below a tooth, the vault, the rugae, and the length of the palate."""

from collections.abc import Mapping

import numpy as np
from scipy import ndimage

from recommender.survey.arrays import Floats
from recommender.survey.heights import HeightImage
from recommender.survey.result import Figure, PalateSurvey, ToothParts, figure, not_measured
from recommender.survey.settings import settings
from recommender.survey.undercuts import horizontal_axes

_HALF_STRIP_MM, _ROW_MM = 0.8, 0.3


def overhang(parts: ToothParts, up: Floats) -> Figure:
    """How far the gum below the middle of the facial margin lies inside what stands above it, for a path of the level
    frame.

    Read off the profile of the mesh in the mid-facial plane, to at most 7 mm below the margin.
    """
    surface, figures = parts.surface, settings()["tissue"]
    frame = surface.frame
    local = frame.local(surface.mesh.points)
    near = (np.abs(local[:, 0]) < _HALF_STRIP_MM) & (local[:, 1] > 0) & (local[:, 1] < frame.half[1] + 9.0)
    points = local[near]
    path = frame.direction(up)
    middle = int(len(parts.margin.points) * 0.75)
    below = points @ path - float(parts.margin.points[middle] @ path)
    facial = points @ horizontal_axes(path)[1]
    rows = np.arange(-figures["deepest_mm"], -figures["from_mm"], _ROW_MM)
    profile = np.array([
        float(np.percentile(facial[m], 90)) if (m := (below >= row) & (below < row + _ROW_MM)).sum() >= 2 else np.nan
        for row in rows
    ])  # fmt: skip
    if np.isfinite(profile).sum() < figures["least_rows"]:
        return not_measured("ends_near_tooth")
    profile = profile[::-1][np.isfinite(profile[::-1])]
    depth = float((np.maximum.accumulate(profile) - profile).max())
    return figure(depth, settings()["bands"]["cover_sds"] * figures["spread_mm"])


def palate_figures(
    image: HeightImage, parts: Mapping[int, ToothParts], clicks: Mapping[str, Floats]
) -> PalateSurvey:
    """Vault, rugae and length of the palate; ``clicks`` in the level frame."""
    return PalateSurvey(_vault(image, parts), _rugae(image, parts), _length(clicks))


def _lingual_margins(parts: Mapping[int, ToothParts]) -> dict[str, list[tuple[float, float, float]]]:
    """Places of the lingual margins of the back teeth, by side of the viewer."""
    sides: dict[str, list[tuple[float, float, float]]] = {"left": [], "right": []}
    for tooth, entry in parts.items():
        if tooth % 10 >= 4:
            lowest = entry.margin.points[int(len(entry.margin.points) * 0.25)]
            x, y, z = entry.surface.frame.world(lowest[None])[0]
            sides["left" if x < 0 else "right"].append((float(x), float(y), float(z)))
    return sides


def _midline(parts: Mapping[int, ToothParts]) -> float:
    centres = np.array([entry.surface.frame.centre[0] for entry in parts.values()])
    return float((centres.min() + centres.max()) / 2)


def _vault(image: HeightImage, parts: Mapping[int, ToothParts]) -> Figure:
    sides = _lingual_margins(parts)
    if not sides["left"] or not sides["right"]:
        return not_measured("no_back_tooth")
    places = np.array(sides["left"] + sides["right"])
    middle = (np.mean([p[0] for p in sides["left"]]) + np.mean([p[0] for p in sides["right"]])) / 2
    rows = np.arange(places[:, 1].min() - 2, places[:, 1].max() + 2, 0.4)
    heights = image.at(np.column_stack([np.full(len(rows), middle), rows]))
    if np.isfinite(heights).sum() < 0.5 * len(rows):
        return not_measured("midline_not_in_scan")
    level = (np.mean([p[2] for p in sides["left"]]) + np.mean([p[2] for p in sides["right"]])) / 2
    depth = float(level - np.nanpercentile(heights, 10))
    if depth < 1.0:
        return not_measured("midline_not_in_scan")
    return figure(depth, settings()["bands"]["cover_sds"] * settings()["palate"]["vault_spread_mm"])


def _rugae(image: HeightImage, parts: Mapping[int, ToothParts]) -> Figure:
    figures = settings()["palate"]
    front = [entry.surface.frame.centre[1] for tooth, entry in parts.items() if tooth % 10 <= 3]
    if not front:
        return not_measured("no_front_tooth")
    middle, start = _midline(parts), float(max(front))
    heights = []
    for aside in figures["rugae_lines_mm"]:
        rows = np.arange(start - figures["rugae_to_mm"], start - figures["rugae_from_mm"], 0.15)
        line = image.at(np.column_stack([np.full(len(rows), middle + aside), rows]), order=1)
        if np.isfinite(line).mean() < 0.9:
            continue
        line = _without_trend(line[np.isfinite(line)], figures["rugae_trend_degree"])
        ripple = line - ndimage.gaussian_filter1d(line, figures["rugae_smooth_mm"] / 0.15)
        inner = ripple[10:-10]
        heights.append(float(np.percentile(inner, 97) - np.percentile(inner, 10)))
    if len(heights) < 2:
        return not_measured("front_of_palate_not_in_scan")
    return figure(float(np.median(heights)), settings()["bands"]["cover_sds"] * figures["rugae_spread_mm"])


def _without_trend(line: Floats, degree: int) -> Floats:
    """Without the fall of the palate behind the front teeth, which a filter would leave standing at the ends."""
    along = np.linspace(-1.0, 1.0, len(line))
    result: Floats = line - np.polyval(np.polyfit(along, line, degree), along)
    return result


def _length(clicks: Mapping[str, Floats]) -> Figure:
    if set(clicks) != {"incisive_papilla", "vibrating_line"}:
        return not_measured("places_not_marked")
    length = float(np.linalg.norm(clicks["incisive_papilla"] - clicks["vibrating_line"]))
    spread = settings()["bands"]["cover_sds"] * settings()["palate"]["click_spread_mm"] * float(np.sqrt(2))
    return figure(length, spread, {"clicks": settings()["palate"]["click_spread_mm"]})
