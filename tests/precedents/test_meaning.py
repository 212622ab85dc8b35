"""What likeness means, held against the definition in plain arithmetic and against scikit-learn."""

from dataclasses import replace
from typing import get_args

import numpy as np
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmarks import generate
from recommender.domain.findings import Abutment, Floor, Occlusion, Palate, Patient, Span
from recommender.precedents.library import Filters, PrecedentLibrary
from recommender.precedents.model import Situation
from recommender.precedents.search.encode import count_codes, encode
from recommender.precedents.search.tables import (
    GAP,
    ONE,
    WEIGHT_SUM,
    Codes,
    Feature,
    SimilarityError,
    load,
    parse,
)
from recommender.resources import shared
from tests.precedents.worlds import FEATURES, LIKENESS, OPTIONS, SIMILARITY, asked, libraries

EVERYTHING = Filters(approved_only=False)
# the entries of the small similarity file, written out by hand
GRADE = {"a": 0.0, "b": 0.2, "c": 0.7, "d": 1.0}


def by_hand(name: str, here: object, there: object) -> float:
    """The difference of two recorded values as the file says it, without any table."""
    if here == there:
        return 0.0
    if name == "depth":
        return min(1.0, abs(here - there) / 0.5)  # type: ignore[operator]
    if name == "grade":
        return abs(GRADE[here] - GRADE[there])  # type: ignore[index]
    if name == "word":
        return 0.4 if {here, there} == {"p", "q"} else 1.0
    if name == "option":
        return 0.4 if {here, there} == {"i_bar", "t_bar"} else 1.0
    if name == "steep":
        return 0.3 if (here, there) == ("high", "low") else 1.0
    return 1.0


@settings(max_examples=80, deadline=None)
@given(libraries(), asked())
def test_likeness_is_the_definition(stored: list[Situation], here: Situation) -> None:
    """a = sum over recorded of w (1 - d) / sum of all w, a gap charged the mean difference over the library.

    The definition of the design, in floating point; fixed point may differ by its fineness (weights to
    1/65536, differences to 1/32767), never more.
    """
    library = PrecedentLibrary.build(stored, LIKENESS)
    weighted = [item for item in FEATURES.weighted if item.arch in (None, here.arch)]
    for neighbour in library.nearest(here, len(stored), filters=EVERYTHING):
        numerator = 0.0
        for item in weighted:
            name = item.feature.name
            ours, theirs = here.features[name], neighbour.situation.features[name]
            if ours is None:
                continue
            recorded = [s.features[name] for s in stored if s.features[name] is not None]
            if theirs is None:
                d = sum(by_hand(name, ours, other) for other in recorded) / len(recorded) if recorded else 1.0
            else:
                d = by_hand(name, ours, theirs)
            numerator += item.weight * (1 - d)
        expected = numerator / sum(item.weight for item in weighted)
        assert neighbour.likeness == pytest.approx(expected, abs=2e-4)
        assert 0.0 <= neighbour.likeness <= 1.0


@settings(max_examples=80, deadline=None)
@given(libraries(), asked(), st.sampled_from(FEATURES.names))
def test_deleting_a_field_never_raises_a_likeness(
    stored: list[Situation], here: Situation, name: str
) -> None:
    library = PrecedentLibrary.build(stored, LIKENESS)
    thinner = replace(here, features={**here.features, name: None})
    before = {
        (n.situation.case_id, n.situation.site): n.likeness
        for n in library.nearest(here, 99, filters=EVERYTHING)
    }
    after = library.nearest(thinner, 99, filters=EVERYTHING)
    assert len(after) == len(before)
    for n in after:
        assert n.likeness <= before[n.situation.case_id, n.situation.site]


@settings(max_examples=60, deadline=None)
@given(libraries(), asked(), st.randoms(use_true_random=False))
def test_order_of_the_library_changes_nothing(
    stored: list[Situation], here: Situation, random: object
) -> None:
    shuffled = sorted(stored, key=lambda _: random.random())  # type: ignore[attr-defined]
    first, second = PrecedentLibrary.build(stored, LIKENESS), PrecedentLibrary.build(shuffled, LIKENESS)
    assert first.nearest(here, 7) == second.nearest(here, 7)


