"""Random invented arches taken through the finding of teeth, rightly and wrongly."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from benchmarks.survey_marking import true_outline
from recommender.domain.dentition import mirror
from recommender.survey.arrays import Floats
from recommender.survey.cuts import cuts
from recommender.survey.errors import ScanError
from recommender.survey.generate.arch import GeneratedArch
from recommender.survey.generate.plan import Plan
from recommender.survey.generate.spoil import Flaws, spoilt
from recommender.survey.generate.surface import arch_mesh
from recommender.survey.locating import OTHER_ARCH, Located, doubts, locate
from recommender.survey.marks import Marks, ToothMarks
from recommender.survey.mesh import Mesh
from recommender.survey.scan import Scan, prepared
from recommender.survey.surveying import refuse_wrong_side

_MIRROR = np.array([-1.0, 1.0, 1.0])
_MOST_CORRECTIONS = 8


@dataclass(frozen=True)
class Trial:
    """What became of one arch.

    ``wrong``: teeth off by more than a third of their width; ``corrections``: places marked until none was;
    ``cuts_off_mm``: how far each end of an outline then lies off, outward or inward, neighbours' ends at a contact as
    the one cut that they share; ``doubted``: the right list on a true scan raised a doubt; ``caught``: by kind of fault
    (``None``: the arch is its own mirror image).
    """

    teeth: int
    wrong: tuple[int, ...]
    corrections: int
    cuts_off_mm: tuple[float, ...]
    doubted: bool
    caught: Mapping[str, bool | None]


def tried(plan: Plan, edge_mm: float = 0.45, wrongly: bool = True) -> Trial:
    """An arch tried; ``wrongly``: in other units, as the other jaw and as its mirror image too.

    A correction is one place marked within a tooth, the worst tooth first.
    """
    arch = GeneratedArch(plan)
    clean = arch_mesh(arch, edge_mm)
    scan = prepared(spoilt(clean, Flaws(), plan.seed), "trial", "mm")
    place = locate(scan, arch.arch, arch.standing, Marks(unit="mm"))
    wrong, corrections, corrected = _corrected(scan, arch, place)
    doubted = bool(doubts(place, arch.standing, side_named=True))
    off = _cuts_off(corrected, arch)
    if not wrongly:
        return Trial(len(arch.standing), wrong, corrections, off, doubted, {})
    caught: dict[str, bool | None] = {
        "unit": all(_unit_refused(clean, factor) for factor in (0.1, 1 / 25.4, 0.001, 1000.0))
    }
    other = "mandible" if arch.arch == "maxilla" else "maxilla"
    renamed = [OTHER_ARCH[tooth // 10] * 10 + tooth % 10 for tooth in arch.standing]
    caught["other jaw"] = _other_jaw_caught(scan, other, renamed)
    same = set(map(mirror, arch.standing)) == set(arch.standing)
    turned = prepared(Mesh(scan.raw.points * _MIRROR, scan.raw.faces[:, ::-1]), "mirrored", "mm")
    first = arch.crowns[0]
    # a person names a tooth where they see it on the mirrored scan, or where the drawing writes its number
    seen = first.centre + np.array([0.0, 0.0, first.height])
    try:
        found = locate(turned, arch.arch, arch.standing, Marks())
    except ScanError:
        found = None
    caught["mirror image"] = None if same else _doubted(found, arch, None)
    caught["mirror image, a tooth named at sight"] = _doubted(found, arch, (first.tooth, seen * _MIRROR))
    if found is not None and not same:
        frame = found.frames[0]
        by_number = (frame.tooth, found.in_file(frame.centre))
        caught["mirror image, a tooth named by its number"] = _doubted(found, arch, by_number)
    else:
        caught["mirror image, a tooth named by its number"] = None if same else True
    return Trial(len(arch.standing), wrong, corrections, off, doubted, caught)


def _corrected(scan: Scan, arch: GeneratedArch, place: Located) -> tuple[tuple[int, ...], int, Located]:
    true = {crown.tooth: crown.world(np.array([0.0, 0.0, crown.height * 0.6])) for crown in arch.crowns}
    width = {crown.tooth: crown.sides[0].widest + crown.sides[1].widest for crown in arch.crowns}
    marks, off = Marks(unit="mm"), _off(place, true, width)
    wrong = tuple(tooth for tooth, share in off.items() if share > 1 / 3)
    for corrections in range(_MOST_CORRECTIONS):
        if max(off.values()) <= 1 / 3:
            return wrong, corrections, place
        worst = max(off, key=lambda tooth: off[tooth])
        marks = replace(marks, teeth={**marks.teeth, worst: ToothMarks(inside=true[worst])})
        place = locate(scan, arch.arch, arch.standing, marks)
        off = _off(place, true, width)
    return wrong, _MOST_CORRECTIONS, place


def _cuts_off(place: Located, arch: GeneratedArch) -> tuple[float, ...]:
    true = {crown.tooth: true_outline(crown) for crown in arch.crowns}
    frames = {frame.tooth: frame for frame in place.frames}
    found = []
    for cut in cuts(place.frames):
        ends = [place.level(true[tooth][name])[:2] for tooth, name in cut.ends]
        tooth, name = cut.ends[0]
        across = frames[tooth].mesial if name in ("mesial", "distal") else frames[tooth].facial
        found.append(round(abs(float((cut.place - np.mean(ends, axis=0)) @ across)), 3))
    return tuple(found)


def _off(place: Located, true: Mapping[int, Floats], width: Mapping[int, float]) -> dict[int, float]:
    """How far each proposed tooth lies from its crown, as a share of its width."""
    return {
        frame.tooth: float(np.linalg.norm((frame.centre - place.level(true[frame.tooth]))[:2]))
        / width[frame.tooth]
        for frame in place.frames
    }


def _unit_refused(mesh: Mesh, factor: float) -> bool:
    try:
        prepared(Mesh(mesh.points * factor, mesh.faces), "trial")
    except ScanError:
        return True
    return False


def _other_jaw_caught(scan: Scan, arch: str, standing: list[int]) -> bool:
    """Refused, or doubted in words."""
    try:
        place = locate(scan, arch, standing, Marks())
        refuse_wrong_side(place, Marks())
    except ScanError:
        return True
    return bool(doubts(place, standing, side_named=False))


def _doubted(place: Located | None, arch: GeneratedArch, side: tuple[int, Floats] | None) -> bool:
    """Refused, or doubted in words, with a tooth named or none; one named tooth does not change where teeth are
    sought."""
    if place is None:
        return True
    try:
        refuse_wrong_side(place, Marks(side=side))
    except ScanError:
        return True
    return bool(doubts(place, arch.standing, side_named=side is not None))
