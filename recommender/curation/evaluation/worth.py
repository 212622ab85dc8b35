"""Whether what answers are said to be worth holds, and the frameworks that are compared, against working it out again.

The value of a field is read off the worlds at once (``advice.confidence.worth``). Here the case is worked out anew with
each value that the field could have: the mean of the best framework's acceptability then, less what it is now. Cases
are completed with plain values first and some of their recorded facts masked, so that few fields are open.

Frameworks are compared within a pool that is fixed beforehand (``advice.confidence.pool``). Here the solver is asked
again in some worlds of the case, completed as it is there.
"""

import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from recommender.advice.analysis import CaseAnalysis
from recommender.advice.confidence.answers import Confidence
from recommender.advice.confidence.completed import completed
from recommender.advice.frameworks.assemble import assemble_or_say_why
from recommender.advice.indirect_retainers import indirect_seats
from recommender.advice.model import Framework
from recommender.advice.recommend import FRAMEWORKS, Recommender, recommendation
from recommender.curation.evaluation.calibration import asked_and_whole
from recommender.curation.evaluation.kept import Kept
from recommender.domain.case import Case
from recommender.domain.fields import recorded_fields, with_field, without_field

_NEVER = 1e-4
LEAST = 0.005
"""Fields worth less than half a point of acceptability are not ranked."""


@dataclass(frozen=True, slots=True)
class OneField:
    """A masked field of a case: its value as read off the worlds, and as found by working the case out again."""

    case: str
    field: str
    said: float
    found: float


@dataclass(frozen=True, slots=True)
class WorthHeld:
    """Every masked field, and of each case the field that was named first, if any was."""

    cases: int
    fields: tuple[OneField, ...]
    first: tuple[tuple[str, str], ...]

    @property
    def worth_ranking(self) -> list[OneField]:
        """The fields that are worth more than half a point."""
        return [each for each in self.fields if each.found > LEAST]

    @property
    def rank_correlation(self) -> float:
        """Spearman's, over the fields worth more than half a point; NaN for fewer than three."""
        from scipy.stats import spearmanr

        these = self.worth_ranking
        if len(these) < 3:
            return float("nan")
        return float(spearmanr([each.said for each in these], [each.found for each in these]).statistic)

    @property
    def first_among_two(self) -> tuple[int, int]:
        """How often the field named first is among the best two, and of how many cases."""
        held = 0
        for case, field in self.first:
            order = sorted((each for each in self.fields if each.case == case), key=lambda each: -each.found)
            held += field in [each.field for each in order[:2]]
        return held, len(self.first)

    def document(self) -> dict[str, Any]:
        """As in the result format."""
        held, of = self.first_among_two
        return {
            "format": 1, "cases": self.cases, "fields": len(self.fields), "ranked": len(self.worth_ranking),
            "rank_correlation": None if np.isnan(self.rank_correlation) else self.rank_correlation,
            "first_among_two": held, "first_named": of,
        }  # fmt: skip


def worth_held(
    recommender: Recommender,
    cases: Iterable[Case],
    masked: int = 6,
    progress: Callable[[int], None] = lambda _: None,
    keep: Path | None = None,
) -> WorthHeld:
    """Masks ``masked`` recorded facts of each case and works it out with every value of each. ``keep`` names a file of
    what was found before, which is taken over, and to which each case is added."""
    fields: list[OneField] = []
    first: list[tuple[str, str]] = []
    kept, number = Kept(keep, f"worth of {masked} masked, all known, none where none is made"), 0
    for case in cases:
        found = kept.known(case.id)
        if found is None:
            thin = _thin(recommender, case, masked)
            if thin is None:
                continue
            rows, named = _one(recommender, *thin)
            found = {"fields": [[each.field, each.said, each.found] for each in rows], "first": named}
            kept.keep(case.id, found)
        fields += [OneField(case.id, *each) for each in found["fields"]]
        if found["first"] is not None:
            first.append((case.id, found["first"]))
        number += 1
        progress(number)
    return WorthHeld(number, tuple(fields), tuple(first))