@settings(max_examples=60, deadline=None)
@given(libraries(), asked())
def test_account_adds_up_and_tells_gaps(stored: list[Situation], here: Situation) -> None:
    library = PrecedentLibrary.build(stored, LIKENESS)
    for n in library.nearest(here, 5, filters=EVERYTHING):
        assert sum(line.weight * (1 - line.difference) for line in n.account) == pytest.approx(
            n.likeness, abs=1e-9
        )
        assert n.account == library.account(here, n)
        for line in n.account:
            gap = line.here is None or line.there is None
            assert (line.verdict == "not_recorded") == gap
            if not gap:
                assert (line.verdict == "alike") == (line.difference == 0)
                assert (line.verdict == "differs") == (line.difference > 0.25)


@settings(max_examples=60, deadline=None)
@given(libraries(), asked(), st.integers(1, 5), st.data())
def test_candidates_hold_the_nearest_however_gaps_are_filled(
    stored: list[Situation], here: Situation, k: int, data: st.DataObject
) -> None:
    """Whatever is recorded later, the k nearest then are among the candidates now, below their ceilings."""
    library = PrecedentLibrary.build(stored, LIKENESS)
    found = library.candidates(here, k, filters=EVERYTHING)
    assert found.complete
    retrieved = library.retrieve(here, k, filters=EVERYTHING)
    assert retrieved.candidates == found
    assert list(retrieved.neighbours) == library.nearest(here, k, filters=EVERYTHING, account=False)
    assert retrieved.unrecorded_share == library.unrecorded_share(here)
    assert [c.likeness for c in found.items[:k]] == [n.likeness for n in retrieved.neighbours]
    ceilings = {(c.situation.case_id, c.situation.site): c.ceiling for c in found.items}
    pool = {
        name: [s.features[name] for s in stored if s.features[name] is not None] for name in FEATURES.names
    }
    filled = {
        name: data.draw(st.sampled_from(pool[name])) if value is None and pool[name] else value
        for name, value in here.features.items()
    }
    for n in library.nearest(replace(here, features=filled), k, filters=EVERYTHING):
        assert n.likeness <= ceilings[n.situation.case_id, n.situation.site] + 1e-12
    few = library.candidates(here, k, filters=EVERYTHING, cap=1)
    if not few.complete:
        worths = [s.worth for s in stored if s.choice == "none" and s.case_id != here.case_id]
        if worths and not here.fingerprint:
            assert few.worths["none"] == (min(s.worth for s in stored if s.choice == "none"),
                                          max(s.worth for s in stored if s.choice == "none"))  # fmt: skip


def test_gap_never_looks_alike_for_being_thin() -> None:
    """A record with nothing in it ranks below one that agrees in half of what it says about a common
    value."""
    full = {"depth": 0.5, "grade": "a", "word": "p", "flag": True, "option": "none", "steep": "low"}
    other = {**full, "grade": "d", "word": "r"}
    stored = [
        Situation("full", "retainer", 14, "mandible", full, "none"),
        Situation("half", "retainer", 14, "mandible", {**full, "depth": 1.0, "flag": False}, "none"),
        Situation("thin", "retainer", 14, "mandible", {}, "none"),
        Situation("other", "retainer", 14, "mandible", other, "none"),
    ]
    here = Situation("query", "retainer", 14, "mandible", full)
    found = {
        n.situation.case_id: n.likeness for n in PrecedentLibrary.build(stored, LIKENESS).nearest(here, 9)
    }
    assert found["full"] == 1.0
    # expected differences by hand: depth 1/3, grade 1/3, word 1/3, flag 1/3, option 0, steep 0
    assert found["thin"] == pytest.approx(1 - (7 + 5 + 4 + 3) / 3 / 22, abs=1e-4)
    assert found["thin"] < 1.0


