"""Stored situations of one kind as columns, in tie order (case id, then site), and what a search may be
held to."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from recommender.precedents.model import Situation
from recommender.precedents.search.encode import encode
from recommender.precedents.search.tables import Codes, FeatureSet

PRESENT, APPROVED, OUTCOME, NO_OUTCOME, MAXILLA, MANDIBLE = 1, 2, 4, 8, 16, 32
ARCH_FLAG = {"maxilla": MAXILLA, "mandible": MANDIBLE}

Flags = npt.NDArray[np.uint8]
Prints = npt.NDArray[np.uint64]
Rows = npt.NDArray[np.int64]


def print_words(fingerprint: str) -> tuple[int, int]:
    """A hexadecimal digest as two 64-bit words; ``(0, 0)`` for none. Other text is hashed first."""
    if not fingerprint:
        return 0, 0
    try:
        number = int(fingerprint[:32], 16)
    except ValueError:
        import hashlib

        number = int(hashlib.blake2b(fingerprint.encode(), digest_size=16).hexdigest(), 16)
    return number >> 64, number & 0xFFFFFFFFFFFFFFFF


def flags_of(situation: Situation) -> int:
    """The flag byte of a situation."""
    return (
        PRESENT
        | (APPROVED if situation.approved else 0)
        | (OUTCOME if situation.outcome_known else NO_OUTCOME)
        | ARCH_FLAG[situation.arch]
    )


@dataclass(frozen=True, slots=True)
class Restriction:
    """What a row must be to count: all ``need`` flags, in no ``without`` range of rows, of none of these
    prints, and costing more than ``above`` (-1 for any cost). Every search applies it while it searches."""

    need: int = PRESENT
    without: tuple[tuple[int, int], ...] = ()
    prints: tuple[tuple[int, int], ...] = ()
    above: int = -1


@dataclass(frozen=True, slots=True)
class Columns:
    """Rows of one kind: ``codes`` ``(n, features)``, ``flags`` ``(n,)``, ``prints`` ``(n, 2)``,
    ``case_ids`` and ``sites`` ``(n,)``. Rows are sorted by case id, then site, so a row's number is its
    place among ties."""

    codes: Codes
    flags: Flags
    prints: Prints
    case_ids: npt.NDArray[np.bytes_]
    sites: npt.NDArray[np.uint8]

    def __len__(self) -> int:
        return len(self.flags)

    def rows_of(self, case_id: str) -> tuple[int, int]:
        """First row of a case and the row after its last; equal when it is not here."""
        key = np.bytes_(case_id.encode())
        return int(np.searchsorted(self.case_ids, key, "left")), int(
            np.searchsorted(self.case_ids, key, "right")
        )

    def admits(
        self, rows: Rows, costs: npt.NDArray[np.uint32], restriction: Restriction
    ) -> npt.NDArray[np.bool_]:
        """Which of these rows the restriction lets through, given their costs."""
        need = np.uint8(restriction.need)
        good: npt.NDArray[np.bool_] = (self.flags[rows] & need) == need
        for low, high in restriction.without:
            good &= (rows < low) | (rows >= high)
        for high_word, low_word in restriction.prints:
            found = self.prints[rows]
            good &= (found[:, 0] != np.uint64(high_word)) | (found[:, 1] != np.uint64(low_word))
        if restriction.above >= 0:
            good &= costs > restriction.above
        return good


def in_tie_order(situations: Sequence[Situation]) -> list[Situation]:
    """Situations sorted by case id, then site (case ids are plain ASCII, so text order is byte order)."""
    return sorted(situations, key=lambda s: (s.case_id, s.site))


def columns_of(features: FeatureSet, situations: Sequence[Situation]) -> Columns:
    """Columns of situations that are already in tie order."""
    prints = np.array([print_words(s.fingerprint) for s in situations], dtype=np.uint64).reshape(-1, 2)
    return Columns(
        encode(features, situations),
        np.array([flags_of(s) for s in situations], dtype=np.uint8),
        prints,
        np.array([s.case_id.encode() for s in situations], dtype=np.bytes_),
        np.array([s.site for s in situations], dtype=np.uint8),
    )
