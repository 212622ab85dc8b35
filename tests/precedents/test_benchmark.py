"""The benchmark runs, its checks can fail, and its table says what was run."""

from pathlib import Path

import numpy as np
import pytest

from benchmarks import generate, report, retrieval
from recommender.precedents.search.encode import ChargedTables, count_codes, query


def test_small_run_is_checked_and_reported(tmp_path: Path) -> None:
    pytest.importorskip("sklearn")
    made = generate.library(retrieval.FEATURES, 600)
    retrieved: list[str] = []
    found = list(retrieval.own(made, 4, retrieved.append))
    found.append(retrieval.whole_call(made, 4, retrieved.append))
    found += retrieval.rivals(made, 3, 0.05, retrieved.append)
    tools = {run["tool"] for run in found}
    assert {"code trie", "flat scan", "pandas, column by column", "scikit-learn brute, callable"} <= tools
    result = {
        "at": "2026-01-01T00:00:00+00:00", "machine": "none", "versions": {}, "features": 32,
        "runs": [{"size": 600, "world": "clustered", **run} for run in found],
    }  # fmt: skip
    report.write(result, tmp_path)
    assert "| code trie |" in (tmp_path / "retrieval.md").read_text()
    assert len(list(tmp_path.glob("*.json"))) == 1


def test_a_wrong_answer_is_noticed() -> None:
    made = generate.library(retrieval.FEATURES, 300)
    tables = ChargedTables.of(retrieval.FEATURES, count_codes(made.columns.codes))
    (codes,) = generate.queries(retrieval.FEATURES, 1)
    asked = query(tables, codes, retrieval.FEATURES.whole_weights("maxilla"))
    with pytest.raises(AssertionError, match="another answer"):
        retrieval.check(made, [asked], [np.arange(10)], exact=True)
    assert retrieval.check(made, [asked], [np.arange(10)], exact=False) < 1.0


def test_generated_libraries_are_seeded_and_like_what_they_say() -> None:
    features = retrieval.FEATURES
    first, second = generate.library(features, 4_000), generate.library(features, 4_000)
    np.testing.assert_array_equal(first.columns.codes, second.columns.codes)
    gaps = (first.columns.codes == 255).mean()
    assert 0.25 < gaps < 0.35
    distinct = len({row.tobytes() for row in first.columns.codes})
    assert 0.80 < distinct / 4_000 < 0.95
    dentition = [features.names.index(name) for name in ("derived.support", "derived.tooth_type", "arch")]
    assert not (first.columns.codes[:, dentition] == 255).any()
