"""The arch in ink: the survey line round every crown, and the wall below it laid outward and hatched by gauge."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from recommender.domain.statement import Word, quantity, say
from recommender.survey.arrays import Bools, Floats
from recommender.survey.crown import CENTRES, COLUMNS
from recommender.survey.heights import HeightImage
from recommender.survey.pictures.ink import (
    GAUGE_HATCHES,
    LIGHT,
    Inks,
    Says,
    circle,
    contour_segments,
    line,
    picture,
    segments,
    words,
)
from recommender.survey.result import Survey, ToothParts
from recommender.survey.settings import settings
from recommender.survey.undercuts import ABOVE_MARGIN_MM, ROWS, survey_line

_SKIRT = 0.6  # a millimetre of wall is drawn as so much beside the outline
_STEPS_MM = 1.0


@dataclass(frozen=True)
class Skirt:
    """What is drawn of a crown: ``base`` (columns, 2) the survey line from above, ``normal`` outward, heights (mm) by
    column of survey line and of the upper edge of each gauge's zone, and the shut columns."""

    base: Floats
    normal: Floats
    line: Floats
    gauges: tuple[Floats, ...]
    shut: Bools


def skirt_of(parts: ToothParts) -> Skirt:
    """The outline of a crown and its wall, from the survey at the path."""
    surface, laid = parts.surface, parts.at_path
    side = ~surface.hidden & (surface.outward > 0.2) & (surface.inner > 0.5) & (surface.inner < 1.14)
    radius = np.full(COLUMNS, np.nan)
    for column in range(COLUMNS):
        own = side & (surface.column == column)
        if own.sum() > 3:
            radius[column] = np.percentile(surface.radius[own], 97)
    known = np.isfinite(radius)
    if known.sum() > 6:
        radius = np.interp(CENTRES, CENTRES[known], radius[known], period=2 * np.pi)
    else:
        radius = np.full(COLUMNS, float(np.mean(surface.frame.half)))
    radius = ndimage.gaussian_filter1d(radius, 1.0, mode="wrap")
    local = np.column_stack([surface.directions() * radius[:, None], np.zeros(COLUMNS)])
    outward = np.column_stack(
        [np.cos(CENTRES) / surface.frame.half[0], np.sin(CENTRES) / surface.frame.half[1]]
    )
    outward /= np.linalg.norm(outward, axis=1, keepdims=True)
    normal = outward[:, :1] * surface.frame.mesial + outward[:, 1:] * surface.frame.facial
    height = np.nan_to_num(ndimage.median_filter(np.nan_to_num(survey_line(laid)), 3, mode="wrap"))
    depth = np.nan_to_num(laid.depth)
    zones = []
    for gauge in settings()["gauges_mm"]:
        deep = (depth >= gauge) & (ROWS[None] <= height[:, None])
        upper = np.where(deep.any(axis=1), np.where(deep, ROWS[None], -9.0).max(axis=1), 0.0)
        zones.append(np.clip(ndimage.median_filter(upper, 3, mode="wrap"), 0.0, None))
    return Skirt(surface.frame.world(local)[:, :2], normal, np.clip(height, 0, None), tuple(zones), laid.shut)


def arch_picture(
    survey: Survey,
    says: Says,
    inks: Inks = LIGHT,
    points: Sequence[Floats] = (),
    walls: bool = True,
) -> str:
    """The occlusal drawing as an SVG document, in mm of the level frame with y downward.

    ``points`` (x, y) are marked with crosses; without ``walls`` crowns are drawn as outlines alone, as they are
    before their margins are looked at.
    """
    image = survey.located.image
    parts = [*relief(image, inks), *gum(survey, inks)]
    for tooth, entry in survey.parts.items():
        parts += _crown(skirt_of(entry), inks) if walls else outline(entry, inks)
        x, y = entry.surface.frame.centre[:2]
        parts.append(words(x, -y + 1.1, says.tooth(tooth), 3.1, inks.ink, bold=True, halo=inks.paper))
    for place in points:
        parts += cross(place[0], -place[1], inks)
    low, high = bounds(image)
    box = [low[0], -high[1] - 2, high[0] - low[0], high[1] - low[1] + 16]
    if walls:
        parts += _legend(box, inks, says)
    title = says.text(say("survey.picture.arch", arch=Word("arch", survey.arch)))
    return picture(parts, box, inks, title, 9.0)


def outline(parts: ToothParts, inks: Inks) -> list[str]:
    """A crown as it was proposed: its outline, and its four points."""
    frame = parts.surface.frame
    cosine, sine = np.cos(CENTRES), np.sin(CENTRES)
    rim = np.column_stack([
        np.sign(cosine) * np.abs(cosine) ** 0.8 * frame.half[0], np.sign(sine) * np.abs(sine) ** 0.8 * frame.half[1],
        np.zeros(COLUMNS),
    ])  # fmt: skip
    flip = np.array([1.0, -1.0])
    drawn = [line(frame.world(rim)[:, :2] * flip, inks.ink, 0.4, closed=True)]
    return drawn + [circle(x, -y, 0.4, inks.ink, 0.2, inks.paper) for x, y, _ in frame.outline().values()]


def cross(x: float, y: float, inks: Inks) -> list[str]:
    """A cross in a ring, in the drawing's own units."""
    place = np.array([x, y])
    return [
        circle(x, y, 1.2, inks.ink, 0.25),
        line(place + np.array([[-1.8, 0.0], [1.8, 0.0]]), inks.ink, 0.2),
        line(place + np.array([[0.0, -1.8], [0.0, 1.8]]), inks.ink, 0.2),
    ]


