"""Sets of options within which a library's accepted choice lies in nine of ten of its cases: conformal prediction.

Each approved case is advised without itself and without its near duplicates. How far the accepted option lies behind
the leading one, in points, is its nonconformity; a worse status costs what preparation costs a part of a framework
(``after_preparation``), for each step, and an excluded option lies 100 points further behind. The set of a new decision
holds the options that lie no further behind than the conformal quantile of those (Vovk, Gammerman and Shafer 2005,
*Algorithmic Learning in a Random World*; adaptive sets by score after Romano, Sesia and Candès 2020, NeurIPS 33), for
each kind of decision by itself. Decisions of one case go together and each case counts once, however many teeth it
has (Lee, Barber and Willett 2023, arXiv:2306.06342, with cases as groups). Coverage is found on cases whose own
decisions had no part in the quantile: cases are dealt into folds (cross-conformal; Vovk 2015, Annals of Mathematics
and Artificial Intelligence 74:9-28), near duplicates into the same one.

Coverage is marginal: it holds over the cases of a library like this, not for a given case or tooth.
"""

import random
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from recommender.advice.analysis import CaseAnalysis, NoAdviceError
from recommender.advice.model import STATUS_ORDER, Decision
from recommender.advice.recommend import Recommender
from recommender.curation.evaluation.leave_one_out import approved, as_it_came, choices
from recommender.curation.house.learning import families
from recommender.domain.case import Case

NOTE = "in 9 of 10 of this library's cases the accepted choice lies in its set"
LEAST_CASES = 60
COVERAGE = 0.9
FOLDS = 5
_EXCLUDED_BEHIND = 100.0
_REDRAWN = 1000


@dataclass(frozen=True, slots=True)
class Accepted:
    """One accepted choice: how far each option lies behind the leading one, and which was accepted."""

    case: str
    group: str
    decision: Decision
    option: str
    behind: Mapping[str, float]

    @property
    def nonconformity(self) -> float:
        """How far the accepted option lies behind."""
        return self.behind[self.option]


@dataclass(frozen=True, slots=True)
class KindOfSets:
    """The sets of one kind of decision. ``within``: how many points behind the leading option still belong to the set
    (infinite where the cases are too few: every option). ``covered`` and its 95 % bounds, over cases that had no part
    in the quantile; ``size`` is the mean number of options, of ``options`` that there are."""

    kind: str
    cases: int
    choices: int
    within: float
    covered: float
    low: float
    high: float
    size: float
    options: int


@dataclass(frozen=True, slots=True)
class PredictionSets:
    """The sets of a library by kind of decision; ``kinds`` is empty where it has too few cases."""

    cases: int
    groups: int
    kinds: tuple[KindOfSets, ...]

    def document(self) -> dict[str, Any]:
        """As in the result format; ``within`` is ``None`` where every option belongs to the set."""
        return {
            "format": 1,
            "cases": self.cases,
            "independent_cases": self.groups,
            "least_cases": LEAST_CASES,
            "coverage_wanted": COVERAGE,
            "note": NOTE,
            "by_decision": {
                each.kind: {
                    "cases": each.cases, "choices": each.choices,
                    "within": each.within if np.isfinite(each.within) else None, "covered": each.covered,
                    "low": each.low, "high": each.high, "size": each.size, "options": each.options,
                }
                for each in self.kinds
            },
        }  # fmt: skip


def prediction_sets(
    recommender: Recommender, cases: Iterable[Case], progress: Callable[[int], None] = lambda _: None
) -> PredictionSets:
    """The sets of a library; ``recommender`` works with that very library."""
    known = approved(cases)
    if len(known) < LEAST_CASES:
        return PredictionSets(len(known), len(known), ())
    groups = grouped(known)
    rows: list[Accepted] = []
    for number, case in enumerate(known, 1):
        rows += accepted(recommender, case, groups)
        progress(number)
    return summed(rows, len(known))


def grouped(cases: Sequence[Case]) -> dict[str, str]:
    """The group of each case by id: near duplicates have the same one, named after its first case."""
    numbers = families(cases).tolist()
    first: dict[int, str] = {}
    for case_id, number in sorted(zip((case.id for case in cases), numbers, strict=True)):
        first.setdefault(number, case_id)
    return {case.id: first[number] for case, number in zip(cases, numbers, strict=True)}


