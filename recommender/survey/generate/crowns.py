"""A crown as a stack of superelliptic sections whose half-widths vary with height, so that its reach is a closed
form."""

from dataclasses import dataclass

import numpy as np

from recommender.survey.arrays import Bools, Floats

_BELOW, _THINNEST = -2.5, 0.15
_ROOT_END = -3.5


@dataclass(frozen=True)
class Side:
    """One side of a crown: half-width over height above the cervical plane (mm).

    ``widest`` at ``contour`` height; from there the side comes in by ``neck`` at the cervical plane and by ``edge``
    at the occlusal edge, with the power ``bend``.
    """

    widest: float
    contour: float
    neck: float
    edge: float
    bend: float = 2.0

    def at(self, height: Floats, crown: float) -> Floats:
        """Half-width at heights of a crown that is ``crown`` mm high."""
        below = np.clip((self.contour - height) / self.contour, 0.0, None)
        above = np.clip((height - self.contour) / (crown - self.contour), 0.0, 1.3)
        half: Floats = np.maximum(
            self.widest - self.neck * below**2 - self.edge * above**self.bend, _THINNEST
        )
        return half


@dataclass(frozen=True)
class Crown:
    """One invented tooth. ``axes`` rows: mesial, facial, long axis, in the level frame; may be left-handed.

    ``sides``: mesial, distal, facial, lingual. ``cusps``: (mesial, facial, height, spread). ``gum``: mean height of
    the gum above the cervical plane and its scallop, higher between the teeth.
    """

    tooth: int
    centre: Floats
    axes: Floats
    height: float
    sides: tuple[Side, Side, Side, Side]
    power: float
    cusps: tuple[tuple[float, float, float, float], ...] = ()
    fossa: float = 0.0
    gum: tuple[float, float] = (0.6, 0.9)

    def local(self, points: Floats) -> Floats:
        """Points of the level frame in the crown's own frame."""
        result: Floats = (points - self.centre) @ self.axes.T
        return result

    def world(self, points: Floats) -> Floats:
        """The inverse of ``local``."""
        result: Floats = points @ self.axes + self.centre
        return result

    def halves(self, x: Floats, y: Floats, z: Floats) -> tuple[Floats, Floats]:
        """Half-widths of the section at height ``z`` on the side on which (x, y) lies."""
        height = np.clip(z, _BELOW, self.height)
        mesial, distal, facial, lingual = (side.at(height, self.height) for side in self.sides)
        return np.where(x >= 0, mesial, distal), np.where(y >= 0, facial, lingual)

    def radius(self, local: Floats) -> tuple[Floats, Floats]:
        """How far out a point lies, 1 on the wall, and the smaller half-width there (mm)."""
        x, y, z = local[..., 0], local[..., 1], local[..., 2]
        a, b = self.halves(x, y, z)
        return (np.abs(x / a) ** self.power + np.abs(y / b) ** self.power) ** (1 / self.power), np.minimum(
            a, b
        )

    def top(self, x: Floats, y: Floats) -> Floats:
        """Height of the occlusal surface over (x, y) of the crown's frame."""
        a, b = self.halves(x, y, np.full(np.shape(x), self.height))
        radius = np.minimum(
            (np.abs(x / a) ** self.power + np.abs(y / b) ** self.power) ** (1 / self.power), 1.0
        )
        surface = np.full(np.shape(x), self.height) - self.fossa * (1 - radius**2)
        for place_x, place_y, high, spread in self.cusps:
            away = (x - place_x) ** 2 + (y - place_y) ** 2
            surface = surface + high * (1 - radius**4) * np.exp(-away / (2 * spread * spread))
        return surface

    def value(self, points: Floats) -> Floats:
        """Negative inside the tooth, positive outside, about a distance in mm near the surface."""
        local = self.local(points)
        radius, half = self.radius(local)
        over = (local[..., 2] - self.top(local[..., 0], local[..., 1])) * 0.8
        value: Floats = np.maximum((radius - 1) * half, np.maximum(over, _ROOT_END - local[..., 2]))
        return value

    def wall(self, angle: Floats, z: Floats) -> Floats:
        """Points of the wall for superellipse parameter angles and heights, in the crown's frame."""
        x, y = self.rim(angle)
        a, b = self.halves(x, y, np.asarray(z, dtype=np.float64))
        return np.stack(np.broadcast_arrays(x * a, y * b, z), axis=-1).astype(np.float64)

    def rim(self, angle: Floats) -> tuple[Floats, Floats]:
        """The superellipse of half-widths one at parameter angles."""
        cosine, sine = np.cos(angle), np.sin(angle)
        return (
            np.sign(cosine) * np.abs(cosine) ** (2 / self.power),
            np.sign(sine) * np.abs(sine) ** (2 / self.power),
        )

    def reach(self, direction: Floats, z: Floats) -> tuple[Floats, Floats]:
        """Greatest extent of the sections at ``z`` along directions of the crown's frame, and where it is reached."""
        x, y, up = direction[..., 0], direction[..., 1], direction[..., 2]
        a, b = self.halves(x, y, z)
        conjugate = self.power / (self.power - 1)
        along_x, along_y = np.abs(a * x) + 1e-300, np.abs(b * y) + 1e-300
        extent = (along_x**conjugate + along_y**conjugate) ** (1 / conjugate)
        at_x = a * np.sign(x) * (along_x / extent) ** (conjugate - 1)
        at_y = b * np.sign(y) * (along_y / extent) ** (conjugate - 1)
        return extent + z * up, np.stack(np.broadcast_arrays(at_x, at_y, z), axis=-1).astype(np.float64)

    def near(self, points: Floats, reach: float) -> Bools:
        """Which points lie within ``reach`` mm of the long axis, seen from above."""
        away = points[:, :2] - self.centre[:2]
        close: Bools = (away**2).sum(1) < reach * reach
        return close
