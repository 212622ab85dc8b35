"""Stiffness, strength, weight and published fatigue life of the materials that arms are made of."""

from dataclasses import dataclass
from typing import Any

from recommender.mechanics.bands import Band
from recommender.mechanics.figures import figure_band, figures, remembered
from recommender.mechanics.tables import band, row


@dataclass(frozen=True, slots=True)
class Material:
    """One material: modulus (GPa), proof stress (MPa; flexural strength of a polymer), density (g/cm3)."""

    name: str
    modulus_gpa: Band
    proof_mpa: Band
    density_g_cm3: Band


def table_or_list(value: Any) -> Band:
    """A figure of ``mechanics.yaml``: a row of ``retention.csv`` by its identifier, or a list."""
    return band("retention", value) if isinstance(value, str) else figure_band(value)


@remembered()
def material(name: str) -> Material:
    """The material of that vocabulary word; ``KeyError`` if it is none."""
    block = figures("alloys")[name]
    return Material(
        name, table_or_list(block["modulus"]), table_or_list(block["proof"]), table_or_list(block["density"])
    )


# Cast clasps bent to and fro by a constant 0.6 mm (Vallittu and Kokkonen 1995, J Prosthet Dent 74:412-419).
FATIGUE_DEFLECTION_MM = 0.6
_FATIGUE_ROWS = {
    "cobalt_chromium": "RET-154",
    "titanium_alloy": "RET-155",
    "gold_type_iv": "RET-156",
    "titanium_cp": "RET-157",
}
_CYCLES_PER_YEAR = "RET-165"


def fatigue_years(name: str, undercut_mm: float) -> Band | None:
    """Years of insertion and removal before fracture, as far as the published rows reach.

    The rows are means at 0.6 mm of deflection over 3 to 4 insertions a day; a shallower undercut lasts at
    least as long, so the figure is a floor there and no more is claimed. ``None`` for a material without a
    row or an undercut beyond what was tested.
    """
    if undercut_mm < 0:
        raise ValueError(f"an undercut cannot be below zero: {undercut_mm}")
    if name not in _FATIGUE_ROWS or undercut_mm > FATIGUE_DEFLECTION_MM:
        return None
    cycles = row("retention", _FATIGUE_ROWS[name]).band
    return cycles / band("retention", _CYCLES_PER_YEAR)
