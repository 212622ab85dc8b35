"""Which stored case an incoming one nearly repeats: same teeth gone, and almost the same content.

Kept in memory are 8 bytes a case and its place; documents are read only for the few that the sketch proposes.
"""

from array import array
from collections.abc import Callable

import numpy as np
import numpy.typing as npt
from sqlalchemy import select

from recommender.precedents.store import documents
from recommender.precedents.store.library import Library
from recommender.precedents.store.schema import cases

# Both are judgement (common practice, no source): nine tenths of all recorded fields in common; and so few of
# 64
# sketch bits apart that such a pair is not overlooked (nine tenths in common differ in about 9 bits).
LEAST_OVERLAP = 0.9
MOST_BITS = 20
_MOST_READ = 8


class NearIndex:
    """Sketches of a library by dentition, growing with the cases of an import."""

    def __init__(self) -> None:
        self._sketches: dict[str, array[int]] = {}
        self._ids: dict[str, list[str]] = {}

    @classmethod
    def of(cls, library: Library) -> "NearIndex":
        """The index of everything that is not retired."""
        index = cls()
        query = select(cases.c.id, cases.c.dentition, cases.c.sketch).where(cases.c.status != "retired")
        with library.reading() as connection:
            for case_id, dentition, sketch in connection.execute(query.order_by(cases.c.id)):
                if dentition is not None and sketch is not None:
                    index.add(case_id, dentition, sketch)
        return index

    def add(self, case_id: str, dentition: str, sketch: int) -> None:
        """One more case."""
        self._sketches.setdefault(dentition, array("q")).append(sketch)
        self._ids.setdefault(dentition, []).append(case_id)

    def nearest(
        self,
        case_id: str,
        dentition: str,
        sketch: int,
        leaves: npt.NDArray[np.uint64],
        read: Callable[[str], npt.NDArray[np.uint64] | None],
    ) -> tuple[str, float] | None:
        """The case (id, overlap 0-1) that this one nearly repeats, or ``None``; ``read`` gives the leaves of a case
        by its id.
        """
        held = self._sketches.get(dentition)
        if held is None:
            return None
        apart = np.bitwise_count(
            np.frombuffer(held, dtype=np.int64).view(np.uint64) ^ np.uint64(sketch & (2**64 - 1))
        )
        close = np.flatnonzero(apart <= MOST_BITS)
        order = close[np.argsort(apart[close], kind="stable")][: _MOST_READ + 1]
        best: tuple[str, float] | None = None
        for position in order.tolist():
            other = self._ids[dentition][position]
            found = read(other) if other != case_id else None
            if found is None:
                continue
            share = documents.overlap(leaves, found)
            if share >= LEAST_OVERLAP and (best is None or share > best[1]):
                best = (other, share)
        return best
