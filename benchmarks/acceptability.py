"""The recommendation without and with the acceptability of every decision and framework, side by side in one run.

    python -m benchmarks.acceptability [--every 4]

Prints median and 95th percentile in ms, as a person waits and as the processor works, and the ratio of the medians of
processor time. Cases are those of the demo library, each asked after the other, after one unmeasured case.
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
    before, after = timed(plain, cases), timed(sure, cases)
    print("without", before)
    print("with   ", after)
    print("ratio of cpu medians", round(after["cpu_median"] / before["cpu_median"], 2))


if __name__ == "__main__":
    main()
