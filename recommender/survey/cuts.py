"""Correcting a proposal by its cuts: the ends of crowns, and the cut that two neighbours share."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from recommender.domain.dentition import neighbour, quadrant
from recommender.survey.arrays import Floats
from recommender.survey.frames import ToothFrame


@dataclass(frozen=True)
class Cut:
    """Ends of outlines that are moved together: tooth and name of the end; ``place`` (2,) in the level frame."""

    ends: tuple[tuple[int, str], ...]
    place: Floats


def cuts(frames: Iterable[ToothFrame]) -> list[Cut]:
    """Every end of every crown; two neighbours in contact share the one between them."""
    by_tooth = {frame.tooth: frame for frame in frames}
    found, shared = [], set()
    for tooth, frame in by_tooth.items():
        for name, point in frame.outline().items():
            if (tooth, name) in shared:
                continue
            ends, places = [(tooth, name)], [point[:2]]
            other = _facing(frame, name, by_tooth)
            if other is not None:
                ends.append(other)
                places.append(by_tooth[other[0]].outline()[other[1]][:2])
            shared.update(ends)
            found.append(Cut(tuple(ends), np.mean(places, axis=0)))
    return found


def nearest_cut(frames: Iterable[ToothFrame], place: Floats, reach_mm: float) -> Cut | None:
    """The cut nearest to a place (2,) of the level frame, within ``reach_mm``."""
    known = cuts(frames)
    away = [float(np.linalg.norm(cut.place - place)) for cut in known]
    if not known or min(away) > reach_mm:
        return None
    return known[int(np.argmin(away))]


def _facing(frame: ToothFrame, name: str, by_tooth: dict[int, ToothFrame]) -> tuple[int, str] | None:
    """The neighbour's end that touches an end of a crown."""
    touching = dict(zip(("mesial", "distal"), frame.lines, strict=True))
    other = neighbour(frame.tooth, name) if touching.get(name) is not None else None
    if other is None or other not in by_tooth:
        return None
    across = quadrant(other) != quadrant(frame.tooth)
    return other, "mesial" if across or name == "distal" else "distal"
