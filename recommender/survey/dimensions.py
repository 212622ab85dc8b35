"""Published crown sizes of ``shared/tables/tooth_dimensions.csv`` (Ash and Nelson carving averages)."""

import csv
from dataclasses import dataclass
from functools import cache

from recommender.resources import shared

_SOURCE = "Ash MM, Nelson SJ"


@dataclass(frozen=True, slots=True)
class CrownSize:
    """Widths and length of an average crown, in mm."""

    mesiodistal: float
    faciolingual: float
    length: float


@cache
def _rows() -> dict[tuple[str, str], float]:
    rows: dict[tuple[str, str], float] = {}
    with shared("tables", "tooth_dimensions.csv").open(encoding="utf-8", newline="") as file:
        for line in csv.DictReader(file):
            if line["source"].startswith(_SOURCE) and line["value_typical"]:
                for tooth in line["applies_to"].split("|"):
                    rows.setdefault((tooth, line["quantity"]), float(line["value_typical"]))
    return rows


@cache
def crown_size(tooth: int) -> CrownSize:
    """The average crown of an ISO 3950 tooth; ``KeyError`` for a number that is none."""
    rows = _rows()
    name = str(tooth)
    return CrownSize(
        rows[name, "mesiodistal_width"], rows[name, "faciolingual_width"], rows[name, "crown_length"]
    )
