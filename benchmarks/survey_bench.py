"""Invented arches and what a survey of them is held against; used by ``benchmarks.survey`` and by the tests."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from recommender.survey.arrays import Floats
from recommender.survey.crown import CONTACT_GAP_MM
from recommender.survey.directions import path_direction
from recommender.survey.generate.arch import GeneratedArch
from recommender.survey.generate.marking import true_marks
from recommender.survey.generate.plan import Plan
from recommender.survey.generate.spoil import Flaws, spoilt
from recommender.survey.generate.surface import arch_mesh
from recommender.survey.generate.truth import TrueSurvey
from recommender.survey.marks import Marks
from recommender.survey.mesh import Mesh
from recommender.survey.result import Survey
from recommender.survey.scan import Scan, prepared
from recommender.survey.settings import settings
from recommender.survey.surveying import Dentition, survey
from recommender.survey.zones import ZONES

# Bounded and free-end spaces, both arches, crowding, drift, open spaces, an overhang of the gum.
PLANS: dict[str, dict[str, Any]] = {
    "complete upper": {"arch": "maxilla", "seed": 1},
    "two spaces upper": {"arch": "maxilla", "missing": (15, 16, 25, 26), "seed": 2, "tissue": {13: 1.0, 14: 0.6, 23: 0.3}},
    "one-sided extension upper": {"arch": "maxilla", "missing": (17, 16, 15, 26), "seed": 3, "tissue": {14: 1.4}},
    "two-sided extension lower": {"arch": "mandible", "missing": (36, 37, 46, 47), "seed": 4, "tissue": {34: 0.8, 44: 1.2}},
    "drifted lower": {"arch": "mandible", "missing": (35, 36, 46), "seed": 5, "drift": 1.0},
    "crowded upper": {"arch": "maxilla", "missing": (14,), "seed": 6, "crowding": 1.0, "drift": 0.5},
    "crowded complete lower": {"arch": "mandible", "seed": 7, "crowding": 1.0},
    "open spaces upper": {"arch": "maxilla", "missing": (12, 22), "seed": 8, "spaces": 1.0},
    "front space lower": {"arch": "mandible", "missing": (31, 41, 36), "seed": 9, "tissue": {43: 0.7}},
    "front and back upper": {"arch": "maxilla", "missing": (11, 21, 16, 26), "seed": 10, "tissue": {12: 0.9}},
    "lone molar lower": {"arch": "mandible", "missing": (44, 45, 46, 35), "seed": 11, "drift": 1.0},
    "premolars upper": {"arch": "maxilla", "missing": (24, 25, 26, 14, 15), "seed": 12, "drift": 0.6},
}
LEVEL = np.array([0.0, 0.0, 1.0])


@dataclass
class Bench:
    """An invented arch with its scans, made when first asked for."""

    name: str
    arch: GeneratedArch
    clean: Mesh
    noise_mm: float = 0.03
    seed: int = 0

    @classmethod
    def of(cls, name: str, edge_mm: float = 0.22, noise_mm: float = 0.03, seed: int = 0) -> "Bench":
        """The bench for one of ``PLANS``."""
        arch = GeneratedArch(Plan(**PLANS[name]))
        return cls(name, arch, arch_mesh(arch, edge_mm), noise_mm, seed)

    @property
    def dentition(self) -> Dentition:
        """The case's side of it."""
        return Dentition(self.arch.arch, tuple(self.arch.standing), tuple(self.arch.plan.missing))

    def scan(self) -> Scan:
        """A scan with the flaws of a scanner, in the level frame, so that marks of the truth fit it."""
        return prepared(spoilt(self.clean, Flaws(noise_mm=self.noise_mm), self.seed), self.name, "mm")

    def surveyed(self, marks: Marks) -> Survey:
        """A survey of the scan with those marks."""
        return survey(self.scan(), self.dentition, marks)

    def truth(self, result: Survey, up: Floats) -> dict[int, Floats]:
        """Undercuts by tooth and zone in closed form, for a path of the arch's own level frame."""
        found = {}
        for crown in self.arch.crowns:
            true = TrueSurvey(self.arch, crown)
            frame = result.parts[crown.tooth].surface.frame
            rotation, origin = result.located.rotation, result.located.origin
            outline = (true.outline() - origin) @ rotation.T
            true.shut = frame.beyond_contacts(outline[:, :2], CONTACT_GAP_MM)
            found[crown.tooth] = true.at(up).undercut
        return found


@dataclass(frozen=True)
class Errors:
    """Figures of a survey beside the truth: value less truth, whether the band holds the truth, and the gauges."""

    off: Floats
    held: Floats
    width: Floats
    gauges_apart: Floats
    undecided: Floats

    @staticmethod
    def joined(parts: "list[Errors]") -> "Errors":
        """Several as one."""
        names = ("off", "held", "width", "gauges_apart", "undecided")
        return Errors(*(np.concatenate([getattr(part, name) for part in parts]) for name in names))

    def line(self) -> str:
        """The figures of the acceptance list in one line."""
        away = np.abs(self.off)
        return (
            f"same gauge {100 * np.mean(self.gauges_apart == 0):.1f} %, within one {100 * np.mean(self.gauges_apart <= 1):.1f} %, "
            f"still need a gauge in the hand {100 * np.mean(self.undecided):.1f} % | mean {away.mean():.3f}, "
            f"95th {np.percentile(away, 95):.3f}, bias {self.off.mean():+.3f} | band holds the truth {100 * self.held.mean():.1f} %, "
            f"mean width {self.width.mean():.2f} mm | {len(away)} zones"
        )


def compared(result: Survey, truth: dict[int, Floats]) -> Errors:
    """Every zone that both measured."""
    gauges = np.array(settings()["gauges_mm"])
    off, held, width, apart, undecided = [], [], [], [], []
    for tooth, entry in result.teeth.items():
        for index, zone in enumerate(ZONES):
            own, true = entry.undercuts_mm[zone], truth[tooth][index]
            if own.value is None or own.low is None or own.high is None or not np.isfinite(true):
                continue
            off.append(own.value - true)
            held.append(own.low - 0.005 <= true <= own.high + 0.005)
            width.append(own.high - own.low)
            apart.append(abs(int((gauges <= own.value).sum()) - int((gauges <= true).sum())))
            undecided.append(bool(((gauges > own.low) & (gauges <= own.high)).any()))
    return Errors(*(np.array(values, dtype=float) for values in (off, held, width, apart, undecided)))


def level_path(bench: Bench) -> Marks:
    """Everything confirmed from the truth, path level."""
    return true_marks(bench.arch, path=(0.0, 0.0))


def own_level(result: Survey, arch: str, path: tuple[float, float]) -> Floats:
    """A path that was chosen in a survey's frame, in the frame of its file."""
    return np.asarray(path_direction(*path, arch) @ result.located.rotation)
