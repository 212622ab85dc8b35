"""From a scan and the marks on it to a level frame and a place for every standing tooth, with the guards on
arch and side."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from recommender.domain.dentition import mirror, position, quadrant
from recommender.survey.arrays import Floats
from recommender.survey.crown import CrownSurface
from recommender.survey.dimensions import crown_size
from recommender.survey.directions import level_axes
from recommender.survey.errors import ScanError
from recommender.survey.frames import ToothFrame, from_outline, with_contacts
from recommender.survey.generate.plan import Layout, Plan
from recommender.survey.heights import HeightImage, height_image
from recommender.survey.levelling import auto_level, confirmed_turn, first_up, up_of_three
from recommender.survey.margins import find_margin
from recommender.survey.marks import Marks
from recommender.survey.mesh import Mesh
from recommender.survey.proposals import frames_of
from recommender.survey.scan import Scan
from recommender.survey.settings import settings
from recommender.survey.splitting import Split, mirrored_cost, signals_of, split

CELL_MM = 0.2
_OTHER_ARCH = {1: 4, 2: 3, 3: 2, 4: 1}


@dataclass(frozen=True)
class Located:
    """``rotation`` and ``origin`` from the frame of the file to the level frame; the levelled ``mesh`` and its
    height ``image``;
    ``frames`` of the teeth; ``cost`` of the split, of its mirror image and of the other arch, where teeth were
    sought."""

    rotation: Floats
    origin: Floats
    mesh: Mesh
    image: HeightImage
    frames: tuple[ToothFrame, ...]
    cost: float | None
    mirror_cost: float | None
    other_arch_cost: float | None
    split: Split | None

    def level(self, points: Floats) -> Floats:
        """Points (n, 3) or (3,) of the file in the level frame."""
        result: Floats = (points - self.origin) @ self.rotation.T
        return result

    def in_file(self, points: Floats) -> Floats:
        """The inverse of ``level``."""
        result: Floats = points @ self.rotation + self.origin
        return result


def locate(scan: Scan, arch: str, standing: Sequence[int], marks: Marks) -> Located:
    """Level, front and teeth. Raises ``ScanError`` where the scan, the list of teeth or the marks cannot be
    brought together."""
    rotation, origin = _frame(scan.mesh, arch, marks)
    mesh = scan.mesh.moved(rotation, origin)
    image = height_image(mesh, CELL_MM)
    place = Located(rotation, origin, mesh, image, (), None, None, None, None)
    outlined = {
        tooth for tooth, entry in marks.teeth.items() if entry.outline is not None and tooth in standing
    }
    marked = [
        from_outline(
            tooth, {name: place.level(point) for name, point in (marks.teeth[tooth].outline or {}).items()}
        )
        for tooth in standing
        if tooth in outlined
    ]
    if len(outlined) == len(standing):
        return replace(place, frames=tuple(with_contacts(marked)))
    anchors = {frame.tooth: frame.centre for frame in marked}
    for tooth, entry in marks.teeth.items():
        if entry.inside is not None and tooth in standing:
            anchors.setdefault(tooth, place.level(entry.inside))
    signals = signals_of(image, [anchor[:2] for anchor in anchors.values()])
    found = split(signals, arch, standing, anchors)
    others = [_OTHER_ARCH[quadrant(tooth)] * 10 + position(tooth) for tooth in standing]
    other = "mandible" if arch == "maxilla" else "maxilla"
    try:
        other_cost = split(signals, other, others).cost
    except ScanError:
        other_cost = float("inf")
    proposed = {frame.tooth: fitted(mesh, frame) for frame in frames_of(found, arch)}
    proposed.update({frame.tooth: frame for frame in marked})
    frames = list(proposed.values())
    joined = {frame.tooth: frame for frame in with_contacts(frames)} if outlined else proposed
    return replace(
        place, frames=tuple(joined[tooth] for tooth in standing if tooth in joined), cost=found.cost,
        mirror_cost=mirrored_cost(signals, arch, standing), other_arch_cost=other_cost, split=found,
    )  # fmt: skip


def fitted(mesh: Mesh, frame: ToothFrame) -> ToothFrame:
    """A proposed frame moved onto its crown."""
    surface = CrownSurface(mesh, frame)
    for _ in range(2):
        surface = surface.fitted(find_margin(surface, crown_size(frame.tooth).length))
    return surface.frame


def _frame(mesh: Mesh, arch: str, marks: Marks) -> tuple[Floats, Floats]:
    if marks.level is None:
        return auto_level(mesh), np.zeros(3)
    up = up_of_three(marks.level, first_up(mesh))
    outlined = {tooth: entry.outline for tooth, entry in marks.teeth.items() if entry.outline is not None}
    if len(outlined) < 3:
        return auto_level(mesh, up), np.zeros(3)
    level = level_axes(up)
    teeth = sorted(outlined)
    places = np.array([np.mean(list((outlined[tooth] or {}).values()), axis=0) @ level.T for tooth in teeth])
    nominal = nominal_places(arch)
    turn, origin = confirmed_turn(places[:, :2], np.array([nominal[tooth] for tooth in teeth]))
    # the origin lies in the plane of the three points, so that a scan moved about in its file gives the same cells
    height = float(np.mean(marks.level @ up))
    flat = level.T @ np.array([origin[0], origin[1], height])
    return turn @ level, flat


def nominal_places(arch: str) -> dict[int, Floats]:
    """Where the teeth of an average arch stand, (2,) each, left and right alike."""
    plan = Plan(arch, third_molars=True, tilt_sd_deg=0.0, size_sd=0.0)
    own = {crown.tooth: crown.centre[:2] for crown in Layout(plan).crowns}
    other_side = np.array([-1.0, 1.0])
    return {tooth: (place + own[mirror(tooth)] * other_side) / 2 for tooth, place in own.items()}


def side_doubt(place: Located) -> str | None:
    """Why the side or the arch may be wrong, or ``None``: the list of teeth explains the scan no better than
    its mirror image does."""
    if place.cost is None or place.mirror_cost is None or place.other_arch_cost is None:
        return None
    least = settings()["teeth"]["mirror_margin"]
    if place.other_arch_cost < place.cost - least:
        return "the row of teeth looks like the other jaw's"
    if place.mirror_cost < place.cost - 1e-9:
        return "the mirror image of the list of teeth fits the scan better than the list"
    if place.mirror_cost < place.cost + least:
        return "the list of teeth and its mirror image fit the scan about equally well: name one tooth on the scan"
    return None
