"""From a scan and the marks on it to a level frame and a place for every standing tooth, with the guards on arch and
side."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from recommender.domain.dentition import mirror, position, quadrant
from recommender.domain.statement import Statement, say
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
from recommender.survey.splitting import Signals, Split, mirrored_cost, signals_of, split

CELL_MM = 0.2
_FAR_APART_MM = 12.0
_FRONT_COSINE = 0.9  # a front that is off by more than 25 degrees is turned
# the front looked for on the other side and a quarter turn to either; then, for an arch without front teeth or with
# one side empty, half a quarter
_TURNS = tuple(
    np.array([[np.cos(turn), -np.sin(turn), 0.0], [np.sin(turn), np.cos(turn), 0.0], [0.0, 0.0, 1.0]])
    for turn in np.radians([180.0, 90.0, -90.0, 45.0, -45.0, 135.0, -135.0])
)
OTHER_ARCH = {1: 4, 2: 3, 3: 2, 4: 1}


@dataclass(frozen=True)
class Located:
    """``rotation`` and ``origin`` from the frame of the file to the level frame; the levelled ``mesh`` and its height
    ``image``; ``frames`` of the teeth; ``cost`` of the split, of its mirror image and of the other arch, where
    teeth were sought."""

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
    """Level, front and teeth. Raises ``ScanError`` where the scan, the list of teeth or the marks cannot be brought
    together."""
    if all((entry := marks.teeth.get(tooth)) is not None and entry.outline is not None for tooth in standing):
        place = _laid(scan.mesh, *_marked_frame(scan.mesh, arch, marks))
        return replace(place, frames=tuple(with_contacts(_outlined(place, standing, marks))))
    best: tuple[Located, Signals] | None = None
    trouble: ScanError | None = None
    for rotation, origin in _frames(scan.mesh, arch, marks):
        place = _laid(scan.mesh, rotation, origin)
        anchors = _anchors(place, standing, marks)
        try:
            signals = signals_of(place.image, [anchor[:2] for anchor in anchors.values()])
            found = split(signals, arch, standing, anchors)
        except ScanError as error:
            trouble = trouble or error
            continue
        if best is None or found.cost < (best[0].cost or 0.0):
            best = (replace(place, cost=found.cost, split=found), signals)
        if found.cost < settings()["teeth"]["sure_cost"] * len(standing):
            break
    if best is None:
        raise trouble or ScanError("no row of teeth stands out of the scan")
    return _with_frames(*_upright(scan.mesh, *best, arch, standing, marks), arch, standing, marks)


def _laid(mesh: Mesh, rotation: Floats, origin: Floats) -> Located:
    levelled = mesh.moved(rotation, origin)
    return Located(rotation, origin, levelled, height_image(levelled, CELL_MM), (), None, None, None, None)


def _upright(
    mesh: Mesh, place: Located, signals: Signals, arch: str, standing: Sequence[int], marks: Marks
) -> tuple[Located, Signals]:
    """The same with the front of the mouth in front, where teeth were found in a frame that lies turned about."""
    frames = frames_of(place.split, arch) if place.split is not None else []
    if len(frames) < 3:
        return place, signals
    nominal = nominal_places(arch)
    turn, _ = confirmed_turn(
        np.array([frame.centre[:2] for frame in frames]), np.array([nominal[frame.tooth] for frame in frames])
    )
    if turn[0, 0] > _FRONT_COSINE:
        return place, signals
    other = _laid(mesh, turn @ place.rotation, place.origin)
    anchors = _anchors(other, standing, marks)
    try:
        seen = signals_of(other.image, [anchor[:2] for anchor in anchors.values()])
        found = split(seen, arch, standing, anchors)
    except ScanError:
        return place, signals
    return replace(other, cost=found.cost, split=found), seen


def _outlined(place: Located, standing: Sequence[int], marks: Marks) -> list[ToothFrame]:
    return [
        from_outline(tooth, {name: place.level(point) for name, point in entry.outline.items()})
        for tooth in standing
        if (entry := marks.teeth.get(tooth)) is not None and entry.outline is not None
    ]


def _anchors(place: Located, standing: Sequence[int], marks: Marks) -> dict[int, Floats]:
    anchors = {frame.tooth: frame.centre for frame in _outlined(place, standing, marks)}
    for tooth, entry in marks.teeth.items():
        if entry.inside is not None and tooth in standing:
            anchors.setdefault(tooth, place.level(entry.inside))
    return anchors


def _with_frames(
    place: Located, signals: Signals, arch: str, standing: Sequence[int], marks: Marks
) -> Located:
    """Frames on the crowns, and what the mirror image of the list and the other jaw's teeth would cost."""
    if place.split is None:
        raise ScanError("no row of teeth stands out of the scan")
    proposed = {frame.tooth: fitted(place.mesh, frame) for frame in frames_of(place.split, arch)}
    marked = _outlined(place, standing, marks)
    proposed.update({frame.tooth: frame for frame in marked})
    if marked:
        proposed = {frame.tooth: frame for frame in with_contacts(list(proposed.values()))}
    others = [OTHER_ARCH[quadrant(tooth)] * 10 + position(tooth) for tooth in standing]
    try:
        other_cost = split(signals, "mandible" if arch == "maxilla" else "maxilla", others).cost
    except ScanError:
        other_cost = float("inf")
    return replace(
        place, frames=tuple(proposed[tooth] for tooth in standing if tooth in proposed),
        mirror_cost=mirrored_cost(signals, arch, standing), other_arch_cost=other_cost,
    )  # fmt: skip


