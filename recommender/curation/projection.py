"""A map of stored situations with one case in it: classical scaling of the graded differences to two axes.

The differences are those of retrieval (weighted mean of the graded feature differences; a gap on either side is
charged the expected difference). Two axes can never carry all of them, so every map says how much it carries and
how many of the truly nearest lie nearest on it. Method: Torgerson WS. Psychometrika 1952;17:401-419.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from recommender.precedents.library import PrecedentLibrary
from recommender.precedents.model import Situation
from recommender.precedents.search.columns import APPROVED, ARCH_FLAG, PRESENT
from recommender.precedents.search.encode import encode_one
from recommender.precedents.search.tables import GAP, ONE

MOST = 400
Matrix = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Place:
    """One stored situation on the map, with its difference (0-1) from the case in hand."""

    case_id: str
    site: int
    choice: str
    x: float
    y: float
    difference: float
    verdict: str


@dataclass(frozen=True, slots=True)
class Projection:
    """The case in hand at ``here`` and the stored situations around it.

    ``carried`` is the share (0-1) of the spread of all differences that the two axes carry; ``kept_near`` of the
    ``near`` truly nearest are also among the ``near`` nearest on the map. ``left_out`` situations are not shown.
    """

    here: tuple[float, float]
    places: tuple[Place, ...]
    carried: float
    near: int
    kept_near: int
    left_out: int


def project(
    library: PrecedentLibrary,
    situation: Situation,
    *,
    approved_only: bool = True,
    most: int = MOST,
    near: int = 12,
) -> Projection | None:
    """The map of the situations of the same decision and arch; ``None`` where fewer than three are stored.

    With more than ``most`` the nearest ``most`` are shown.
    """
    shelf = library.shelves[situation.kind]
    need = PRESENT | (APPROVED if approved_only else 0) | ARCH_FLAG[situation.arch]
    rows: list[tuple[Situation, npt.NDArray[np.uint8]]] = []
    here = encode_one(shelf.features, situation.features)
    for part in shelf.parts:
        found = np.flatnonzero((part.columns.flags & np.uint8(need)) == need)
        own = (part.columns.case_ids[found] == np.bytes_(situation.case_id.encode())).astype(bool)
        found = found[~own]
        away = _differences(library, situation, here[None, :], part.columns.codes[found])[0]
        for row in found[np.argsort(away, kind="stable")[:most]].tolist():
            rows.append((part.rows[row], part.columns.codes[row]))
    if len(rows) < 3:
        return None
    total = len(rows)
    codes = np.array([code for _, code in rows], dtype=np.uint8)
    away = _differences(library, situation, here[None, :], codes)[0]
    order = np.argsort(away, kind="stable")[:most]
    chosen = [rows[index][0] for index in order.tolist()]
    apart = _differences(library, situation, np.vstack([here[None, :], codes[order]]), None)
    points, carried = scaled(apart)
    count = min(near, len(chosen))
    on_map = np.argsort(np.linalg.norm(points[1:] - points[0], axis=1), kind="stable")[:count]
    places = tuple(
        Place(
            one.case_id,
            one.site,
            one.choice or "",
            float(point[0]),
            float(point[1]),
            float(difference),
            one.verdict,
        )
        for one, point, difference in zip(chosen, points[1:], apart[0, 1:], strict=True)
    )
    kept = len(set(on_map.tolist()) & set(range(count)))
    spot = (float(points[0, 0]), float(points[0, 1]))
    return Projection(spot, places, carried, count, kept, total - len(chosen))


def scaled(apart: Matrix) -> tuple[Matrix, float]:
    """Classical scaling of a difference matrix to two axes, and the share of the spread that they carry.

    Worked example: three points on a line at 0, 3 and 4 have differences 3, 4 and 1; one axis carries all.
    """
    from sklearn.manifold import ClassicalMDS

    points = np.asarray(
        ClassicalMDS(n_components=2, metric="precomputed").fit_transform(apart), dtype=np.float64
    )
    squared = apart**2
    centred = -0.5 * (squared - squared.mean(0) - squared.mean(1)[:, None] + squared.mean())
    values = np.linalg.eigvalsh(centred)
    spread = float(np.abs(values).sum())
    carried = float(np.sort(np.clip(values, 0, None))[-2:].sum()) / spread if spread else 1.0
    # An axis may come out either way round; the first point with a place on it lies to the right, and up.
    for axis in range(points.shape[1]):
        placed = points[np.abs(points[:, axis]) > 1e-12, axis]
        if placed.size and placed[0] < 0:
            points[:, axis] *= -1
    return points, carried


def _differences(
    library: PrecedentLibrary,
    situation: Situation,
    first: npt.NDArray[np.uint8],
    second: npt.NDArray[np.uint8] | None,
) -> Matrix:
    """Differences (0-1) of every row of ``first`` from every row of ``second`` (of itself if ``None``)."""
    shelf = library.shelves[situation.kind]
    other = first if second is None else second
    weights = shelf.features.whole_weights(situation.arch, None).astype(np.float64)
    total = float(weights.sum()) or 1.0
    found: Matrix = np.zeros((len(first), len(other)))
    for index, weight in enumerate(weights.tolist()):
        if weight:
            table = _square(shelf.tables.rows[index].astype(np.float64) / ONE)
            found += weight / total * table[np.ix_(_codes(first[:, index]), _codes(other[:, index]))]
    return found


def _square(table: Matrix) -> Matrix:
    """The difference table with a row for a gap: the mean of what each value is charged for a gap opposite."""
    full = np.zeros((GAP + 1, GAP + 1))
    full[: len(table), : table.shape[1]] = table[:, : GAP + 1]
    full[GAP, : len(table)] = table[:, GAP]
    full[GAP, GAP] = float(table[:, GAP].mean())
    square: Matrix = (full + full.T) / 2
    return square


def _codes(column: npt.NDArray[np.uint8]) -> npt.NDArray[np.int64]:
    return column.astype(np.int64)


def neighbours_on(places: Sequence[Place], count: int) -> tuple[Place, ...]:
    """The places truly nearest to the case in hand, whatever the map makes of them."""
    return tuple(sorted(places, key=lambda place: (place.difference, place.case_id, place.site))[:count])
