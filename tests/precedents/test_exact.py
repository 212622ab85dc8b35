"""Flat scan, code trie, and library against the plain oracle: the same rows and likenesses, ties included."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks import generate
from recommender.precedents.library import Filters, PrecedentLibrary
from recommender.precedents.model import Situation
from recommender.precedents.search import scan
from recommender.precedents.search import trie as index
from recommender.precedents.search.columns import (
    APPROVED,
    OUTCOME,
    PRESENT,
    Columns,
    Restriction,
    columns_of,
    in_tie_order,
)
from recommender.precedents.search.encode import ChargedTables, count_codes, encode_one, query
from recommender.precedents.search.segments import rank_of
from recommender.precedents.search.tables import ONE
from tests.precedents import oracle
from tests.precedents.worlds import FEATURES, LIKENESS, asked, libraries, weights

filters = st.builds(
    Filters,
    approved_only=st.booleans(),
    outcome_known=st.sampled_from([None, True, False]),
    arch=st.sampled_from([None, "maxilla"]),
    exclude_cases=st.frozensets(st.sampled_from(["c00", "c02", "c03"])),
    exclude_fingerprint=st.sampled_from(["", "bb"]),
    exclude_alike=st.sampled_from([None, 1.0, 0.9, 0.5]),
)

# flags asked for, least cost, and how the trie is built and searched
shapes = st.tuples(
    st.sampled_from([PRESENT, PRESENT | APPROVED, PRESENT | OUTCOME]),
    st.sampled_from([-1, 0, 10**8, 10**9]),
    st.sampled_from([2, 16, 512]),
    st.sampled_from([1, 2, 6]),
    st.sampled_from([1, 4, 10**9]),
)


def admitted(there: Situation, here: Situation, wanted: Filters) -> bool:
    """The filters, said once more in plain words."""
    if there.case_id == here.case_id or there.case_id in wanted.exclude_cases:
        return False
    if there.fingerprint and there.fingerprint in (here.fingerprint, wanted.exclude_fingerprint):
        return False
    if wanted.approved_only and not there.approved:
        return False
    if wanted.outcome_known is not None and there.outcome_known != wanted.outcome_known:
        return False
    return wanted.arch in (None, there.arch)


def plain(
    stored: list[Situation], here: Situation, k: int, changed: dict[str, float], wanted: Filters
) -> list[tuple[str, int, float]]:
    """Nearest by the oracle: case id, site, likeness."""
    stored = in_tie_order(stored)
    rows = [encode_one(FEATURES, s.features).tolist() for s in stored]
    code = encode_one(FEATURES, here.features).tolist()
    whole = FEATURES.whole_weights(here.arch, changed).tolist()
    sums = oracle.costs(FEATURES, rows, code, whole)
    recorded = sum(w for c, w in zip(code, whole, strict=True) if c != 255)
    allowed = [n for n, s in enumerate(stored) if admitted(s, here, wanted)]
    if wanted.exclude_alike is not None:
        least = int((1.0 - wanted.exclude_alike) * recorded * ONE)
        allowed = [n for n in allowed if sums[n] > least]
    found = oracle.nearest(sums, [(s.case_id, s.site) for s in stored], allowed, k)
    total = sum(whole) * ONE
    return [
        (stored[n].case_id, stored[n].site, (recorded * ONE - sums[n]) / total if total else 0.0)
        for n in found
    ]


@settings(max_examples=150, deadline=None)
@given(libraries(), asked(), st.integers(0, 12), weights, filters)
def test_library_equals_oracle(
    stored: list[Situation], here: Situation, k: int, changed: dict[str, float], wanted: Filters
) -> None:
    library = PrecedentLibrary.build(stored, LIKENESS)
    found = library.nearest(here, k, changed, wanted)
    assert [(n.situation.case_id, n.situation.site, n.likeness) for n in found] == plain(
        stored, here, k, changed, wanted
    )


@settings(max_examples=120, deadline=None)
@given(libraries(), asked(), st.integers(0, 12), weights, shapes)
def test_trie_equals_flat_scan(
    stored: list[Situation], here: Situation, k: int, changed: dict[str, float], shape: tuple[int, ...]
) -> None:
    """Any shape of the trie, any point at which it widens its search or falls back, gives the same rows."""
    need, above, combinations, groups, crowd = shape
    columns = columns_of(FEATURES, in_tie_order(stored))
    counts = count_codes(columns.codes)
    asked_for = query(
        ChargedTables.of(FEATURES, counts),
        encode_one(FEATURES, here.features),
        FEATURES.whole_weights(here.arch, changed),
    )
    held = Restriction(need, (columns.rows_of("c03"),), (), above)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(index, "COMBINATIONS", combinations)
        patch.setattr(index, "GROUPS", groups)
        patch.setattr(index, "_CROWD", crowd)
        patch.setattr(index, "_BEAM", 2)
        patch.setattr(index, "_FIRST_ROWS", 3)
        patch.setattr(index, "_SCAN_SHARE", 0 if crowd == 10**9 else crowd)
        trie = index.build(columns, rank_of(FEATURES, counts))
        search = index.Search(trie, columns, asked_for, held)
        expected = scan.nearest(columns, asked_for, k, held)
        got = search.nearest(k)
        np.testing.assert_array_equal(got[0], expected[0])
        np.testing.assert_array_equal(got[1], expected[1])
        for limit in (0, above, 5 * 10**8, 0xFFFFFFFF):
            inside, all_inside = (
                search.within(max(limit, 0)),
                scan.within(columns, asked_for, max(limit, 0), held),
            )
            np.testing.assert_array_equal(inside[0], all_inside[0])
            np.testing.assert_array_equal(inside[1], all_inside[1])


@pytest.fixture(scope="module", params=["CLUSTERED", "WEAK", "NOISE"])
def world(request: pytest.FixtureRequest) -> generate.World:
    chosen: generate.World = getattr(generate, request.param)
    return chosen


def test_large_library_equals_flat_scan(world: generate.World) -> None:
    """Twenty thousand rows with copies and gaps; weights as given, equal, random and in reverse of the
    build order."""
    from recommender.precedents.search.tables import load

    features = load().kinds["retainer"]
    made = generate.library(features, 20_000, world)
    counts = count_codes(made.columns.codes)
    tables = ChargedTables.of(features, counts)
    rank = rank_of(features, counts)
    trie = index.build(made.columns, rank)
    rng = np.random.default_rng(3)
    usual = features.whole_weights("maxilla")
    reverse = np.zeros_like(usual)
    reverse[rank] = np.sort(usual)
    for number, codes in enumerate(generate.queries(features, 12, world)):
        scattered = np.rint(usual * rng.lognormal(0, 1, len(usual)) * 0.2).astype(np.int64)
        for whole in (usual, reverse, scattered, np.zeros_like(usual), np.full_like(usual, 2000)):
            asked_for = query(tables, codes, whole)
            for need in (PRESENT, PRESENT | APPROVED | OUTCOME):
                held = Restriction(need, ((number * 40, number * 40 + 4),))
                got = index.Search(trie, made.columns, asked_for, held).nearest(10)
                expected = scan.nearest(made.columns, asked_for, 10, held)
                np.testing.assert_array_equal(got[0], expected[0])
                np.testing.assert_array_equal(got[1], expected[1])


def test_trie_leaves_most_rows_unread() -> None:
    """On a clustered library a typical query opens well under a tenth of the runs and rows."""
    from recommender.precedents.search.tables import load

    features = load().kinds["retainer"]
    made = generate.library(features, 50_000)
    counts = count_codes(made.columns.codes)
    tables = ChargedTables.of(features, counts)
    trie = index.build(made.columns, rank_of(features, counts))
    opened = []
    for codes in generate.queries(features, 30):
        search = index.Search(
            trie, made.columns, query(tables, codes, features.whole_weights("maxilla")), Restriction()
        )
        search.nearest(10)
        opened.append(search.examined)
    everything = len(trie) + sum(len(level.keys) for level in trie.levels)
    assert np.median(opened) < everything / 10


@settings(max_examples=60, deadline=None)
@given(libraries(25), asked(), st.data())
def test_later_rows_count_as_if_they_had_been_there(
    stored: list[Situation], here: Situation, data: st.DataObject
) -> None:
    """Adding, editing and retiring cases gives the library that building anew would give."""
    cases = sorted({s.case_id for s in stored})
    later = frozenset(data.draw(st.lists(st.sampled_from(cases)))) if cases else frozenset()
    gone = frozenset(data.draw(st.lists(st.sampled_from(cases)))) if cases else frozenset()
    first = [s for s in stored if s.case_id not in later]
    second = [replace(s, worth=0.5) for s in stored if s.case_id in later]
    library = PrecedentLibrary.build(first, LIKENESS).changed(later, second).changed(gone, [])
    anew = PrecedentLibrary.build([s for s in [*first, *second] if s.case_id not in gone], LIKENESS)
    assert library.nearest(here, 9) == anew.nearest(here, 9)
    assert library.count("retainer") == anew.count("retainer")


def test_a_kept_tail_of_a_large_part_is_searched_too() -> None:
    from recommender.precedents.search.tables import load

    likeness = load()
    features = likeness.kinds["retainer"]
    made = generate.library(features, 12_000)
    rows = [made.situation(n) for n in range(12_000)]
    extra = [replace(made.situation(n), case_id=f"a{n:05d}", fingerprint="") for n in range(0, 3000, 7)]
    library = PrecedentLibrary.build(rows, likeness).changed(["g00000003", "g00000500"], extra)
    assert len(library.shelves["retainer"].parts) == 2
    anew = PrecedentLibrary.build(
        [*(s for s in rows if s.case_id not in ("g00000003", "g00000500")), *extra], likeness
    )
    for n in range(0, 12_000, 997):
        here = replace(made.situation(n), case_id="query", fingerprint="")
        assert library.nearest(here, 12) == anew.nearest(here, 12)


def test_empty_library_and_empty_query() -> None:
    library = PrecedentLibrary.build([], LIKENESS)
    here = Situation("q", "retainer", 14, "maxilla", {})
    assert library.nearest(here, 5) == []
    assert library.candidates(here, 5).items == ()
    there = Situation("a", "retainer", 14, "maxilla", {"grade": "a"}, "none")
    (only,) = PrecedentLibrary.build([there], LIKENESS).nearest(here, 5)
    assert only.likeness == 0.0
    assert isinstance(library.shelves["retainer"].parts[0].columns, Columns)