def accepted(recommender: Recommender, case: Case, groups: Mapping[str, str]) -> list[Accepted]:
    """The choices of a case's design beside the ranking that it gets without itself and its near duplicates."""
    own = groups[case.id]
    alike = frozenset(other for other, group in groups.items() if group == own)
    try:
        analysis = without(recommender, alike).work(as_it_came(case))
    except NoAdviceError:
        return []
    return rows_of(analysis, case, own)


def without(recommender: Recommender, cases: frozenset[str]) -> Recommender:
    """A recommender that hears none of these cases."""
    if len(cases) < 2:
        return recommender  # a case never counts as its own precedent
    engine = recommender.engine
    other = Recommender(engine.library, engine.knowledge)
    other.engine.filters = replace(engine.filters, exclude_cases=engine.filters.exclude_cases | cases)
    return other


def rows_of(analysis: CaseAnalysis, case: Case, group: str) -> list[Accepted]:
    """The choices of a design in an analysis."""
    known = set(analysis.decisions())
    assert case.design is not None
    found = []
    for decision, option in choices(case.design):
        if decision in known:
            behind = points_behind(analysis, decision)
            if option in behind:
                found.append(Accepted(case.id, group, decision, option, behind))
    return found


def points_behind(analysis: CaseAnalysis, decision: Decision) -> dict[str, float]:
    """How far each option lies behind the leading one; below zero for one that scores more but has a worse status."""
    examined = analysis.examine(decision)
    scores, order = examined.scores(), examined.order()
    price = analysis.engine.knowledge.figures.frameworks.after_preparation

    def worth(option: str) -> float:
        status = examined.chosen[option].status
        far = _EXCLUDED_BEHIND if status == "excluded" else 0.0
        return scores[option] - price * STATUS_ORDER.index(status) - far

    first = worth(order[0])
    return {option: first - worth(option) for option in order}


def quantile(rows: Sequence[Accepted], coverage: float = COVERAGE) -> float:
    """The conformal quantile of nonconformities, each group counting once; infinite where groups are too few."""
    by_group: dict[str, list[float]] = defaultdict(list)
    for row in rows:
        by_group[row.group].append(row.nonconformity)
    share = 1 / (len(by_group) + 1)  # the new case has a share too, infinitely far behind
    weighed = sorted((value, share / len(values)) for values in by_group.values() for value in values)
    held = 0.0
    for value, weight in weighed:
        held += weight
        if held >= coverage - 1e-12:
            return value
    return float("inf")


def summed(rows: Sequence[Accepted], cases: int) -> PredictionSets:
    """The sets by kind of decision, with the coverage found by folds of cases."""
    kinds = []
    for kind in ("retainer", "connector", "replacement"):
        these = [row for row in rows if row.decision.kind == kind]
        if these:
            kinds.append(_kind(kind, these))
    return PredictionSets(cases, len({row.group for row in rows}), tuple(kinds))


def _kind(kind: str, rows: Sequence[Accepted]) -> KindOfSets:
    groups = sorted({row.group for row in rows})
    random.Random("folds").shuffle(groups)
    fold = {group: number % FOLDS for number, group in enumerate(groups)}
    covered: dict[str, list[bool]] = defaultdict(list)
    sizes: dict[str, list[int]] = defaultdict(list)
    for number in range(FOLDS):
        within = quantile([row for row in rows if fold[row.group] != number])
        for row in rows:
            if fold[row.group] == number:
                covered[row.group].append(row.nonconformity <= within)
                sizes[row.group].append(sum(points <= within for points in row.behind.values()))
    rates = np.array([np.mean(covered[group]) for group in groups])
    drawn = np.random.default_rng(1).integers(0, len(rates), (_REDRAWN, len(rates)))
    low, high = np.quantile(rates[drawn].mean(axis=1), (0.025, 0.975))
    return KindOfSets(
        kind, len(groups), len(rows), quantile(rows), float(rates.mean()), float(low), float(high),
        float(np.mean([np.mean(sizes[group]) for group in groups])), len(rows[0].behind),
    )  # fmt: skip
