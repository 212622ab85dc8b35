"""The whole recommendation, frameworks included, with many stored cases: time, memory, command-line start.

    python -m benchmarks.whole_recommendation [--cases 100000] [--folder KEPT] [--asked 100]

The library is made by chance from the demo cases (``whole_cases``), brought into SQLite through the store, and its
index is written as a user's would be. ``--folder`` keeps both for the next run: making 100,000 cases takes half an hour
on two busy cores. Times are of one question after another, in one process; the questions are cases of the same making
that are not in the library. Writes ``results/whole.json``.
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from benchmarks.whole_cases import varied_cases
from recommender.advice.recommend import Recommender
from recommender.domain.case import Case
from recommender.precedents.index import serving
from recommender.precedents.store.database_source import DatabaseSource
from recommender.precedents.store.databases import create_database, open_database
from recommender.precedents.store.importing.batch import import_valid
from recommender.precedents.store.importing.reports import Terms
from recommender.precedents.store.importing.rows import Row

TERMS = Terms("bench", "made by chance", keep_status=True)


def bring_in(path: Path, count: int) -> float:
    """Makes the library; returns seconds."""
    start = time.perf_counter()
    with create_database(str(path)) as library:
        rows = (Row(case.id, case) for case in varied_cases(count))
        import_valid(library, rows, TERMS, lambda _report: None, digest="0" * 64, name="made by chance")
    return time.perf_counter() - start


def timed(work: Callable[[Case], object], cases: list[Case]) -> dict[str, float]:
    """Median and 95th percentile in ms, as a person waits and as the processor works."""
    walls, cpus = [], []
    for case in cases:
        wall, cpu = time.perf_counter(), time.process_time()
        work(case)
        walls.append((time.perf_counter() - wall) * 1e3)
        cpus.append((time.process_time() - cpu) * 1e3)
    found = {}
    for name, times in (("", sorted(walls)), ("cpu_", sorted(cpus))):
        found[f"{name}median"] = round(times[len(times) // 2], 1)
        found[f"{name}p95"] = round(times[int(0.95 * (len(times) - 1))], 1)
    return found


def start_times(path: Path, case: Case, folder: Path) -> dict[str, float]:
    """Seconds of ``recommend CASE --json`` on the command line: with this library, and with none."""
    file = folder / "asked.json"
    file.write_text(case.model_dump_json(exclude_none=True), encoding="utf-8")
    found = {}
    for name, where in (("library", str(path)), ("none", "none")):
        command = [sys.executable, "-m", "recommender", "recommend", str(file), "--json", "--library", where]
        seconds = []
        for _ in range(3):
            start = time.perf_counter()
            said = subprocess.run(command, check=True, capture_output=True)
            seconds.append(time.perf_counter() - start)
            assert json.loads(said.stdout)["case"] == case.id
        found[name] = round(min(seconds), 2)
    return found


def measure(path: Path, asked: int, folder: Path) -> dict[str, Any]:
    """Everything that is measured on a library that is there."""
    source = DatabaseSource(open_database(str(path)))
    start = time.perf_counter()
    written = serving.keep_up(source, jobs=2)
    index_seconds = time.perf_counter() - start
    start = time.perf_counter()
    served = serving.serve(source)
    opened = time.perf_counter() - start
    recommender = Recommender(served.library)
    cases = [
        case.model_copy(update={"design": None, "outcome": None})
        for case in varied_cases(asked, seed=99, prefix="ask")
    ]
    for case in cases[:3]:
        recommender.recommend(case)
    return {
        "cases": source.count(),
        "situations": {kind: served.library.count(kind) for kind in served.library.shelves},
        "index": {"how": written.how, "read": written.read, "seconds": round(index_seconds, 1)},
        "index_mb": round(sum(f.stat().st_size for f in (served.folder or folder).rglob("*")) / 1e6, 1),
        "open_s": round(opened, 3),
        "recommend_ms": timed(recommender.recommend, cases),
        "without_precedents_ms": timed(Recommender(None).recommend, cases),
        "memory_mb": round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024),
        "command_line_s": start_times(path, cases[0], folder),
    }


def main() -> None:
    """Makes what is missing, measures, prints and stores the result."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=100_000)
    parser.add_argument("--asked", type=int, default=100)
    parser.add_argument("--folder", type=Path, default=None)
    parser.add_argument("--results", type=Path, default=Path(__file__).parent / "results")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        folder = given.folder or Path(place)
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / "cases.db"
        made = None if path.exists() else round(bring_in(path, given.cases), 1)
        result = {"made_s": made, **measure(path, given.asked, Path(place))}
    given.results.mkdir(parents=True, exist_ok=True)
    (given.results / "whole.json").write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    print(json.dumps(result, indent=1))


if __name__ == "__main__":
    main()