def equivalent(feature: Feature, column: Codes) -> np.ndarray[tuple[int, int], np.dtype[np.float64]] | None:
    """The column in coordinates whose Manhattan distance is the feature's difference; ``None`` if none
    are."""
    table = feature.table / ONE
    if (table == 1 - np.eye(len(table))).all():
        return np.eye(len(table))[column] / 2
    size = int(column.max()) + 1
    line = table[0, :size]
    on_a_line = np.abs(np.abs(line[:, None] - line[None, :]) - table[:size, :size]).max() < 2 / ONE
    return line[column][:, None] if on_a_line else None


def test_same_nearest_as_scikit_learn_on_complete_data() -> None:
    """Brute-force NearestNeighbors with the Manhattan distance on an equivalent encoding.

    Half a one-hot pair for plain categories, a line for ordered and measured values. Complete rows, so that
    gaps play no part; measured values lie within one span, beyond which differences no longer add up along
    a line.
    """
    from sklearn.neighbors import NearestNeighbors

    features = load().kinds["retainer"]
    world = generate.World(gaps=0.0, lifelike=False)
    made = generate.library(features, 2_000, world)
    codes = np.concatenate([made.columns.codes, generate.queries(features, 20, world, gaps=0.0)])
    for index, item in enumerate(features.weighted):
        if item.feature.scale == "numeric":
            codes[:, index] %= int((item.feature.table[0] < ONE).sum()) + 1
    whole = features.whole_weights("maxilla")
    blocks, changed = [], dict.fromkeys(features.names, 0.0)
    for index, item in enumerate(features.weighted):
        block = equivalent(item.feature, codes[:, index])
        if block is not None:
            blocks.append(block * whole[index])
            changed[item.feature.name] = float(whole[index])
    assert len(blocks) >= 20
    encoded = np.concatenate(blocks, axis=1)
    search = NearestNeighbors(n_neighbors=10, algorithm="brute", metric="manhattan").fit(encoded[:2_000])
    distances, _ = search.kneighbors(encoded[2_000:])

    def situation(number: int, case: str) -> Situation:
        pairs = zip(features.weighted, codes[number].tolist(), strict=True)
        values = {item.feature.name: item.feature.decode(code) for item, code in pairs}
        return Situation(case, "retainer", 14, "maxilla", values, "none")

    library = PrecedentLibrary.build([situation(n, f"c{n:04d}") for n in range(2_000)], load())
    total = sum(changed.values())
    for number in range(20):
        found = library.nearest(situation(2_000 + number, "query"), 10, changed)
        np.testing.assert_allclose([n.likeness for n in found], 1 - distances[number] / total, atol=3e-4)


def test_weights_and_words_that_are_wrong_are_refused() -> None:
    library = PrecedentLibrary.build([], LIKENESS)
    here = Situation("q", "retainer", 14, "maxilla", {"grade": "a"})
    for wrong in ({"nothing": 1.0}, {"grade": -1.0}, {"grade": float("nan")}, {"grade": float("inf")}):
        with pytest.raises(SimilarityError):
            library.nearest(here, 1, wrong)
    with pytest.raises(SimilarityError, match="grade: found 'z', allowed a, b, c, d"):
        library.nearest(replace(here, features={"grade": "z"}), 1)
    with pytest.raises(SimilarityError, match="depth: found 'deep', allowed a number"):
        library.nearest(replace(here, features={"depth": "deep"}), 1)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("format: 1", "format: 2", "format must be 1"),
        ("scale: boolean", "scale: fuzzy", "found scale 'fuzzy'"),
        ("at: [0, 0.2, 0.7, 1]", "at: [0, 1]", "2 places for 4 values"),
        ("[[p, q, 0.4]]", "[[p, z, 0.4]]", "is not of its values"),
        ("[[p, q, 0.4]]", "[[p, q, 1.4]]", "is not of its values, 0 to 1"),
        ("step: 0.05", "step: 0.001", "1001 steps, allowed at most 255"),
        ("step: 0.05", "step: 0", "must be positive"),
        ("grade: {weight: 5", "other: {weight: 5", "is not among the features"),
        ("weight: 7", "weight: -7", "allowed 0 or more"),
        ("values: [p, q, r]", "values: [p, p, r]", "without repeats"),
        ("format: 1", "format: [", "small.yaml"),
    ],
)
def test_faulty_similarity_files_are_refused(old: str, new: str, message: str) -> None:
    assert old in SIMILARITY
    with pytest.raises(SimilarityError) as caught:
        parse(SIMILARITY.replace(old, new, 1), lambda *_: 0.0, OPTIONS, "small.yaml")
    assert message in str(caught.value)


