"""A retentive arm on a tooth: how long it is, how hard it holds and how near it comes to yielding.

The arm is told in plain numbers (where it starts, which surface, how far it reaches, section, material, the
band of the crown that it crosses), the tooth by its published crown. Each uncertain figure is varied over its
published or trade spread by itself and the spreads are combined as independent ones, which gives the twenty-
fold range that laboratories report for one nominal clasp (row RET-141) and not a bare number.
"""

from dataclasses import dataclass

import numpy as np

from recommender.mechanics.alloys import material, table_or_list
from recommender.mechanics.bands import Band, as_band, exact, independent
from recommender.mechanics.curve import Array
from recommender.mechanics.figures import figure_band, figures, remembered
from recommender.mechanics.flexure import Bend, bar_arm, curved_arm, withdrawal_factor
from recommender.mechanics.teeth import ToothSize


@dataclass(frozen=True, slots=True)
class RetentiveArm:
    """One arm, ready to be bent.

    ``length_mm``; ``stiffness_n_per_mm`` sideways at the tip; ``stress_ratio_per_mm``: peak stress over proof
    stress for each millimetre of undercut; ``peak_at``: where the stress peaks, as a share of the length from
    the origin; ``withdrawal``: withdrawing over lateral force.
    """

    length_mm: Band
    stiffness_n_per_mm: Band
    stress_ratio_per_mm: Band
    peak_at: float
    withdrawal: Band

    def lateral_force_n(self, undercut_mm: Band | float) -> Band:
        """Force that pushes the tip out over the undercut."""
        return self.stiffness_n_per_mm * _depth(undercut_mm)

    def withdrawal_force_n(self, undercut_mm: Band | float) -> Band:
        """Force along the path of placement that pulls the arm off."""
        ratios = (_ratio(self.stiffness_n_per_mm), _ratio(self.withdrawal))
        per_mm = independent(self.stiffness_n_per_mm.typical * self.withdrawal.typical, ratios)
        return per_mm * _depth(undercut_mm)

    def stress_ratio(self, undercut_mm: Band | float) -> Band:
        """Peak stress over proof stress as the tip passes the undercut; above 1 it is bent for good."""
        return self.stress_ratio_per_mm * _depth(undercut_mm)


def _depth(undercut: Band | float) -> Band:
    depth = as_band(undercut)
    if depth.low < 0:
        raise ValueError(f"an undercut cannot be below zero: {depth.low}")
    return depth


def _ratio(band: Band) -> Band:
    return Band(band.low / band.typical, 1.0, band.high / band.typical)


@remembered()
def _ellipse(along: float, out: float) -> tuple[Array, Array, float]:
    """Distance and turn (radians) round an ellipse from an end of the axis ``along``; half length."""
    angle = np.linspace(0.0, 2 * np.pi, 1441)
    x, y = -along * np.cos(angle), out * np.sin(angle)
    distance = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))))
    turn = np.unwrap(np.arctan2(along * np.sin(angle), out * np.cos(angle)))
    return distance, turn, float(distance[720])


def _axes(size: ToothSize, surface: str) -> tuple[float, float]:
    along, out = size.mesiodistal_mm / 2, size.faciolingual_mm / 2
    return (out, along) if surface == "proximal" else (along, out)


def arm_run(
    size: ToothSize, surface: str, reach: float, level: tuple[float, float], path: str = "round"
) -> tuple[float, float]:
    """Length (mm) and turn (radians) of a suprabulge arm that covers ``reach`` of a surface.

    A surface runs from line angle to line angle (``surface_share`` of half the crown's perimeter). ``level``
    is the band of the crown at origin and tip (gingival 0, occlusal 1); the drop between them makes the arm a
    little longer. ``path`` tells where an arm that reaches further than its surface goes: ``round`` the
    tooth, ``along`` the next tooth or ``back`` on itself; only the first turns further. ``ValueError`` for a
    reach that is not positive or goes more than once round.
    """
    share = float(figures("arms")["surface_share"])
    distance, turn, half = _ellipse(*_axes(size, surface))
    start, run = (1 - share) / 2 * half, reach * share * half
    if reach <= 0 or start + run > 2 * half:
        raise ValueError(f"an arm reaches more than none and at most once round the tooth, not {reach}")
    turning = run if path == "round" else min(reach, 1.0) * share * half
    turned = np.interp([start, start + turning], distance, turn)
    drop = (level[0] - level[1]) * size.crown_length_mm
    return float(np.hypot(run, drop)), float(turned[1] - turned[0])


