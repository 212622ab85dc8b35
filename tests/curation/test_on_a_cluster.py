"""The evaluation of a library on a Dask cluster of two workers: the same call, the same rows.

``python -m benchmarks.cluster`` reports the speed-up.
"""

from pathlib import Path

import pytest

from recommender.curation.evaluation.leave_one_out import evaluate_some
from recommender.resources import demo_library

pytest.importorskip("distributed")
CASES = 8


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The first few demo cases (invented)."""
    for path in sorted(demo_library().glob("*.yaml"))[:CASES]:
        (tmp_path / path.name).write_bytes(path.read_bytes())
    return tmp_path


def test_same_rows_on_two_workers(folder: Path) -> None:
    import joblib
    from distributed import Client, LocalCluster

    expected = evaluate_some(str(folder), batch=2, most=None)[0]
    assert len(expected) > CASES
    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as client,
        joblib.parallel_config(backend="dask"),
    ):
        assert evaluate_some(str(folder), jobs=-1, batch=2, most=None)[0] == expected
        workers = client.run(_worked)
    assert len(workers) == 2
    assert sum(workers.values()) > 0


def _worked() -> int:
    """How many libraries this worker opened for the evaluation."""
    from recommender.curation.evaluation import leave_one_out

    return len(leave_one_out._RECOMMENDERS)
