"""The published tables of ``shared/tables/``, read once.

Columns and the meaning of the marks stand in ``shared/tables/README.md``. An empty value is not known or
not applicable, never zero.
"""

import csv
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from recommender.mechanics.bands import Band
from recommender.resources import shared

TABLES = (
    "tooth_display", "tooth_dimensions", "arch_form", "connectors", "retention", "space", "epidemiology",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Row:
    """One published figure: ``low``, ``typical`` and ``high`` in ``unit``, each ``None`` where not given.

    ``found`` tells how the figure was come by and ``confidence`` how far to trust it (see the README of
    the tables); ``unit`` is ``text`` where the content stands in ``condition``.
    """

    id: str
    quantity: str
    applies_to: str
    low: float | None
    typical: float | None
    high: float | None
    unit: str
    condition: str
    source: str
    found: str
    confidence: str

    @property
    def band(self) -> Band:
        """The figure as a band: what is not given is filled from what is.

        Raises ``ValueError`` for a row without a number.
        """
        given = [value for value in (self.low, self.typical, self.high) if value is not None]
        if not given:
            raise ValueError(f"{self.id} holds no number")
        middle = sum(given) / len(given) if self.typical is None else self.typical
        return Band(min(given), middle, max(given))

    @property
    def firm(self) -> bool:
        """Whether a check may be built on it: seen or derived, and of high confidence."""
        return self.found in ("page", "page, derived", "derived") and self.confidence == "high"


def _number(text: str) -> float | None:
    return float(text) if text else None


@cache
def table(name: str) -> tuple[Row, ...]:
    """Every row of one of ``TABLES``, in file order.

    Raises ``KeyError`` for a name that is not one of them and ``ValueError`` (with file and line) for a
    row that cannot be read.
    """
    if name not in TABLES:
        raise KeyError(f"no table {name!r}; there are {', '.join(TABLES)}")
    path = shared("tables", f"{name}.csv")
    rows = []
    with path.open(encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        for line in reader:
            try:
                rows.append(
                    Row(
                        line["id"],
                        line["quantity"],
                        line["applies_to"],
                        _number(line["value_low"]),
                        _number(line["value_typical"]),
                        _number(line["value_high"]),
                        line["unit"],
                        line["condition"],
                        line["source"],
                        line["found"],
                        line["confidence"],
                    )
                )
            except (KeyError, ValueError, TypeError) as error:
                raise ValueError(f"{path}:{reader.line_num}: {error}") from error
    return tuple(rows)


@cache
def _by_id(name: str) -> MappingProxyType[str, Row]:
    return MappingProxyType({row.id: row for row in table(name)})


def row(name: str, identifier: str) -> Row:
    """One row by its identifier; ``KeyError`` if the table has none of that name."""
    return _by_id(name)[identifier]


def band(name: str, identifier: str) -> Band:
    """One row's figure as a band."""
    return row(name, identifier).band