def test_sums_fit_32_bits() -> None:
    """No weights, however lopsided, can make a sum pass 32 bits."""
    for features in load().kinds.values():
        names = features.names
        even = [dict.fromkeys(names, weight) for weight in (0.0, 1e-9, 1.0)]
        for changed in ({}, {names[0]: 1e9}, *even):
            for arch in ("maxilla", "mandible"):
                whole = int(features.whole_weights(arch, changed).sum())
                assert whole * ONE < 2**32
                assert whole == 0 or abs(whole - WEIGHT_SUM) <= len(names)


def test_the_project_file_covers_what_it_promises() -> None:
    """Every word of the vocabulary that a feature can meet has a code, and a value is never far from
    itself."""
    for features in load().kinds.values():
        assert len(features.weighted) >= 20
        for item in features.weighted:
            assert item.why
            assert item.weight > 0
            table = item.feature.table
            assert (np.diag(table) == 0).all(), item.feature.name
            assert table.min() >= 0
            assert table.max() <= ONE
            for code in range(len(table)):
                assert item.feature.encode(item.feature.decode(code)) == code


def test_numbers_beyond_the_range_count_as_its_ends() -> None:
    depth = FEATURES.weighted[0].feature
    assert [depth.encode(x) for x in (-1.0, 0.0, 0.024, 0.026, 1.0, 7.0)] == [0, 0, 0, 1, 20, 20]
    assert depth.encode(None) == GAP
    assert count_codes(encode(FEATURES, [])).sum() == 0


def _words_of_field(name: str) -> set[object]:
    """The words that the case format allows in a field, read off the model."""
    room, field = name.split(".")
    models = {"patient": Patient, "occlusion": Occlusion, "palate": Palate, "floor": Floor, "span": Span}
    annotation = {**models, "abutment": Abutment}[room].model_fields[field].annotation
    return {word for part in get_args(annotation) for word in get_args(part) if isinstance(word, str)}


def test_every_word_of_facts_and_vocabulary_has_a_code() -> None:
    """A fact can never hold a word that its table does not know."""
    registry = yaml.safe_load(shared("facts.yaml").read_text(encoding="utf-8"))["facts"]
    words = {fact["name"]: set(fact["values"]) for fact in registry if fact["type"] == "word"}
    checked = 0
    for features in load().kinds.values():
        for item in features.weighted:
            feature = item.feature
            if feature.scale not in ("graded", "category") or feature.name == "abutment.mobility":
                continue
            allowed = words[feature.fact] if feature.fact in words else _words_of_field(feature.fact)
            assert allowed, feature.name
            assert allowed <= set(feature.values), feature.name
            checked += 1
    assert checked > 40


def test_every_feature_is_a_known_fact() -> None:
    registry = yaml.safe_load(shared("facts.yaml").read_text(encoding="utf-8"))["facts"]
    names = {fact["name"] for fact in registry} | {"rest.assembly"}
    rooms = ("patient.", "occlusion.", "palate.", "floor.", "span.", "abutment.")
    for features in load().kinds.values():
        for item in features.weighted:
            assert item.feature.fact in names or item.feature.fact.startswith(rooms)
