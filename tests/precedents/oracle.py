"""The slow plain way: what the fast searches are held against.

Written from the definition and nothing else: each feature of each row in turn, whole numbers throughout, then
one sort. It shares the difference tables with the fast searches and no other code.
"""

from collections.abc import Iterable, Sequence

from recommender.precedents.search.tables import GAP, ONE, FeatureSet


def expected_difference(features: FeatureSet, rows: Sequence[Sequence[int]], index: int, here: int) -> int:
    """Mean difference of feature ``index`` from code ``here`` over the rows that recorded it, rounded half
    up."""
    table = features.weighted[index].feature.table
    found = [int(table[here][row[index]]) for row in rows if row[index] != GAP]
    return (sum(found) + len(found) // 2) // len(found) if found else ONE


def costs(
    features: FeatureSet, rows: Sequence[Sequence[int]], here: Sequence[int], weights: Sequence[int]
) -> list[int]:
    """Sum of weight times difference from ``here``, over the features that ``here`` records, for each row."""
    expected = {
        f: expected_difference(features, rows, f, code)
        for f, code in enumerate(here)
        if code != GAP and weights[f]
    }
    sums = []
    for row in rows:
        total = 0
        for f, gap_price in expected.items():
            there = row[f]
            table = features.weighted[f].feature.table
            total += weights[f] * (gap_price if there == GAP else int(table[here[f]][there]))
        sums.append(total)
    return sums


def nearest(
    sums: Sequence[int], keys: Sequence[tuple[str, int]], allowed: Iterable[int], k: int
) -> list[int]:
    """The ``k`` allowed rows of least cost, ties by key (case id, then site), then by row."""
    return sorted(allowed, key=lambda row: (sums[row], keys[row], row))[:k]
