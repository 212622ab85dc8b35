"""The nearest of several shards, merged, are the nearest of the whole."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from recommender.precedents.library import Filters, PrecedentLibrary
from recommender.precedents.merging import added_counts, nearest_of_all
from recommender.precedents.model import Neighbour, Situation
from recommender.precedents.search.encode import ChargedTables
from tests.precedents.worlds import LIKENESS, asked, libraries

EVERYTHING = Filters(approved_only=False)


def shards_of(stored: list[Situation], places: list[int], count: int) -> list[PrecedentLibrary]:
    """Libraries of a part each, all measuring by tables from the sum of their counts."""
    parts = [
        PrecedentLibrary.build(
            [row for row, place in zip(stored, places, strict=True) if place == number], LIKENESS
        )
        for number in range(count)
    ]
    for kind in LIKENESS.kinds:
        counts = added_counts([part.shelves[kind].counts for part in parts])
        tables = ChargedTables.of(LIKENESS.kinds[kind], counts)
        for part in parts:
            shelves = {**part.shelves, kind: replace(part.shelves[kind], tables=tables)}
            part.shelves = shelves
    return parts


@settings(max_examples=60, deadline=None)
@given(libraries(), asked(), st.integers(1, 4), st.integers(0, 6), st.data())
def test_merged_shards_answer_like_one_library(
    stored: list[Situation], here: Situation, count: int, k: int, data: st.DataObject
) -> None:
    """Ties included, however the situations are shared out."""
    places = data.draw(st.lists(st.integers(0, count - 1), min_size=len(stored), max_size=len(stored)))
    whole = PrecedentLibrary.build(stored, LIKENESS)
    lists = [shard.nearest(here, k, filters=EVERYTHING) for shard in shards_of(stored, places, count)]
    assert nearest_of_all(lists, k) == whole.nearest(here, k, filters=EVERYTHING)


def neighbour(case_id: str, site: int, likeness: float) -> Neighbour:
    return Neighbour(Situation(case_id, "retainer", site, "maxilla", {}), likeness, ())


def test_ties_by_case_then_site() -> None:
    one = [neighbour("b", 14, 0.9), neighbour("b", 24, 0.5)]
    other = [neighbour("a", 24, 0.9), neighbour("b", 11, 0.5)]
    found = [(n.situation.case_id, n.situation.site) for n in nearest_of_all([one, other], 4)]
    assert found == [("a", 24), ("b", 14), ("b", 11), ("b", 24)]


def test_what_cannot_be_merged_is_refused() -> None:
    with pytest.raises(ValueError, match="not in order"):
        nearest_of_all([[neighbour("a", 1, 0.1), neighbour("b", 1, 0.2)]], 2)
    with pytest.raises(ValueError, match="same situation"):
        nearest_of_all([[neighbour("a", 1, 0.1)], [neighbour("a", 1, 0.1)]], 2)
    with pytest.raises(ValueError, match="of one or more"):
        added_counts([])