def fitted(mesh: Mesh, frame: ToothFrame) -> ToothFrame:
    """A proposed frame moved onto its crown."""
    surface = CrownSurface(mesh, frame)
    for _ in range(2):
        surface = surface.fitted(find_margin(surface, crown_size(frame.tooth).length))
    return surface.frame


def _known_places(marks: Marks) -> dict[int, Floats]:
    """A place (file frame) for every tooth about which a person said where it stands."""
    known = {tooth: entry.inside for tooth, entry in marks.teeth.items() if entry.inside is not None}
    if marks.side is not None:
        known.setdefault(*marks.side)
    for tooth, entry in marks.teeth.items():
        if entry.outline is not None:
            known[tooth] = np.mean(list(entry.outline.values()), axis=0)
    return known


def _frames(mesh: Mesh, arch: str, marks: Marks) -> Iterator[tuple[Floats, Floats]]:
    """Ways to lay the scan, the likeliest first: teeth are sought in each until they explain the row of teeth well.

    Few or one-sided teeth mislead the plane of the crests and the search for the front, so the mean direction of the
    surface and the front turned round are tried too.
    """
    known = _known_places(marks)
    if len(known) >= 2 and np.ptp(np.array(list(known.values())), axis=0).max() > _FAR_APART_MM:
        yield _marked_frame(mesh, arch, marks)
        return
    nowhere = np.zeros(3)
    up = None if marks.level is None else up_of_three(marks.level, first_up(mesh))
    rough = first_up(mesh)
    for attempt in (up, rough) if up is None else (up,):
        try:
            rotation = auto_level(mesh, attempt)
        except ScanError:
            continue
        yield rotation, nowhere
        for turn in _TURNS:
            yield turn @ rotation, nowhere


def _marked_frame(mesh: Mesh, arch: str, marks: Marks) -> tuple[Floats, Floats]:
    """The frame that follows from marked places, and from the marked level where there is one."""
    if marks.level is not None:
        up = up_of_three(marks.level, first_up(mesh))
        level = level_axes(up)
        # the origin lies in the plane of the three points, so that a scan moved about gives the same cells
        height = float(np.mean(marks.level @ up))
    else:
        level, height = auto_level(mesh), 0.0
    known = _known_places(marks)
    teeth = sorted(known)
    places = np.array([known[tooth] @ level.T for tooth in teeth])
    nominal = nominal_places(arch)
    turn, origin = confirmed_turn(places[:, :2], np.array([nominal[tooth] for tooth in teeth]))
    return turn @ level, level.T @ np.array([origin[0], origin[1], height])


def nominal_places(arch: str) -> dict[int, Floats]:
    """Where the teeth of an average arch stand, (2,) each, left and right alike."""
    plan = Plan(arch, third_molars=True, tilt_sd_deg=0.0, size_sd=0.0)
    own = {crown.tooth: crown.centre[:2] for crown in Layout(plan).crowns}
    other_side = np.array([-1.0, 1.0])
    return {tooth: (place + own[mirror(tooth)] * other_side) / 2 for tooth, place in own.items()}


def doubts(place: Located, standing: Sequence[int], side_named: bool) -> tuple[Statement, ...]:
    """Why side, arch or list may be wrong, where teeth were sought by the list alone.

    A person who named one tooth on the scan settles which of two likely sides it is, and nothing else.
    """
    if place.cost is None or place.mirror_cost is None or place.other_arch_cost is None:
        return ()
    figures = settings()["teeth"]
    least, found = figures["mirror_margin"], []
    if place.other_arch_cost < place.cost - least:
        found.append(say("survey.doubt.other_jaw"))
    if place.mirror_cost < place.cost - 1e-9:
        found.append(say("survey.doubt.mirror_fits_better"))
    elif place.mirror_cost < place.cost + least and not side_named:
        found.append(say("survey.doubt.mirror_fits_alike"))
    if place.cost > figures["sure_cost"] * len(standing):
        found.append(say("survey.doubt.fits_poorly"))
    return tuple(found)
