"""Published crown dimensions by ISO 3950 tooth (Ash and Nelson carving averages)."""

from dataclasses import dataclass

from recommender.domain.dentition import position
from recommender.mechanics.figures import remembered
from recommender.mechanics.tables import table

_SOURCE = "Ash MM, Nelson SJ"


@dataclass(frozen=True, slots=True)
class ToothSize:
    """Crown of a tooth of average size: lengths in millimetres."""

    crown_length_mm: float
    mesiodistal_mm: float
    mesiodistal_cervix_mm: float
    faciolingual_mm: float
    faciolingual_cervix_mm: float


@remembered()
def tooth_size(tooth: int) -> ToothSize:
    """The published average crown of that tooth (Ash and Nelson, ``tooth_dimensions.csv``).

    Left and right share one row, so a mirrored arch has the same numbers. ``KeyError`` for a number that
    is no tooth.
    """
    found: dict[str, float] = {}
    for row in table("tooth_dimensions"):
        if (
            row.source.startswith(_SOURCE)
            and str(tooth) in row.applies_to.split("|")
            and row.typical is not None
        ):
            found.setdefault(row.quantity, row.typical)
    if not found:
        raise KeyError(f"no dimensions for tooth {tooth}")
    return ToothSize(
        found["crown_length"],
        found["mesiodistal_width"],
        found["mesiodistal_width_cervix"],
        found["faciolingual_width"],
        found["faciolingual_width_cervix"],
    )


@remembered()
def running_width_mm(tooth: int) -> float:
    """Sum of the published mesiodistal widths from the midline to the middle of that tooth (mm)."""
    start = tooth - position(tooth)
    before = sum(tooth_size(start + index).mesiodistal_mm for index in range(1, position(tooth)))
    return before + tooth_size(tooth).mesiodistal_mm / 2
