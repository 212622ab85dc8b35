"""Widths of spaces and room to the opposing teeth."""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from scipy.spatial import cKDTree

from recommender.domain.dentition import ARCH_ORDER, neighbour, runs, side_facing
from recommender.survey.arrays import Floats
from recommender.survey.dimensions import crown_size
from recommender.survey.errors import ScanError
from recommender.survey.heights import HeightImage, height_image
from recommender.survey.lines import evenly, lengths
from recommender.survey.mesh import Mesh
from recommender.survey.result import Figure, SpaceSurvey, ToothParts, figure, not_measured
from recommender.survey.settings import settings
from recommender.survey.undercuts import ABOVE_MARGIN_MM, horizontal_axes
from recommender.survey.zones import ZONES, zone_index

_UPSIDE_DOWN = np.array([1.0, 1.0, -1.0])


class Opposing:
    """The opposing scan in the level frame of the cast, in occlusion. Raises ``ScanError`` where it is not."""

    def __init__(self, mesh: Mesh, below: HeightImage, parts: Mapping[int, ToothParts]) -> None:
        self.mesh = mesh
        self.tree = cKDTree(mesh.points)
        high = below.low + np.array(below.heights.shape) * below.cell
        turned = height_image(
            Mesh(mesh.points * _UPSIDE_DOWN, mesh.faces[:, ::-1]), below.cell, (below.low, high - 1e-9)
        )
        self.lowest = HeightImage(-turned.heights, turned.low, turned.cell)
        self._refuse_unless_closed(parts)

    def _refuse_unless_closed(self, parts: Mapping[int, ToothParts]) -> None:
        low, high = settings()["opposing"]["nearest_mm"]
        gaps = []
        for entry in parts.values():
            surface = entry.surface
            top = surface.mesh.points[surface.chosen[(surface.inner < 0.9) & (surface.normals[:, 2] > 0.3)]]
            over = self.lowest.at(top[:, :2])
            gaps.append(over - top[:, 2])
        gap = np.concatenate(gaps) if gaps else np.zeros(0)
        gap = gap[np.isfinite(gap)]
        if len(gap) < 200:
            raise ScanError(
                "the opposing scan does not lie over the teeth of this one: both must be in one frame"
            )
        nearest = float(np.percentile(gap, 0.1))
        if not low <= nearest <= high:
            where = "into" if nearest < low else "clear of"
            raise ScanError(
                f"the opposing scan is not in occlusion: it stands {abs(nearest):.1f} mm {where} the teeth"
            )


def space_surveys(
    arch: str, standing: Sequence[int], wanted: Iterable[int], parts: Mapping[int, ToothParts], up: Floats,
    image: HeightImage, opposing: Opposing | None, crests: Mapping[tuple[int, ...], Floats],
) -> tuple[SpaceSurvey, ...]:  # fmt: skip
    """Every space of the arch that is to be restored (``wanted`` teeth)."""
    found = []
    gone = [tooth for tooth in ARCH_ORDER[arch] if tooth not in set(standing)]
    for run in runs(arch, gone):
        own = tuple(tooth for tooth in run if tooth in set(wanted))
        if not own:
            continue
        line = crests.get(tuple(sorted(own)))
        clearance, by_tooth = _ridge(own, line, image, opposing)
        found.append(SpaceSurvey(own, _width(arch, run, parts, up), clearance, by_tooth))
    return tuple(found)


def _width(arch: str, run: tuple[int, ...], parts: Mapping[int, ToothParts], up: Floats) -> Figure:
    order = ARCH_ORDER[arch]
    first, last = order.index(run[0]) - 1, order.index(run[-1]) + 1
    if first < 0 or last >= len(order):
        return not_measured("no_tooth_behind")
    ends = (order[first], order[last])
    if any(tooth not in parts for tooth in ends):
        return not_measured("neighbour_not_found")
    walls = [
        facing_wall(parts[tooth], side_facing(tooth, other), up)
        for tooth, other in ((ends[0], run[0]), (ends[1], run[-1]))
    ]
    if min(len(wall) for wall in walls) < 30:
        return not_measured("hole")
    # from both sides, so that a mirrored scan gives the same; the few nearest points are noise
    away = [np.percentile(cKDTree(own).query(other)[0], 0.5) for own, other in (walls, walls[::-1])]
    width = float(np.mean(away))
    if width < 0.3:
        return not_measured("space_shut")
    return figure(width, settings()["bands"]["cover_sds"] * settings()["spaces"]["width_spread_mm"])


