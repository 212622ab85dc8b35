"""Search for a path of placement: what every direction within a cone gives and costs at each abutment, and which are
equally good.

Every direction is judged roughly, on crowns reduced to a grid of points; those near the best are judged again as the
figures of the survey are made. Usefulness falls steeply below the least gauge, so that the error of the rough form
(0.05 mm) is worth more of the score than the directions of a plateau differ by.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from recommender.survey.arrays import Floats
from recommender.survey.crown import CrownSurface, round_ring
from recommender.survey.directions import cone, path_direction
from recommender.survey.margins import Margin
from recommender.survey.settings import settings
from recommender.survey.undercuts import ABOVE_MARGIN_MM, depths, wall, zone_undercuts
from recommender.survey.zones import FACIAL, LINGUAL, ZONES, zone_index

_TURNS, _ROW_MM, _DIRECTIONS = 60, 0.3, 48


@dataclass(frozen=True)
class AbutmentTerms:
    """What a path gives at one abutment: the deepest facial undercut, the undercut beside the space (mm) and the mean
    lingual one."""

    tooth: int
    facial_mm: float
    guiding_mm: Mapping[str, float]
    lingual_mm: float


@dataclass(frozen=True)
class PathScore:
    """One direction: tilts (degrees), its score, and its terms by abutment."""

    tilt_ap_deg: float
    tilt_lateral_deg: float
    score: float
    terms: tuple[AbutmentTerms, ...]


@dataclass(frozen=True)
class PathSearch:
    """All directions looked at, level first among equals; ``plateau`` those about as good as the best; ``best`` the
    least tilted of those that lose next to nothing. Level and the plateau are judged as the figures are made."""

    scores: tuple[PathScore, ...]
    plateau: tuple[PathScore, ...]
    best: PathScore


class ThinCrown:
    """A crown's wall reduced to a grid of points, for judging many paths quickly."""

    def __init__(self, surface: CrownSurface, margin: Margin) -> None:
        self.frame = surface.frame
        over = surface.local[:, 2] - round_ring(margin.points[:, 2], surface.azimuth)
        used = (
            ~surface.hidden
            & (over > -0.1)
            & (surface.inner < 1.14)
            & (surface.inner > 0.4)
            & (surface.outward > 0.1)
        )
        turn = ((surface.azimuth + np.pi) / (2 * np.pi) * _TURNS).astype(np.int64) % _TURNS
        row = (over / _ROW_MM).astype(np.int64)
        rows = 40
        used &= (row >= 0) & (row < rows)
        cell = turn[used] * rows + row[used]
        count = np.bincount(cell, minlength=_TURNS * rows)
        filled = count > 0
        columns = np.repeat(np.arange(_TURNS), rows)[filled]
        centres = (np.arange(_TURNS) + 0.5) / _TURNS * 2 * np.pi - np.pi
        self.zone = zone_index(np.cos(centres), np.sin(centres))[columns]
        self.points = _means(surface.local[used], cell, count)
        normals = _means(surface.normals[used], cell, count)
        self.normals = normals / np.maximum(np.linalg.norm(normals, axis=1, keepdims=True), 1e-9)
        self.margin = np.column_stack([round_ring(margin.points[:, axis], centres) for axis in range(3)])[
            columns
        ]

    def undercuts(self, up: Floats) -> dict[str, float]:
        """Undercut by zone for a path of the level frame; NaN where the zone has no wall."""
        local = self.frame.direction(up)
        depth = depths(self.points, self.points, local, _DIRECTIONS)
        counted = (self.points - self.margin) @ local >= ABOVE_MARGIN_MM
        counted &= self.normals @ local < 0.45
        touching = {
            side
            for side, line in zip(("mesial", "distal"), self.frame.lines, strict=True)
            if line is not None
        }
        found = {}
        for index, zone in enumerate(ZONES):
            own = (self.zone == index) & (zone not in touching)
            inside = depth[own & counted]
            found[zone] = float("nan") if not own.any() else float(inside.max()) if len(inside) else 0.0
        return found


class Abutment:
    """A crown beside a space: its undercuts for a path, roughly for many paths and as the figures are made for few."""

    def __init__(self, surface: CrownSurface, margin: Margin) -> None:
        self._surface, self._margin = surface, margin
        self._thin = ThinCrown(surface, margin)

    def roughly(self, up: Floats) -> dict[str, float]:
        """Undercut by zone (mm) for a path of the level frame; NaN where the zone has no wall."""
        return self._thin.undercuts(up)

    def closely(self, up: Floats) -> dict[str, float]:
        """As ``roughly``, by the method of the figures."""
        frame = self._surface.frame
        values = zone_undercuts(wall(self._surface, self._margin, frame.direction(up)))
        found = dict(zip(ZONES, map(float, values), strict=True))
        for side, line in zip(("mesial", "distal"), frame.lines, strict=True):
            if line is not None:
                found[side] = float("nan")
        return found


def _means(values: Floats, cell: np.ndarray, count: np.ndarray) -> Floats:
    filled = count > 0
    return np.column_stack([
        np.bincount(cell, values[:, axis], len(count))[filled] / count[filled] for axis in range(values.shape[1])
    ])  # fmt: skip


