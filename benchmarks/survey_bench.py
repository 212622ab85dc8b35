"""Invented arches and what a survey of them is held against; used by ``benchmarks.survey`` and by the tests."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from benchmarks.survey_marking import mirrored_marks, moved_marks, true_marks
from benchmarks.survey_truth import TrueSurvey
from recommender.domain.dentition import mirror
from recommender.survey.arrays import Floats
from recommender.survey.crown import CONTACT_GAP_MM
from recommender.survey.directions import cone, path_direction, tilts
from recommender.survey.generate.arch import GeneratedArch
from recommender.survey.generate.plan import Plan
from recommender.survey.generate.spoil import Flaws, spoilt
from recommender.survey.generate.surface import arch_mesh
from recommender.survey.marks import Marks
from recommender.survey.mesh import Mesh
from recommender.survey.paths import score, terms_of
from recommender.survey.result import Figure, Survey
from recommender.survey.scan import Scan, prepared
from recommender.survey.settings import settings
from recommender.survey.surveying import Dentition, survey
from recommender.survey.zones import ZONES

# Bounded and free-end spaces, both arches, crowding, drift, open spaces, an overhang of the gum.
PLANS: dict[str, dict[str, Any]] = {
    "complete upper": {"arch": "maxilla", "seed": 1},
    "two spaces upper": {
        "arch": "maxilla",
        "missing": (15, 16, 25, 26),
        "seed": 2,
        "tissue": {13: 1.0, 14: 0.6, 23: 0.3},
    },
    "one-sided extension upper": {
        "arch": "maxilla",
        "missing": (17, 16, 15, 26),
        "seed": 3,
        "tissue": {14: 1.4},
    },
    "two-sided extension lower": {
        "arch": "mandible",
        "missing": (36, 37, 46, 47),
        "seed": 4,
        "tissue": {34: 0.8, 44: 1.2},
    },
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
    def random(cls, seed: int, edge_mm: float = 0.22) -> "Bench":
        """The bench for an arch of chance."""
        arch = GeneratedArch(random_plan(seed))
        return cls(f"random {seed}", arch, arch_mesh(arch, edge_mm), seed=seed)

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
        same, near = (100 * np.mean(self.gauges_apart <= apart) for apart in (0, 1))
        return (
            f"same gauge {same:.1f} %, within one {near:.1f} %, still need a gauge in the hand "
            f"{100 * np.mean(self.undecided):.1f} % | mean {away.mean():.3f}, 95th {np.percentile(away, 95):.3f}, "
            f"bias {self.off.mean():+.3f} mm | band holds the truth {100 * self.held.mean():.1f} %, "
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


def with_base(mesh: Mesh, depth_mm: float = 15.0) -> Mesh:
    """The open scan as a closed cast: walls from its edge down to a flat base ``depth_mm`` below its lowest point."""
    sides = np.concatenate([mesh.faces[:, [0, 1]], mesh.faces[:, [1, 2]], mesh.faces[:, [2, 0]]])
    keys = np.sort(sides, axis=1) @ np.array([len(mesh.points), 1])
    _, place, count = np.unique(keys, return_inverse=True, return_counts=True)
    start, end = sides[count[place.ravel()] == 1].T
    rim = np.unique(np.append(start, end))
    foot = np.zeros(len(mesh.points), dtype=np.int64)
    foot[rim] = len(mesh.points) + np.arange(len(rim))
    below = mesh.points[rim].copy()
    below[:, 2] = mesh.points[:, 2].min() - depth_mm
    middle = np.full(len(start), len(mesh.points) + len(rim))
    faces = np.vstack([
        mesh.faces, np.column_stack([end, start, foot[start]]), np.column_stack([end, foot[start], foot[end]]),
        np.column_stack([foot[end], foot[start], middle]),
    ])  # fmt: skip
    return Mesh(np.vstack([mesh.points, below, below.mean(axis=0)]), faces)


def angle_deg(first: Floats, second: Floats) -> float:
    """Angle between two unit vectors."""
    return math.degrees(math.acos(float(np.clip(first @ second, -1.0, 1.0))))


def own_level(result: Survey, arch: str, path: tuple[float, float]) -> Floats:
    """A path that was chosen in a survey's frame, in the frame of its file."""
    return np.asarray(path_direction(*path, arch) @ result.located.rotation)


def random_plan(seed: int) -> Plan:
    """An arch with a random choice of missing teeth, crowding, drift and open spaces."""
    rng = np.random.default_rng(10_000 + seed)
    arch = ("maxilla", "mandible")[seed % 2]
    quadrants = (1, 2) if arch == "maxilla" else (3, 4)
    teeth = [quadrant * 10 + kind for quadrant in quadrants for kind in range(1, 8)]
    gone = rng.choice(teeth, size=int(rng.integers(0, 8)), replace=False)
    return Plan(
        arch,
        tuple(int(tooth) for tooth in sorted(gone)),
        seed,
        crowding=float(rng.choice([0.0, 0.5, 1.0])),
        drift=float(rng.choice([0.0, 0.5, 1.0])),
        spaces=float(rng.choice([0.0, 0.0, 1.0])),
    )


