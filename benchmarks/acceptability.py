"""The recommendation without and with the acceptability of every decision and framework, side by side in one run.

    python -m benchmarks.acceptability [--every 4]

Prints the median and 95th percentile in ms, as a person waits and as the processor works, the ratio of the medians of
processor time, and the median of the ratio of each case, whose two times were taken one after the other. Cases are
those of the demo library, each asked after the other, after one unmeasured case.
"""

import argparse

from benchmarks.whole_recommendation import timed
from recommender.advice.confidence.answers import Confidence
from recommender.advice.recommend import Recommender, recommendation
from recommender.domain.case import Case
from recommender.precedents.index.building import library_of
from recommender.precedents.source import demo_source


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--every", type=int, default=4, help="take every so many-th demo case")
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
    pairs = [(timed(plain, [case]), timed(sure, [case])) for case in cases]
    for name, place in (("without", 0), ("with", 1)):
        walls = sorted(pair[place]["median"] for pair in pairs)
        cpus = sorted(pair[place]["cpu_median"] for pair in pairs)
        print(f"{name:8}", {"wall": _middle_and_high(walls), "cpu": _middle_and_high(cpus)})
    ratios = sorted(sure["cpu_median"] / plain["cpu_median"] for plain, sure in pairs)
    medians = [sorted(pair[place]["cpu_median"] for pair in pairs)[len(pairs) // 2] for place in (0, 1)]
    print("ratio of cpu medians", round(medians[1] / medians[0], 2), "median ratio", _middle_and_high(ratios)[0])


def _middle_and_high(values: list[float]) -> tuple[float, float]:
    return round(values[len(values) // 2], 2), round(values[int(0.95 * (len(values) - 1))], 2)


if __name__ == "__main__":
    main()
