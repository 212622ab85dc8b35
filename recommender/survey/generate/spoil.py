"""What a scanner adds: noise, most of it spread over a millimetre, a slow warp, blobs, spikes and holes."""

from dataclasses import dataclass

import numpy as np

from recommender.survey.arrays import Floats
from recommender.survey.mesh import Mesh, compact


@dataclass(frozen=True)
class Flaws:
    """How a scan is spoilt: standard deviation of noise and warp in mm, and how many of each flaw."""

    noise_mm: float = 0.03
    warp_mm: float = 0.1
    holes: int = 6
    blobs: int = 4
    spikes: int = 20


def spoilt(mesh: Mesh, flaws: Flaws, seed: int = 0) -> Mesh:
    """The mesh with those flaws; the same seed gives the same flaws."""
    rng = np.random.default_rng(seed)
    points = mesh.points + mesh.normals * _noise(mesh, flaws.noise_mm, rng)[:, None]
    x, y = mesh.points[:, 0] / 30, mesh.points[:, 1] / 30
    bend = flaws.warp_mm * rng.normal(size=4)
    points = points + np.column_stack(
        [bend[0] * y * y, bend[1] * x * y, bend[2] * (x * x - 0.3) + bend[3] * x * y]
    )
    for _ in range(flaws.blobs):
        away = np.linalg.norm(mesh.points - mesh.points[rng.integers(len(points))], axis=1)
        size = np.exp(-((away / rng.uniform(0.4, 0.9)) ** 2)) * rng.uniform(0.1, 0.25)
        points = points + mesh.normals * size[:, None]
    for _ in range(flaws.spikes):
        index = rng.integers(len(points))
        points[index] += mesh.normals[index] * rng.uniform(0.2, 0.6) * rng.choice([-1, 1])
    centres = mesh.points[mesh.faces].mean(axis=1)
    keep = np.ones(len(mesh.faces), bool)
    for _ in range(flaws.holes):
        away = np.linalg.norm(centres - mesh.points[rng.integers(len(points))], axis=1)
        keep &= away > rng.uniform(0.3, 1.0)
    return compact(points, mesh.faces[keep])


def _noise(mesh: Mesh, deviation: float, rng: np.random.Generator) -> Floats:
    if not deviation:
        return np.zeros(len(mesh.points))
    fine, broad = rng.normal(size=len(mesh.points)), rng.normal(size=len(mesh.points))
    for _ in range(int(max(1, (0.6 / mesh.edge_mm) ** 2))):
        broad = 0.5 * broad + 0.5 * (mesh.neighbours @ broad)
    fine = 0.5 * fine + 0.5 * (mesh.neighbours @ fine)
    noise: Floats = deviation * (0.85 * broad / broad.std() + 0.53 * fine / fine.std())
    return noise
