"""The whole survey of a scan: from marks and a list of teeth to figures with bands."""

import time
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from recommender.domain.dentition import arch_of, neighbour, position
from recommender.domain.statement import say
from recommender.domain.statement import tooth as one_tooth
from recommender.survey.arrays import Floats
from recommender.survey.crown import CrownSurface
from recommender.survey.directions import path_direction
from recommender.survey.errors import ScanError
from recommender.survey.locating import Located, doubts, locate
from recommender.survey.marks import Marks, ToothMarks
from recommender.survey.mesh import Mesh
from recommender.survey.paths import Abutment, PathScore, PathSearch, judged, search
from recommender.survey.result import Survey, ToothParts, ToothSurvey
from recommender.survey.scan import Scan
from recommender.survey.settings import settings
from recommender.survey.spaces import Opposing, embrasure_clearances, rest_clearances, space_surveys
from recommender.survey.teeth import (
    contour_figures,
    crown_height,
    level_figures,
    margin_of,
    parts_of,
    undercut_figures,
)
from recommender.survey.tissue import overhang, palate_figures
from recommender.survey.tripods import tripod_of


@dataclass(frozen=True)
class Dentition:
    """What of a case a survey needs: the arch, the teeth that stand on the cast, and those that are to be replaced."""

    arch: str
    standing: tuple[int, ...]
    replaced: tuple[int, ...]

    def beside_spaces(self) -> dict[int, tuple[str, ...]]:
        """The teeth that border a space, each with its proximal sides that face one; a last molar's back counts for
        nothing."""
        gone = set(self.replaced)
        found: dict[int, tuple[str, ...]] = {}
        for tooth in self.standing:
            sides = tuple(
                side
                for side in ("mesial", "distal")
                if neighbour(tooth, side) in gone and not (side == "distal" and position(tooth) >= 7)
            )
            if sides:
                found[tooth] = sides
        return found


def survey(
    scan: Scan, dentition: Dentition, marks: Marks | None = None, opposing: Mesh | None = None
) -> Survey:
    """The survey of a scan. ``opposing`` is a mesh in mm in the frame of the scan's file.

    Raises ``ScanError`` with one sentence where scan, list and marks cannot be brought together.
    """
    try:
        return _surveyed(scan, dentition, marks or Marks(), opposing)
    except (ArithmeticError, IndexError, ValueError, np.linalg.LinAlgError) as error:
        if isinstance(error, ScanError):
            raise
        raise ScanError(
            "the surface of the scan cannot be followed: it is torn, or has not the form of a jaw"
        ) from error


def _surveyed(scan: Scan, dentition: Dentition, marks: Marks, opposing: Mesh | None) -> Survey:
    clock = _Clock()
    if marks.scan is not None and marks.scan != scan.sha256:
        raise ScanError("the marks belong to another scan")
    standing = marks.standing or dentition.standing
    if any(arch_of(tooth) != dentition.arch for tooth in (*standing, *marks.teeth)):
        raise ScanError(f"the marks name a tooth that is not in the {dentition.arch}")
    place = locate(scan, dentition.arch, standing, marks)
    clock.check()
    refuse_wrong_side(place, marks)
    surfaces = {frame.tooth: CrownSurface(place.mesh, frame) for frame in place.frames}
    margins = {
        tooth: margin_of(surface, place, marks.teeth.get(tooth)) for tooth, surface in surfaces.items()
    }
    clock.check()
    beside = dentition.beside_spaces()
    crowns = {tooth: Abutment(surfaces[tooth], margins[tooth]) for tooth in beside if tooth in surfaces}
    found = search(crowns, beside, dentition.arch)
    path, chosen_by = _path(marks, found, crowns, beside, dentition.arch)
    up = path_direction(path.tilt_ap_deg, path.tilt_lateral_deg, dentition.arch)
    clock.check()
    parts = {
        tooth: parts_of(surface, margins[tooth], up, scan.roughness_mm) for tooth, surface in surfaces.items()
    }
    clock.check()
    over = None
    if opposing is not None:
        over = Opposing(opposing.moved(place.rotation, place.origin), place.image, parts)
    teeth = {tooth: _tooth(entry, marks.teeth.get(tooth), up, over) for tooth, entry in parts.items()}
    crests = {teeth_of: place.level(line) for teeth_of, line in marks.crests.items()}
    spaces = space_surveys(dentition.arch, standing, dentition.replaced, parts, up, place.image, over, crests)
    clicks = {name: place.level(point) for name, point in marks.palate.items()}
    palate = palate_figures(place.image, parts, clicks) if dentition.arch == "maxilla" else None
    return Survey(
        dentition.arch, tuple(standing), teeth, spaces, palate, path, chosen_by, found,
        tripod_of(place, up, dentition.arch), doubts(place, standing, marks.side is not None),
        marks.unit is not None, marks.side is not None, marks.level is not None, scan, place, parts,
    )  # fmt: skip