def terms_of(tooth: int, undercuts: Mapping[str, float], beside: Sequence[str]) -> AbutmentTerms:
    """The terms of one abutment from its undercuts by zone; ``beside`` its proximal zones that face a space."""
    facial = [undercuts[zone] for zone in FACIAL if np.isfinite(undercuts[zone])]
    lingual = [undercuts[zone] for zone in LINGUAL if np.isfinite(undercuts[zone])]
    guiding = {zone: undercuts[zone] for zone in beside if np.isfinite(undercuts[zone])}
    nothing = float("nan")
    return AbutmentTerms(
        tooth, max(facial, default=nothing), guiding, float(np.mean(lingual)) if lingual else nothing
    )


_NODES = np.linspace(-2.5, 2.5, 41)  # of a normal distribution, in standard deviations
_SHARES = np.exp(-(_NODES**2) / 2) / np.exp(-(_NODES**2) / 2).sum()


def usefulness(depth_mm: float, measured: bool = False) -> float:
    """How useful a facial undercut is for retention, 0 to 1: most from the least gauge to the deepest usual one.

    Of a measured depth the mean over what it may truly be: the deepest place of a rough surface errs deep, and a path
    on which every clasp just reaches its gauge is worth less than one with something in hand.
    """
    figures = settings()["path"]["retention"]
    depths_mm = np.array([depth_mm])
    shares = np.ones(1)
    if measured:
        depths_mm = depth_mm - figures["errs_deep_mm"] + figures["sd_mm"] * _NODES
        shares = _SHARES
    points = np.array(figures["useful"])
    return float(np.interp(depths_mm, points[:, 0], points[:, 1]) @ shares)


def score(terms: Sequence[AbutmentTerms], tilt_deg: float, measured: bool = False) -> float:
    """One number for a path from the terms of its abutments, measured or exact; weights in ``shared/survey.yaml``."""
    weights = settings()["path"]["weights"]
    figures = settings()["path"]
    held = [usefulness(term.facial_mm, measured) if np.isfinite(term.facial_mm) else 0.0 for term in terms]
    guided = [
        float(np.exp(-((depth / figures["guiding_plane_mm"]) ** 2)))
        for term in terms
        for depth in term.guiding_mm.values()
    ]
    lingual = [
        min(term.lingual_mm / figures["lingual_full_mm"], 1.0)
        for term in terms
        if np.isfinite(term.lingual_mm)
    ]
    return float(
        weights["retention_mean"] * np.mean(held)
        + weights["retention_least"] * np.min(held)
        + weights["guiding_planes"] * (np.mean(guided) if guided else 0.0)
        - weights["lingual_undercut"] * (np.mean(lingual) if lingual else 0.0)
        - weights["tilt_per_degree"] * tilt_deg
    )


def search(
    crowns: Mapping[int, Abutment], beside: Mapping[int, Sequence[str]], arch: str
) -> PathSearch | None:
    """The search over a cone of directions; ``None`` where no abutment was found.

    ``beside`` names the abutments and the proximal zones of each that face a space.
    """
    own = {tooth: beside[tooth] for tooth in sorted(beside) if tooth in crowns}
    if not own:
        return None
    figures = settings()["path"]
    pairs = cone(figures["cone_deg"], figures["step_deg"])
    scores = [_judged(crowns, own, arch, pair, closely=False) for pair in pairs]
    top = max(entry.score for entry in scores)
    near = [index for index in _best_first(scores) if scores[index].score >= top - figures["look_closer"]]
    closer = {
        index: judged(crowns, own, arch, pairs[index]) for index in {0, *near[: figures["look_closer_most"]]}
    }
    scores = [closer.get(index, entry) for index, entry in enumerate(scores)]
    top = max(entry.score for entry in closer.values())
    plateau = tuple(
        closer[index] for index in sorted(closer) if closer[index].score >= top - figures["plateau"]
    )
    # of two directions equally tilted to opposite sides the better one, so that a mirrored scan gets the mirrored path
    best = min(
        (entry for entry in plateau if entry.score >= top - figures["propose_within"]),
        key=lambda entry: (round(np.hypot(entry.tilt_ap_deg, entry.tilt_lateral_deg), 6), -entry.score),
    )
    return PathSearch(tuple(scores), plateau, best)


def _best_first(scores: Sequence[PathScore]) -> list[int]:
    return sorted(range(len(scores)), key=lambda index: -scores[index].score)


def judged(
    crowns: Mapping[int, Abutment], beside: Mapping[int, Sequence[str]], arch: str, pair: tuple[float, float]
) -> PathScore:
    """One direction with its score and terms, by the method of the figures."""
    return _judged(crowns, beside, arch, pair, closely=True)


def _judged(
    crowns: Mapping[int, Abutment], beside: Mapping[int, Sequence[str]], arch: str, pair: tuple[float, float],
    closely: bool,
) -> PathScore:  # fmt: skip
    up = path_direction(*pair, arch)
    terms = tuple(
        terms_of(tooth, crowns[tooth].closely(up) if closely else crowns[tooth].roughly(up), zones)
        for tooth, zones in beside.items()
    )
    return PathScore(*pair, score(terms, float(np.hypot(*pair)), measured=True), terms)
