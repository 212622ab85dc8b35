"""An invented opposing arch in light contact with another, as a second scan in the same frame."""

import numpy as np

from recommender.survey.arrays import Floats
from recommender.survey.generate.arch import GeneratedArch
from recommender.survey.generate.plan import Plan
from recommender.survey.generate.surface import arch_mesh
from recommender.survey.heights import height_image
from recommender.survey.mesh import Mesh

_FORWARD = {
    "maxilla": -1.5,
    "mandible": 1.5,
}  # where the other arch lies, so that upper teeth overlap lower ones


class Opposing:
    """``mesh``: the opposing scan in the level frame of ``below``; ``heights``: its lowest surface over (x, y) in
    closed form."""

    def __init__(self, below: GeneratedArch, scan: Mesh, edge_mm: float = 0.3) -> None:
        other = "mandible" if below.arch == "maxilla" else "maxilla"
        self.arch = GeneratedArch(Plan(other, (), below.plan.seed + 1077, palate=False, tilt_sd_deg=2.0))
        self.forward = _FORWARD[below.arch]
        upright = arch_mesh(self.arch, edge_mm)
        turned = upright.points * np.array([-1.0, 1.0, -1.0]) + np.array([0.0, self.forward, 0.0])
        self.lift = self._contact(scan, Mesh(turned, upright.faces))
        self.mesh = Mesh(turned + np.array([0.0, 0.0, self.lift]), upright.faces)

    @staticmethod
    def _contact(scan: Mesh, turned: Mesh, cell: float = 0.2) -> float:
        """How far the opposing arch is lifted so that it just touches."""
        low = np.minimum(scan.points.min(0), turned.points.min(0))[:2] - 1
        high = np.maximum(scan.points.max(0), turned.points.max(0))[:2] + 1
        upper = height_image(scan, cell, (low, high))
        lower = height_image(
            Mesh(turned.points * np.array([1.0, 1.0, -1.0]), turned.faces), cell, (low, high)
        )
        both = upper.heights + lower.heights
        return float(np.percentile(both[np.isfinite(both)], 99.98))

    def heights(self, places: Floats, step: float = 0.1) -> Floats:
        """Lowest surface of the opposing arch over (x, y) of the level frame, sought in steps; NaN where there is
        none."""
        own = np.column_stack([-places[:, 0], places[:, 1] - self.forward])
        return self.lift - self.arch.surface_heights(own, step=step)
