"""The part of a mesh that belongs to one crown, in the crown's own frame (mesial, facial, up), so that a mirrored
scan gives the same numbers."""

from dataclasses import replace

import numpy as np

from recommender.survey.arrays import Bools, Floats, Ints
from recommender.survey.dimensions import crown_size
from recommender.survey.frames import ToothFrame
from recommender.survey.mesh import Mesh

COLUMNS = 72  # azimuths round a crown
_POWER = 2.5
CENTRES = (np.arange(COLUMNS) + 0.5) / COLUMNS * 2 * np.pi - np.pi


def column_of(azimuth: Floats) -> Ints:
    """Column of ``COLUMNS`` in which an azimuth lies."""
    column: Ints = ((azimuth + np.pi) / (2 * np.pi) * COLUMNS).astype(np.int64) % COLUMNS
    return column


def round_ring(values: Floats, azimuth: Floats) -> Floats:
    """Values given at the middle of every column, interpolated at azimuths."""
    place = (azimuth + np.pi) / (2 * np.pi) * COLUMNS - 0.5
    lower = np.floor(place).astype(np.int64)
    share = place - lower
    result: Floats = values[lower % COLUMNS] * (1 - share) + values[(lower + 1) % COLUMNS] * share
    return result


class CrownSurface:
    """Points of a levelled mesh round one crown.

    ``local`` (n, 3) and ``normals`` (n, 3) in the crown's frame; ``azimuth`` in the outline's own proportions;
    ``inner`` 1 on the outline, less inside it; ``outward`` how far the normal points away from the middle; ``hidden``
    what lies beyond a contact.
    """

    def __init__(self, mesh: Mesh, frame: ToothFrame) -> None:
        self.mesh, self.frame = mesh, frame
        half = np.array(frame.half)
        # a box round the frame first, for most of a scan lies outside it
        near = float(np.hypot(half[0] + 1.8, half[1] + 3.0))
        box = np.flatnonzero(
            (np.abs(mesh.columns[0] - frame.centre[0]) < near)
            & (np.abs(mesh.columns[1] - frame.centre[1]) < near)
        )
        away = mesh.points[box, :2] - frame.centre[:2]
        x, y = away @ frame.mesial, away @ frame.facial
        within = np.flatnonzero((np.abs(x) < half[0] + 1.8) & (np.abs(y) < half[1] + 3.0))
        chosen = box[within]
        self.chosen = chosen
        self.local: Floats = np.column_stack([x[within], y[within], mesh.points[chosen, 2]])
        normals = mesh.normals[chosen]
        self.normals: Floats = np.column_stack(
            [normals[:, :2] @ frame.mesial, normals[:, :2] @ frame.facial, normals[:, 2]]
        )
        x, y = self.local[:, 0], self.local[:, 1]
        self.azimuth: Floats = np.arctan2(y / half[1], x / half[0])
        self.column = column_of(self.azimuth)
        self.radius: Floats = np.hypot(x, y)
        self.inner: Floats = (np.abs(x / half[0]) ** _POWER + np.abs(y / half[1]) ** _POWER) ** (1 / _POWER)
        slope = np.column_stack([x / half[0] ** 2, y / half[1] ** 2])
        slope /= np.maximum(np.linalg.norm(slope, axis=1, keepdims=True), 1e-9)
        self.outward: Floats = (self.normals[:, :2] * slope).sum(1)
        self.hidden: Bools = self._hidden(x)

    def _hidden(self, x: Floats) -> Bools:
        hidden = self.frame.beyond_contacts(self.mesh.points[self.chosen, :2], 0.08)
        for sign, line in zip((1.0, -1.0), self.frame.lines, strict=True):
            if line is None:
                hidden |= sign * x > self.frame.half[0] * 1.06
        return hidden

    @property
    def concavity(self) -> Floats:
        """Inward bend of the mesh at the points."""
        return self.mesh.concavity[self.chosen]

    def directions(self) -> Floats:
        """Unit vectors (columns, 2) in the crown's frame toward the middle of every column."""
        across = np.column_stack([np.cos(CENTRES) * self.frame.half[0], np.sin(CENTRES) * self.frame.half[1]])
        result: Floats = across / np.linalg.norm(across, axis=1, keepdims=True)
        return result

    def shut_columns(self) -> Bools:
        """Columns at which no gauge can be brought because a neighbour touches."""
        cosine, sine = np.cos(CENTRES), np.sin(CENTRES)
        rim = np.column_stack([
            np.sign(cosine) * np.abs(cosine) ** 0.8 * self.frame.half[0],
            np.sign(sine) * np.abs(sine) ** 0.8 * self.frame.half[1],
        ])  # fmt: skip
        places = self.frame.centre[:2] + rim[:, :1] * self.frame.mesial + rim[:, 1:] * self.frame.facial
        return self.frame.beyond_contacts(places, CONTACT_GAP_MM)

    def fitted(self, margin: Floats) -> "CrownSurface":
        """Centre and half-widths taken from the crown itself: what stands above ``margin`` (height by column),
        between its ends."""
        above = self.local[:, 2] > round_ring(margin, self.azimuth) + 0.5
        x, y, half = self.local[:, 0], self.local[:, 1], self.frame.half
        middle = above & (np.abs(x) < 0.6 * half[0]) & (self.inner < 1.45)
        if middle.sum() < 80:
            return self
        low, high = np.percentile(y[middle], [0.5, 99.5])
        published = crown_size(self.frame.tooth).faciolingual
        if high - low > 1.25 * published:  # ran out over the gum: the facial end is clean
            low = high - 1.05 * published
        row = above & (np.abs(y - (low + high) / 2) < 0.55 * (high - low) / 2) & (np.abs(x) < 1.06 * half[0])
        start, end = np.percentile(x[row], [0.5, 99.5]) if row.sum() > 50 else (-half[0], half[0])
        start, end = max(start, -half[0] * 1.02), min(end, half[0] * 1.02)
        flat = (
            self.frame.centre[:2]
            + self.frame.mesial * (start + end) / 2
            + self.frame.facial * (low + high) / 2
        )
        wide = max((end - start) / 2, 0.8 * half[0])
        deep = float(np.clip((high - low) / 2, 0.75 * half[1], 1.5 * half[1]))
        frame = replace(self.frame, centre=np.append(flat, self.frame.centre[2]), half=(float(wide), deep))
        return CrownSurface(self.mesh, frame)


CONTACT_GAP_MM = 0.6
