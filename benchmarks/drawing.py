"""How long a drawing takes: every demo design once, after one to warm up, three times over.

``python -m benchmarks.drawing`` prints mean, median and 95th percentile (ms of processor time) and the mean size of the
SVG (bytes) of each round. Nothing is kept from one design to the next but the arch, which each case has of its own.
"""

import time

from recommender.documents.drawing import arch_drawing
from recommender.precedents.source import demo_source


def main() -> None:
    cases = [case for case in demo_source().cases() if case.design is not None and case.missing]
    arch_drawing(cases[0], cases[0].design)  # type: ignore[arg-type]
    print("mean median p95 bytes")
    for _ in range(3):
        taken, size = [], 0
        for case in cases:
            start = time.process_time()
            size += len(arch_drawing(case, case.design).svg)  # type: ignore[arg-type]
            taken.append(time.process_time() - start)
        taken.sort()
        figures = (sum(taken) / len(taken), taken[len(taken) // 2], taken[int(len(taken) * 0.95)])
        print(*(f"{1000 * value:.1f}" for value in figures), size // len(cases))


if __name__ == "__main__":
    main()