def section_family(origin: str, section: str, alloy: str) -> str:
    """Which block of arm sections applies: ``wire``, ``polymer``, ``bar`` or ``cast``."""
    if section == "round":
        return "wire"
    if alloy in figures("arms")["polymers"]:
        return "polymer"
    return "bar" if origin == "gingival" else "cast"


@remembered(4096)
def retentive_arm(
    origin: str,
    surface: str,
    reach: float,
    section: str,
    alloy: str,
    level: tuple[float, float],
    size: ToothSize,
    path: str = "round",
) -> RetentiveArm:
    """The arm of that geometry on a crown of that size.

    ``origin`` is ``near``, ``far`` or ``gingival`` (a bar arm, whose length is the published one),
    ``surface`` ``facial``, ``lingual`` or ``proximal``, ``section`` ``half_round`` or ``round``; ``alloy`` a
    vocabulary word, ``path`` as in ``arm_run``. ``KeyError`` for an unknown material, ``ValueError`` for
    a geometry that cannot be.
    """
    block = figures("arms")
    sizes = block[section_family(origin, section, alloy)]
    factors = {name: table_or_list(sizes[name]) for name in ("thickness", "width", "taper")}
    factors["modulus"] = material(alloy).modulus_gpa
    if origin == "gingival":
        factors["length"] = table_or_list(block["bar"]["length"])
        factors["rise"] = figure_band(block["bar"]["rise"])
        length = factors["length"]
    else:
        run, turn = arm_run(size, surface, reach, level, path)
        factors["length"] = length = figure_band(block["length_spread"]) * run
        factors["turn"] = figure_band(block["turn_share"]) * turn
    bend, values = _vary(section, origin, factors)
    stress = bend.stiffness_n_per_mm * bend.stress_mpa_per_n
    proof = material(alloy).proof_mpa
    return RetentiveArm(
        length_mm=length,
        stiffness_n_per_mm=independent(
            float(bend.stiffness_n_per_mm[0]), _spreads(bend.stiffness_n_per_mm, values)
        ),
        stress_ratio_per_mm=independent(
            float(stress[0]) / proof.typical, [*_spreads(stress, values), _ratio(exact(1.0) / proof)]
        ),
        peak_at=float(bend.peak_at[0]),
        withdrawal=withdrawal_band(alloy in block["polymers"]),
    )


def _vary(section: str, origin: str, factors: dict[str, Band]) -> tuple[Bend, int]:
    """Bend the typical arm (first entry), then each factor at its low and at its high, all at once."""
    names = tuple(factors)
    count = 1 + 2 * len(names)
    columns = {name: np.full(count, band.typical) for name, band in factors.items()}
    for index, name in enumerate(names):
        columns[name][1 + 2 * index] = factors[name].low
        columns[name][2 + 2 * index] = factors[name].high
    thickness, width, taper, modulus = (columns[name] for name in ("thickness", "width", "taper", "modulus"))
    if origin == "gingival":
        poisson = float(figures("alloys")["poisson"])
        bend = bar_arm(section, columns["length"], columns["rise"], thickness, width, taper, modulus, poisson)
    else:
        bend = curved_arm(section, columns["length"], columns["turn"], thickness, width, taper, modulus)
    return bend, len(names)


def _spreads(values: Array, count: int) -> list[Band]:
    typical = float(values[0])
    pairs = (values[1:] / typical).reshape(count, 2)
    return [Band(min(1.0, float(low)), 1.0, max(1.0, float(high))) for low, high in np.sort(pairs, axis=1)]


@remembered()
def withdrawal_band(polymer: bool = False) -> Band:
    """Withdrawing over lateral force at the published convergence of 15, 20 and 30 degrees (row RET-198).

    A polymer arm is pulled off with more than that: the factor by which published tests exceed the beam.
    """
    block = figures("withdrawal")
    friction = float(block["friction"])
    low, typical, high = (
        withdrawal_factor(float(np.radians(angle)), friction) for angle in block["convergence_deg"]
    )
    metal = Band(low, typical, high)
    if not polymer:
        return metal
    excess = figure_band(block["polymer_excess"])
    return independent(metal.typical * excess.typical, (_ratio(metal), _ratio(excess)))