def facing_wall(parts: ToothParts, side: str, up: Floats) -> Floats:
    """Places (n, 2) across the path of a crown's wall toward one side, at least 1 mm above its margin."""
    surface = parts.surface
    local = surface.local
    zone = zone_index(local[:, 0] / surface.frame.half[0], local[:, 1] / surface.frame.half[1])
    path = surface.frame.direction(up)
    over = local @ path - parts.margin.height_along(path, surface.azimuth)
    near = {
        ZONES.index(side),
        *(ZONES.index(name) for name in ZONES if name.startswith(side[:5]) and name != side),
    }
    own = (
        np.isin(zone, list(near)) & (over > ABOVE_MARGIN_MM) & (surface.inner > 0.6) & (surface.inner < 1.14)
    )
    axes = horizontal_axes(np.array([0.0, 0.0, 1.0]) if np.allclose(up, [0, 0, 1]) else up)
    return np.asarray(surface.mesh.points[surface.chosen[own]] @ axes.T)


def _ridge(
    teeth: tuple[int, ...], line: Floats | None, image: HeightImage, opposing: Opposing | None
) -> tuple[Figure, dict[int, Figure]]:
    figures = settings()["spaces"]
    if opposing is None:
        return not_measured("no_opposing"), {}
    if line is None:
        return not_measured("no_crest_line"), {}
    crest = evenly(line[:, :2], 0.25)
    along = lengths(crest)
    if along[-1] < 2.0:
        return not_measured("crest_line_short"), {}
    tangent = np.gradient(crest, axis=0)
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-9)
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    across = np.arange(-figures["strip_mm"], figures["strip_mm"] + 1e-9, 0.25)
    places = crest[:, None] + across[None, :, None] * normal[:, None]
    room = (opposing.lowest.at(places) - image.at(places)).reshape(len(crest), -1)
    known = np.isfinite(room)
    if known.any(axis=1).mean() < 0.5:
        return not_measured("opposing_not_over_ridge"), {}
    least = np.where(known.any(axis=1), np.where(known, room, np.inf).min(axis=1), np.nan)
    spread = settings()["bands"]["cover_sds"] * figures["clearance_spread_mm"]
    whole = figure(float(np.nanmin(least)), spread)
    widths = np.cumsum([0.0, *(crown_size(tooth).mesiodistal for tooth in teeth)])
    # the line is drawn from the tooth nearest to the start of the arch order, or the other way round
    share = along / along[-1]
    by_tooth = {}
    for index, tooth in enumerate(teeth):
        low, high = widths[index] / widths[-1], widths[index + 1] / widths[-1]
        own = least[(share >= low) & (share <= high)]
        if np.isfinite(own).any():
            by_tooth[tooth] = figure(float(np.nanmin(own)), spread)
    return whole, by_tooth


def rest_clearances(parts: ToothParts, opposing: Opposing | None) -> dict[str, Figure]:
    """Room over the usual rest sites of a tooth: nearest distance from a disc of the surface to the opposing teeth."""
    if opposing is None:
        return {}
    frame, figures = parts.surface.frame, settings()["opposing"]
    half, reach = frame.half, figures["rest_disc_mm"]
    if frame.tooth % 10 <= 3:
        sites = {"cingulum": np.array([0.0, -half[1] * 0.55])}
    else:
        inset = half[0] - figures["rest_inset_mm"]
        sites = {"mesial": np.array([inset, 0.0]), "distal": np.array([-inset, 0.0])}
    spread = settings()["bands"]["cover_sds"] * figures["rest_spread_mm"]
    return {site: _nearest(parts, place, reach, opposing, spread) for site, place in sites.items()}


def embrasure_clearances(parts: ToothParts, opposing: Opposing | None) -> dict[str, Figure]:
    """Room over the marginal ridges at a contact, for metal to pass."""
    if opposing is None:
        return {}
    frame, figures = parts.surface.frame, settings()["opposing"]
    spread = settings()["bands"]["cover_sds"] * figures["embrasure_spread_mm"]
    found = {}
    for side, sign, line in (("mesial", 1.0, frame.lines[0]), ("distal", -1.0, frame.lines[1])):
        if line is not None and neighbour(frame.tooth, side) is not None:
            place = np.array([sign * frame.half[0], 0.0])
            found[side] = _nearest(parts, place, figures["embrasure_disc_mm"], opposing, spread)
    return found


def _nearest(parts: ToothParts, place: Floats, reach: float, opposing: Opposing, spread: float) -> Figure:
    surface = parts.surface
    away = np.linalg.norm(surface.local[:, :2] - place, axis=1)
    disc = (away < reach) & (surface.normals[:, 2] > 0.2)
    if disc.sum() < 8:
        return not_measured("hole")
    room = opposing.tree.query(surface.mesh.points[surface.chosen[disc]])[0]
    return figure(float(np.min(room)), spread)
