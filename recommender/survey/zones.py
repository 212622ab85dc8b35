"""The eight zones of a crown, by azimuth in the crown's own frame (x mesial, y facial, each over its half-width)."""

import numpy as np

from recommender.survey.arrays import Floats, Ints

ZONES = (
    "mesiofacial", "midfacial", "distofacial", "mesiolingual", "midlingual", "distolingual", "mesial", "distal",
)  # fmt: skip
FACIAL, LINGUAL = ZONES[:3], ZONES[3:6]
# Azimuths in degrees from mesial; the facial and the lingual third of a turn hold three zones of 30 degrees each.
_STARTS = {"mesio": 45.0, "mid": 75.0, "disto": 105.0, "distal": 135.0}


def zone_index(x: Floats, y: Floats) -> Ints:
    """Index into ``ZONES`` of points in normalised crown coordinates."""
    azimuth = np.degrees(np.arctan2(y, x))
    turn = np.abs(azimuth)
    index = np.full(np.shape(azimuth), ZONES.index("mesial"), dtype=np.int64)
    index[turn >= _STARTS["distal"]] = ZONES.index("distal")
    for place, (low, high) in enumerate(((45.0, 75.0), (75.0, 105.0), (105.0, 135.0))):
        within = (turn >= low) & (turn < high)
        index[within & (azimuth > 0)] = place
        index[within & (azimuth < 0)] = place + 3
    return index