def path_judge(bench: Bench, result: Survey) -> Callable[[tuple[float, float]], float]:
    """The score of a path in closed form, for tilts in the frame of a survey of the bench."""
    rotation, origin = result.located.rotation, result.located.origin
    beside = bench.dentition.beside_spaces()
    true = {}
    for tooth in beside:
        whole = TrueSurvey(bench.arch, bench.arch.crown(tooth), angles=180, levels=60, directions=90)
        frame = result.parts[tooth].surface.frame
        whole.shut = frame.beyond_contacts(((whole.outline() - origin) @ rotation.T)[:, :2], CONTACT_GAP_MM)
        true[tooth] = whole

    def judged(pair: tuple[float, float]) -> float:
        up = own_level(result, bench.arch.arch, pair)
        terms = [
            terms_of(tooth, dict(zip(ZONES, true[tooth].undercuts(up), strict=True)), zones)
            for tooth, zones in beside.items()
        ]
        return score(terms, float(np.hypot(*pair)))

    return judged


@dataclass(frozen=True)
class PathQuality:
    """``loss``: score that the path found loses to the best of the closed form; ``angle`` between the two (degrees).
    ``first_loss``, ``first_angle``: the same of the path proposed before outlines and margins are confirmed;
    ``moved``: the angle between that one and the path found after."""

    loss: float
    angle: float
    first_loss: float
    first_angle: float
    moved: float


def path_quality(bench: Bench) -> PathQuality | None:
    """How good the path is that is found with outlines and margins confirmed, and the one proposed before.

    Level and side are confirmed both times, as they are when a path is looked at. ``None`` without an abutment.
    """
    if not bench.dentition.beside_spaces():
        return None
    marks = true_marks(bench.arch)
    scan = bench.scan()
    result, first = (survey(scan, bench.dentition, m) for m in (marks, replace(marks, teeth={})))
    judged, figures = path_judge(bench, result), settings()["path"]
    scores = {pair: judged(pair) for pair in cone(figures["cone_deg"], figures["step_deg"])}
    top = max(scores.values())
    # of directions equally good, the least tilted is the best on both sides of the comparison
    best = next(pair for pair in scores if scores[pair] >= top - figures["propose_within"])
    ways = [own_level(result, bench.arch.arch, pair) for pair in (best, _tilts(result))]
    ways.append(own_level(first, bench.arch.arch, _tilts(first)))
    # the first proposal, in the frame that the closed form is judged in
    proposed = tilts(result.located.rotation @ ways[2], bench.arch.arch)
    return PathQuality(
        top - scores[_tilts(result)], angle_deg(ways[0], ways[1]), top - judged(proposed),
        angle_deg(ways[0], ways[2]), angle_deg(ways[1], ways[2]),
    )  # fmt: skip


def _tilts(result: Survey) -> tuple[float, float]:
    return result.path.tilt_ap_deg, result.path.tilt_lateral_deg


def turned_and_mirrored(bench: Bench) -> tuple[float, float, int]:
    """Greatest change of any figure when scan and marks are turned, or mirrored; and how many figures there are."""
    rng = np.random.default_rng(5)
    turn = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    turn = turn * np.sign(np.linalg.det(turn))
    origin = np.array([12.0, -40.0, 7.0])
    marks, raw, dentition = true_marks(bench.arch), bench.scan().raw, bench.dentition
    plain = _figures(survey(prepared(raw, "plain", "mm"), dentition, marks), False)
    turned = _figures(
        survey(
            prepared(raw.moved(turn, origin), "turned", "mm"), dentition, moved_marks(marks, turn, origin)
        ),
        False,
    )
    other = Dentition(
        dentition.arch, tuple(map(mirror, dentition.standing)), tuple(map(mirror, dentition.replaced))
    )
    mirrored = _figures(
        survey(
            prepared(raw.moved(np.diag([-1.0, 1.0, 1.0])), "mirrored", "mm"), other, mirrored_marks(marks)
        ),
        True,
    )
    changes = [max(abs(plain[key] - found[key]) for key in plain) for found in (turned, mirrored)]
    if set(plain) != set(turned) or set(plain) != set(mirrored):
        changes = [float("inf"), float("inf")]
    return changes[0], changes[1], len(plain)


def _figures(result: Survey, turned: bool) -> dict[tuple[object, ...], float]:
    """Every figure of a survey by a key; tooth numbers turned back where the scan was mirrored."""

    def name(tooth: int) -> int:
        return mirror(tooth) if turned else tooth

    found: dict[tuple[object, ...], float] = {}

    def note(key: tuple[object, ...], figure: Figure) -> None:
        for part in ("low", "value", "high"):
            number = getattr(figure, part)
            if number is not None:
                found[(*key, part)] = number

    for tooth, entry in result.teeth.items():
        for kind in ("undercuts_mm", "undercuts_level_mm"):
            for zone, figure in getattr(entry, kind).items():
                note((name(tooth), kind, zone), figure)
        note((name(tooth), "height"), entry.crown_height_mm)
        note((name(tooth), "tissue"), entry.tissue_undercut_mm)
        for zone, line in entry.contour.items():
            found[name(tooth), "line", zone] = line.above_margin_mm
    for space in result.spaces:
        note((tuple(sorted(map(name, space.teeth))), "width"), space.width_mm)
    if result.palate is not None:
        note(("vault",), result.palate.vault_mm)
        note(("rugae",), result.palate.rugae_mm)
    found["front down",] = result.path.tilt_ap_deg
    found["right down",] = result.path.tilt_lateral_deg * (-1 if turned else 1)
    return found