def bounds(image: HeightImage) -> tuple[Floats, Floats]:
    """The corners of what the image shows, with a margin."""
    cells = np.argwhere(image.found)
    return image.low + cells.min(axis=0) * image.cell - 3, image.low + cells.max(axis=0) * image.cell + 3


def relief(image: HeightImage, inks: Inks) -> list[str]:
    """Contour lines every millimetre, as on a map, and the edge of the scan."""
    thinned = ndimage.gaussian_filter(image.filled(float(np.nanmin(image.heights))), 1.5)[::3, ::3]
    found = image.found[::3, ::3]
    x, y = (axis[::3, ::3] for axis in image.grid())
    heights = np.where(found, thinned, np.nan)
    low, high = np.nanpercentile(heights, [2, 99.5])
    drawn = [
        segments(contour_segments(heights, level, x, -y), inks.pale, 0.05 if index % 5 else 0.12)
        for index, level in enumerate(np.arange(np.ceil(low), high, _STEPS_MM))
    ]
    edge = contour_segments(ndimage.gaussian_filter(found.astype(float), 1.0), 0.5, x, -y)
    return [*drawn, segments(edge, inks.pale, 0.25)]


def gum(survey: Survey, inks: Inks, only: Collection[int] | None = None) -> list[str]:
    """The gum margins: a whole line where confirmed, dashes where found."""
    drawn = []
    for tooth, entry in survey.parts.items():
        if only is None or tooth in only:
            ring = entry.surface.frame.world(entry.margin.points)[:, :2] * np.array([1.0, -1.0])
            dashes = "" if survey.teeth[tooth].margin == "confirmed" else "0.5 0.7"
            drawn.append(line(ring, inks.pale, 0.16, dashes=dashes, closed=True))
    return drawn


def _crown(skirt: Skirt, inks: Inks) -> list[str]:
    flip = np.array([1.0, -1.0])
    base, normal = skirt.base * flip, skirt.normal * flip
    drawn = []
    full = skirt.line
    bands = [("none", np.zeros(COLUMNS), full > 0.15)]
    for hatch, upper in zip(GAUGE_HATCHES, skirt.gauges, strict=True):
        bands.append((f"url(#{hatch})", full - np.minimum(upper, full), upper > 0.05))
    for fill, start, shown in bands:
        for run in _runs(shown & ~skirt.shut):
            inner = base[run] + normal[run] * (start[run] * _SKIRT)[:, None]
            outer = base[run] + normal[run] * (full[run] * _SKIRT)[:, None]
            ring = np.vstack([inner, outer[::-1]])
            drawn.append(line(ring, inks.ink, 0.1, closed=True, fill=inks.paper if fill == "none" else fill))
    line_mm = base + normal * (np.clip(full - ABOVE_MARGIN_MM, 0, None) * _SKIRT)[:, None]
    line_mm[skirt.shut | (full <= ABOVE_MARGIN_MM)] = np.nan
    outline = np.where(skirt.shut[:, None], np.nan, base)
    drawn.append(line(np.vstack([line_mm, line_mm[:1]]), inks.ink, 0.22, dashes="0.05 0.5"))
    drawn.append(line(np.vstack([outline, outline[:1]]), inks.ink, 0.4))
    return drawn


def _runs(shown: Bools) -> list[Floats]:
    """Stretches of columns that follow each other round the ring."""
    if shown.all():
        return [np.append(np.arange(COLUMNS), 0)]
    start = int(np.argmin(shown))
    order = (start + np.arange(COLUMNS)) % COLUMNS
    runs: list[list[int]] = [[]]
    for column in order:
        if shown[column]:
            runs[-1].append(int(column))
        elif runs[-1]:
            runs.append([])
    return [np.array(run) for run in runs if len(run) > 1]


def _legend(box: list[float], inks: Inks, says: Says) -> list[str]:
    gauges = settings()["gauges_mm"]
    items = [("none", says.text(say("survey.picture.no_gauge", gauge=quantity(gauges[0], "mm", 2))))]
    items += [
        (f"url(#{hatch})", says.text(say("survey.picture.gauge", gauge=quantity(gauge, "mm", 2))))
        for hatch, gauge in zip(GAUGE_HATCHES, gauges, strict=True)
    ]
    drawn = []
    left, top = box[0] + 3, box[1] + box[3] - 12
    for index, (fill, text) in enumerate(items):
        x, y = left + (index % 2) * box[2] / 2, top + (index // 2) * 3.4
        swatch = np.array([[x, y - 1.6], [x + 4, y - 1.6], [x + 4, y + 0.2], [x, y + 0.2]])
        drawn.append(line(swatch, inks.ink, 0.15, closed=True, fill=inks.paper if fill == "none" else fill))
        drawn.append(words(x + 5, y, text, 1.75, inks.ink, anchor="start"))
    y = top + 6.8
    drawn.append(line(np.array([[left, y - 0.7], [left + 4, y - 0.7]]), inks.ink, 0.4))
    drawn.append(
        words(left + 5, y, says.text(say("survey.picture.survey_line")), 1.75, inks.ink, anchor="start")
    )
    x = left + box[2] / 2
    drawn.append(line(np.array([[x, y - 0.7], [x + 4, y - 0.7]]), inks.ink, 0.22, dashes="0.05 0.5"))
    drawn.append(
        words(x + 5, y, says.text(say("survey.picture.above_margin")), 1.75, inks.ink, anchor="start")
    )
    return drawn


def tripod_places(survey: Survey) -> list[Floats]:
    """The tripod points as places of the drawing."""
    left = 1.0 if survey.arch == "maxilla" else -1.0
    return [np.array([left * x, y]) for x, y, _ in (survey.tripod.points_mm if survey.tripod else ())]
