"""Metal up on the lingual of the teeth: a scalloped edge that rises to the contacts and dips to the cingula."""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from recommender.documents.drawing.figures import size
from recommender.documents.drawing.frame import Frame, is_back
from recommender.documents.drawing.shapes import ribbon

_ALONG = np.linspace(-1.0, 1.0, 17)


def scallops(frame: Frame, teeth: Sequence[int], stepped: bool = False) -> BaseGeometry:
    """What a plate covers of each crown, below its scalloped edge; ``stepped``: it stays down at the contacts."""
    faces = []
    for tooth in teeth:
        share = size("plate_share") if is_back(tooth) else size("apron_over_cingulum_share")
        middle, contact = -1.0 + 1.4 * share, -0.06 if is_back(tooth) else -0.02
        if stepped:
            contact = middle + 0.15
        edge = middle + (contact - middle) * np.abs(_ALONG) ** 1.8
        line = frame.crown(tooth).spots(np.column_stack((_ALONG * 1.02, edge)))
        low = frame.crown(tooth).spots(np.array([(1.3, -1.25), (-1.3, -1.25)]))
        face = Polygon(np.vstack((line, low)))
        if not face.is_valid:
            face = face.buffer(0)
        faces.append(face.intersection(frame.outline(tooth).buffer(0.02)))
    return unary_union(faces)


def slots(frame: Frame, teeth: Sequence[int]) -> BaseGeometry:
    """Cuts behind the open spaces between plated teeth, so that no metal shows there."""
    stations = sorted(frame.station(tooth) for tooth in teeth)
    wide = size("step_back_width")
    return unary_union(
        [
            ribbon([frame.lingual_point((a + b) / 2, d) for d in (-4.5, size("step_back_depth"))], wide)
            for a, b in pairwise(stations)
            if b - a < 1.01
        ]
    )
