"""How many choices of some cases are firm, firm if, or open, as they are recorded."""

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from recommender.advice.analysis import NoAdviceError
from recommender.advice.confidence.answers import Confidence
from recommender.advice.recommend import Recommender, recommendation
from recommender.curation.evaluation.kept import Kept
from recommender.domain.case import Case

WORDS = ("firm", "firm_if", "open")


@dataclass(frozen=True, slots=True)
class Standings:
    """Decisions and first frameworks by word; ``waiting``: cases with a dangerous question that is open."""

    cases: int
    decisions: Counter[str]
    frameworks: Counter[str]
    waiting: int

    def document(self) -> dict[str, Any]:
        """As in the result format."""
        return {
            "format": 1,
            "cases": self.cases,
            "decisions": {word: self.decisions[word] for word in WORDS},
            "frameworks": {word: self.frameworks[word] for word in WORDS},
            "before_metal": self.waiting,
        }


def standings(
    recommender: Recommender,
    cases: Iterable[Case],
    progress: Callable[[int], None] = lambda _: None,
    keep: Path | None = None,
) -> Standings:
    """Counts the words; a case without advice is passed over."""
    kept, number, waiting = Kept(keep, "standings"), 0, 0
    decisions, frameworks = Counter[str](), Counter[str]()
    for case in cases:
        found = kept.known(case.id)
        if found is None:
            try:
                analysis = recommender.work(case)
            except NoAdviceError:
                continue
            confidence = Confidence(analysis)
            whole = confidence.frameworks(recommendation(analysis).frameworks)
            found = {
                "decisions": Counter(sure.standing.word for sure in confidence.decisions.values()),
                "framework": whole[0].standing.word if whole else None,
                "waits": bool(confidence.before_metal),
            }
            kept.keep(case.id, found)
        decisions.update(found["decisions"])
        if found["framework"] is not None:
            frameworks[found["framework"]] += 1
        waiting += found["waits"]
        number += 1
        progress(number)
    return Standings(number, decisions, frameworks, waiting)
