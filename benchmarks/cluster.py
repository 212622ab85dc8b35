"""Leave-one-out over the demo library (invented cases): one process, then the same call on a Dask cluster.

python -m benchmarks.cluster [--workers 2] [--library WHERE] [--most 200]
"""

import argparse
import json
import time

import joblib

from recommender.curation.evaluation.leave_one_out import evaluate_some


def main() -> None:
    """Prints seconds of both, the speed-up, and whether the rows are the same, as one line of JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--library", default=None)
    parser.add_argument("--most", type=int, default=None, help="Advise so many cases, evenly chosen.")
    given = parser.parse_args()
    from distributed import Client, LocalCluster

    evaluate_some(given.library, most=8)  # warm: libraries opened, caches filled
    start = time.perf_counter()
    alone, _ = evaluate_some(given.library, most=given.most)
    seconds = time.perf_counter() - start
    with (
        LocalCluster(n_workers=given.workers, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster),
        joblib.parallel_config(backend="dask"),
    ):
        evaluate_some(given.library, jobs=-1, batch=1, most=2 * given.workers)
        start = time.perf_counter()
        shared_out, _ = evaluate_some(given.library, jobs=-1, most=given.most)
        on_cluster = time.perf_counter() - start
    print(
        json.dumps(
            {
                "rows": len(alone),
                "same": alone == shared_out,
                "one_process_s": round(seconds, 2),
                "cluster_s": round(on_cluster, 2),
                "workers": given.workers,
                "speed_up": round(seconds / on_cluster, 2),
            }
        )
    )


if __name__ == "__main__":
    main()
