"""Marks as a perfect hand, or an unsteady one, would set them on an invented arch."""

from dataclasses import replace

import numpy as np

from benchmarks.survey_truth import margin_ring
from recommender.domain.dentition import mirror
from recommender.survey.arrays import Floats, unit
from recommender.survey.generate.arch import GeneratedArch
from recommender.survey.generate.crowns import Crown
from recommender.survey.marks import Marks, ToothMarks

_ABOVE_GUM_MM = 0.8


def true_outline(crown: Crown) -> dict[str, Floats]:
    """The four points of a crown's outline seen along the level's vertical, in the level frame."""
    angles = np.linspace(0, 2 * np.pi, 360, endpoint=False)
    heights = np.linspace(_ABOVE_GUM_MM, crown.height, 90)
    walls = crown.world(crown.wall(angles[:, None], np.broadcast_to(heights, (360, 90)))).reshape(-1, 3)
    mesial = unit(crown.axes[0][:2])
    facial = unit(crown.axes[1][:2] - mesial * float(crown.axes[1][:2] @ mesial))
    along, across = walls[:, :2] @ mesial, walls[:, :2] @ facial
    middle_along, middle_across = (along.max() + along.min()) / 2, (across.max() + across.min()) / 2
    height = crown.centre[2] + crown.height / 2

    def place(x: float, y: float) -> Floats:
        return np.append(mesial * x + facial * y, height)

    return {
        "mesial": place(along.max(), middle_across), "facial": place(middle_along, across.max()),
        "distal": place(along.min(), middle_across), "lingual": place(middle_along, across.min()),
    }  # fmt: skip


def true_marks(
    arch: GeneratedArch, path: tuple[float, float] | None = None, clicks: int = 72, unsteady_mm: float = 0.0,
    outlines: bool = True, margins: bool = True, seed: int = 0,
) -> Marks:  # fmt: skip
    """Level, side and the outlines and margins of all teeth, in the level frame.

    ``clicks`` points a margin, each off by ``unsteady_mm`` (standard deviation) up or down.
    """
    rng = np.random.default_rng(seed)
    teeth = {}
    for crown in arch.crowns:
        ring = None
        if margins:
            ring = margin_ring(arch, crown, clicks)
            ring[:, 2] += rng.normal(0.0, unsteady_mm, clicks) if unsteady_mm else 0.0
        teeth[crown.tooth] = ToothMarks(
            true_outline(crown) if outlines else None, ring, None, outlines and margins
        )
    front = float(arch.curve[:, 1].max())
    level = np.array([[0.0, front, 5.0], [-22.0, 3.0, 5.0], [22.0, 3.0, 5.0]])
    first = arch.crowns[0]
    return Marks(
        unit="mm",
        side=(first.tooth, first.centre + np.array([0.0, 0.0, first.height])),
        level=level,
        teeth=teeth,
        path=path,
    )


def moved_marks(marks: Marks, rotation: Floats, origin: Floats | None = None) -> Marks:
    """Marks moved with a scan: points turned by a (3, 3) matrix about ``origin``, which becomes the origin."""
    shift = np.zeros(3) if origin is None else origin

    def move(points: Floats) -> Floats:
        result: Floats = (points - shift) @ rotation.T
        return result

    teeth = {
        tooth: ToothMarks(
            None if entry.outline is None else {name: move(point) for name, point in entry.outline.items()},
            None if entry.margin is None else move(entry.margin),
            None if entry.inside is None else move(entry.inside),
            entry.confirmed,
        )
        for tooth, entry in marks.teeth.items()
    }
    return replace(
        marks,
        side=None if marks.side is None else (marks.side[0], move(marks.side[1])),
        level=None if marks.level is None else move(marks.level),
        teeth=teeth,
        crests={key: move(line) for key, line in marks.crests.items()},
        palate={name: move(point) for name, point in marks.palate.items()},
    )


def mirrored_marks(marks: Marks) -> Marks:
    """Marks on the mirror image of a scan (x turned to -x), teeth named for the other side."""
    turned = moved_marks(marks, np.diag([-1.0, 1.0, 1.0]))
    return replace(
        turned,
        side=None if turned.side is None else (mirror(turned.side[0]), turned.side[1]),
        standing=None if turned.standing is None else tuple(mirror(tooth) for tooth in turned.standing),
        teeth={mirror(tooth): entry for tooth, entry in turned.teeth.items()},
        crests={tuple(sorted(mirror(tooth) for tooth in key)): line for key, line in turned.crests.items()},
        path=None if turned.path is None else (turned.path[0], -turned.path[1]),
    )