def _path(
    marks: Marks,
    found: PathSearch | None,
    crowns: Mapping[int, Abutment],
    beside: Mapping[int, Sequence[str]],
    arch: str,
) -> tuple[PathScore, str]:
    if marks.path is not None:
        own = {tooth: beside[tooth] for tooth in sorted(crowns)}
        if not own:
            return PathScore(*marks.path, float("nan"), ()), "person"
        return judged(crowns, own, arch, marks.path), "person"
    if found is not None:
        return found.best, "search"
    return PathScore(0.0, 0.0, float("nan"), ()), "search"


def _tooth(parts: ToothParts, marks: ToothMarks | None, up: Floats, over: Opposing | None) -> ToothSurvey:
    undercuts = undercut_figures(parts)
    status = "confirmed" if marks is not None and marks.confirmed else "found"
    return ToothSurvey(
        parts.surface.frame.tooth, status, status, undercuts, level_figures(parts, undercuts), contour_figures(parts),
        crown_height(parts), overhang(parts, up), rest_clearances(parts, over), embrasure_clearances(parts, over),
    )  # fmt: skip


def stood_by(result: Survey, teeth: Collection[int]) -> Survey:
    """The survey with exactly these teeth confirmed by a person as they were found or marked."""
    told = {
        tooth: replace(entry, outline=status, margin=status)
        for tooth, entry in result.teeth.items()
        for status in ("confirmed" if tooth in teeth else "found",)
    }
    return replace(result, teeth=told)


def refuse_wrong_side(place: Located, marks: Marks) -> None:
    """A person named one tooth: it has to be the one that the list puts there. Raises ``ScanError`` where it is not,
    or where the row of teeth is surely the other jaw's."""
    if marks.side is not None:
        tooth, point = marks.side
        level = place.level(point)
        frames = {frame.tooth: frame for frame in place.frames}
        if tooth not in frames:
            raise ScanError(
                "the tooth named on the scan is not among the standing teeth of the case",
                say("survey.refused.named_not_standing", tooth=one_tooth(tooth)),
            )
        nearest = min(frames.values(), key=lambda frame: float(np.linalg.norm(frame.centre[:2] - level[:2])))
        if nearest.tooth != tooth:
            raise ScanError(
                "the list of teeth puts another tooth where this one was named: the scan is mirrored, or the list is "
                "not of this cast",
                say("survey.refused.mirrored", put=one_tooth(nearest.tooth), named=one_tooth(tooth)),
            )
    if place.other_arch_cost is None or place.cost is None:
        return
    if place.other_arch_cost < place.cost - settings()["teeth"]["other_arch_margin"]:
        raise ScanError("the row of teeth is the other jaw's: look at the arch of the case")


class _Clock:
    def __init__(self) -> None:
        self._end = time.monotonic() + settings()["limits"]["seconds"]

    def check(self) -> None:
        if time.monotonic() > self._end:
            raise ScanError(
                f"the scan takes longer than {settings()['limits']['seconds']} seconds; reduce its triangles"
            )
