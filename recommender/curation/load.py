"""On how few options and cases the evidence of a library rests."""

from collections.abc import Mapping
from dataclasses import dataclass

LEAD = 3


@dataclass(frozen=True, slots=True)
class Load:
    """``uses``: cases counted once for each option; ``lead_share``: share (0-1) of them made by the ``LEAD``
    commonest options; ``lone``: options that a single case speaks for."""

    uses: int
    options: int
    lead_share: float
    lone: tuple[str, ...]


def load(counts: Mapping[str, int]) -> Load:
    """The load of one decision from the number of cases that use each option."""
    uses = sum(counts.values())
    lead = sum(sorted(counts.values(), reverse=True)[:LEAD])
    return Load(
        uses,
        sum(number > 0 for number in counts.values()),
        lead / uses if uses else 0.0,
        tuple(sorted(name for name, number in counts.items() if number == 1)),
    )
