"""Stiffness, strength, weight and published fatigue life of the materials that arms are made of."""

from dataclasses import dataclass
from typing import Any

from recommender.mechanics.bands import Band
from recommender.mechanics.figures import figure_band, figures, remembered
from recommender.mechanics.tables import band


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