def _thin(recommender: Recommender, case: Case, masked: int) -> tuple[Case, list[str]] | None:
    completed = asked_and_whole(recommender, case)
    if completed is None:
        return None
    asked, whole = completed
    paths = sorted(recorded_fields(asked))
    chosen = random.Random(case.id).sample(paths, min(masked, len(paths)))
    thin = whole
    for path in chosen:
        thin = without_field(thin, path)
    return thin, chosen


def _acceptability(analysis: CaseAnalysis) -> float:
    """How often the best framework that is known stands: of those proposed and what lies next to them, and unless one
    of these always stands, of what rare answers bring up. Where none can be made, none stands."""
    confidence, frameworks = Confidence(analysis), _frameworks(analysis)
    if not frameworks:
        return 0.0
    found = confidence.worth(frameworks)[0].now
    return found if found > 1 - LEAST else max(found, confidence.asking(frameworks).now)


def _frameworks(analysis: CaseAnalysis) -> tuple[Framework, ...]:
    """The proposed frameworks, without the rest of a recommendation."""
    results = {decision: analysis.decide(decision) for decision in analysis.decisions()}
    return assemble_or_say_why(
        analysis, results, indirect_seats(analysis.engine, analysis.facts), FRAMEWORKS
    )[0]


def _one(recommender: Recommender, thin: Case, masked: Sequence[str]) -> tuple[list[OneField], str | None]:
    analysis = recommender.work(thin)
    frameworks = _frameworks(analysis)
    confidence = Confidence(analysis)
    asking = confidence.asking(frameworks)
    _, hangs_on = confidence.worth(frameworks)
    rows = []
    for path in masked:
        if path not in hangs_on:
            continue
        found = -asking.now  # the best of all frameworks that are known, those that rare answers bring up too
        for value, share in confidence.worlds.share(path).items():
            if share < _NEVER:
                continue
            given = with_field(thin, path, list(value) if isinstance(value, tuple) else value)
            found += share * _acceptability(recommender.work(given))
        rows.append(OneField(thin.id, path, asking.worths.get(path, 0.0), max(0.0, found)))
    named = asking.next[0].field if asking.next else None
    return rows, named if named in masked else None


@dataclass(frozen=True, slots=True)
class SolvedAgain:
    """One case: in how many of the worlds looked at the framework that leads in the pool is the one that the solver
    finds, how often the proposed one leads by either, how far the pool's leader lies behind in points on average, and
    in how many worlds the whole pool is blocked."""

    case: str
    worlds: int
    same: int
    leads_in_pool: int
    leads_again: int
    behind: float
    blocked: int = 0


def solved_again(
    recommender: Recommender,
    cases: Iterable[Case],
    worlds: int = 8,
    masked: int = 12,
    progress: Callable[[int], None] = lambda _: None,
) -> list[SolvedAgain]:
    """Asks the solver again in some worlds of each case."""
    found = []
    for case in cases:
        thin = _thin(recommender, case, masked)
        if thin is None:
            continue
        analysis = recommender.work(thin[0])
        frameworks = recommendation(analysis).frameworks
        if not frameworks:
            continue
        confidence = Confidence(analysis)
        compared = confidence.compared(frameworks)
        scores = compared.scores()
        looked = random.Random(case.id).sample(range(confidence.worlds.count), worlds)
        same = in_pool = again = looked_at = blocked = 0
        behind: list[float] = []
        for world in looked:
            best = recommendation(recommender.work(completed(confidence.worlds, world)), 1).frameworks
            if not best:
                continue
            leader = compared.pool[int(np.argmax(scores[:, world]))]
            same += (leader.connector, dict(leader.retainers)) == (best[0].connector, dict(best[0].retainers))
            in_pool += bool(np.isfinite(scores[0, world])) and int(np.argmax(scores[:, world])) == 0
            own = frameworks[0]
            again += (own.connector, dict(own.retainers)) == (best[0].connector, dict(best[0].retainers))
            top = float(scores[:, world].max())
            looked_at += 1
            if np.isfinite(top):
                behind.append(max(0.0, best[0].score - top))
            else:
                blocked += 1
        if looked_at:
            far = float(np.mean(behind)) if behind else 0.0
            found.append(SolvedAgain(case.id, looked_at, same, in_pool, again, far, blocked))
        progress(len(found))
    return found
