"""The recommendation without and with the acceptability of every decision and framework, side by side in one run.

    python -m benchmarks.acceptability [--every 4] [--beside CHECKOUT]

Prints the median and 95th percentile in ms, as a person waits and as the processor works, the ratio of the medians of
processor time, and the median of the ratio of each case, whose times were taken one after the other. Cases are those of
the demo library, each asked after the other, after one unmeasured case. ``--beside`` names a checkout of an earlier
version: a process of its own works each case out there, by the same name, in turn with this one.
"""

import argparse
import json
import os
import subprocess
import sys
from pathlib import Path

from benchmarks.whole_recommendation import timed
from recommender.advice.confidence.answers import Confidence
from recommender.advice.recommend import Recommender, recommendation
from recommender.domain.case import Case
from recommender.precedents.index.building import library_of
from recommender.precedents.source import demo_source

_THERE = """
import json, sys, time
from recommender.advice.recommend import Recommender
from recommender.precedents.source import demo_source
try:
    from recommender.precedents.index.building import library_of
except ImportError:
    from recommender.precedents.source import library_of
recommender = Recommender(library_of(demo_source()))
cases = {case.id: case for case in demo_source().cases()}
print(json.dumps(sorted(cases)), flush=True)
for line in sys.stdin:
    wall, cpu = time.perf_counter(), time.process_time()
    recommender.recommend(cases[line.strip()])
    print(json.dumps([(time.perf_counter() - wall) * 1e3, (time.process_time() - cpu) * 1e3]), flush=True)
"""


class Earlier:
    """An earlier version at work in a process of its own."""

    def __init__(self, folder: Path) -> None:
        environment = {**os.environ, "PYTHONPATH": str(folder)}
        self._process = subprocess.Popen(
            [sys.executable, "-c", _THERE],
            cwd=folder, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        self.cases = frozenset(self._said())

    def timed(self, case: Case) -> dict[str, float]:
        """Milliseconds of the recommendation for the case of that name."""
        assert self._process.stdin is not None
        self._process.stdin.write(case.id + "\n")
        self._process.stdin.flush()
        wall, cpu = self._said()
        return {"median": wall, "cpu_median": cpu}

    def close(self) -> None:
        """Ends the process."""
        self._process.communicate()

    def _said(self) -> list[float]:
        assert self._process.stdout is not None
        found: list[float] = json.loads(self._process.stdout.readline())
        return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=4, help="take every so many-th demo case")
    parser.add_argument("--beside", type=Path, default=None, help="a checkout of an earlier version")
    wanted = parser.parse_args()
    recommender = Recommender(library_of(demo_source()))
    cases = list(demo_source().cases())[:: wanted.every]

    def plain(case: Case) -> object:
        return recommendation(recommender.work(case))

    def sure(case: Case) -> object:
        analysis = recommender.work(case)
        answer = recommendation(analysis)
        confidence = Confidence(analysis)
        return confidence.decisions, confidence.frameworks(answer.frameworks)

    sure(cases[0])
    names = ["without", "with"]
    earlier = None
    if wanted.beside is not None:
        earlier = Earlier(wanted.beside)
        cases = [case for case in cases if case.id in earlier.cases]
        earlier.timed(cases[0])
        names.append("earlier")
    rows = [
        [timed(plain, [case]), timed(sure, [case]), *([earlier.timed(case)] if earlier else [])] for case in cases
    ]
    if earlier is not None:
        earlier.close()
    for place, name in enumerate(names):
        found = {
            how: _middle_and_high(sorted(row[place][key] for row in rows))
            for how, key in (("wall", "median"), ("cpu", "cpu_median"))
        }
        print(f"{name:8}", found)
    for place, name in ((0, "without"), (2, "earlier"))[: len(names) - 1]:
        ratios = sorted(row[1]["cpu_median"] / row[place]["cpu_median"] for row in rows)
        middles = [sorted(row[at]["cpu_median"] for row in rows)[len(rows) // 2] for at in (place, 1)]
        print(f"with / {name}: cpu medians {middles[1] / middles[0]:.2f}, median of {len(rows)} ratios "
              f"{_middle_and_high(ratios)[0]}")  # fmt: skip


def _middle_and_high(values: list[float]) -> tuple[float, float]:
    return round(values[len(values) // 2], 2), round(values[int(0.95 * (len(values) - 1))], 2)


if __name__ == "__main__":
    main()
